"""The picture of the answer where the truth is known: people who differ more than the exposure does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lagwise.core.results import Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.models import answer, fit_dose, fit_mixed
from lagwise.models.answer import answer_tables
from lagwise.synthetic import CLINIC, simulate_panel

PLAN = Study("Known", analysis=AnalysisPlan(exposures=("jump", "stress")))
SLOPE = 1.5


@pytest.fixture(scope="module")
def panel() -> Panel:
    """The outcome is the person's own level, 1 to 7, plus 1.5 points per log unit of load and a little noise;
    who has more pain trains in larger jumps."""
    made = simulate_panel(replace(CLINIC, n_people=14, n_steps=24), np.random.default_rng(3), study=PLAN)
    frame, rng = made.frame.copy(), np.random.default_rng(4)
    person = pd.factorize(frame["person"])[0]
    frame["jump"] = frame["jump"] + np.where(
        frame["rested"].eq(0) & frame["restarted"].eq(0), 0.02 * person, 0
    )
    frame["pain_next"] = 1 + 6 * person / 13 + SLOPE * frame["jump"] + 0.1 * rng.normal(size=len(frame))
    return replace(made, frame=frame)


@pytest.fixture(scope="module")
def fits(panel):
    return [fit_mixed(panel), fit_dose(panel)]


def of(tables, name, term="jump"):
    found = tables[f"answer_{name}"]
    return found[found["term"] == term].reset_index(drop=True)


def test_bands_and_line_compare_people_with_themselves(panel, fits):
    tables = answer_tables(panel, fits)
    level, bands, curve = float(of(tables, "levels")["level"][0]), of(tables, "bands"), of(tables, "curve")
    expected = level + SLOPE * np.log(bands["x"] / 100)
    assert np.abs(bands["outcome"] - expected).max() < 0.1
    inside = (bands["low"] - 0.02 < expected) & (expected < bands["high"] + 0.02)
    assert inside.mean() > 0.7 and (bands["high"] - bands["low"]).max() < 0.4
    assert np.abs(curve["outcome"] - level - SLOPE * np.log(curve["x"] / 100)).max() < 0.1
    steps = of(tables, "steps")
    assert np.average(bands["outcome"], weights=bands["n_steps"]) == pytest.approx(steps["outcome"].mean())
    assert len(steps) == bands["n_steps"].sum() == of(tables, "levels")["n_steps"][0]


def test_the_line_of_an_exposure_without_a_curve_is_that_of_its_effect(panel, fits):
    tables = answer_tables(panel, fits[:1])
    row = fits[0].effects.query("term == 'stress' and level == 'within' and adjustment == 'adjusted'").iloc[0]
    curve, level = of(tables, "curve", "stress"), of(tables, "levels", "stress")["level"][0]
    assert curve["x"].tolist()[1] == 0
    assert (curve["outcome"] - level).to_numpy() == pytest.approx(row["estimate"] * curve["x"].to_numpy())
    assert (curve["high"] - curve["low"]).to_numpy() == pytest.approx(
        np.abs(curve["x"]) * (row["high"] - row["low"])
    )
    assert len(of(tables, "curve")) == 3, "load without its curve is a straight line too"
    assert set(tables["answer_steps"]["term"]) == {"jump"}


def test_nothing_is_drawn_of_what_was_not_fitted_and_no_cloud_of_too_many_steps(panel, fits, monkeypatch):
    unusable = replace(fits[0], usable=False)
    assert answer_tables(panel, [unusable, fits[1]]) == {}
    monkeypatch.setattr(answer, "STEPS_AT_MOST", 10)
    assert "answer_steps" not in answer_tables(panel, fits)
