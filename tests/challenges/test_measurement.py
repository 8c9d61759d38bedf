from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from challenge_panels import PLAN, clinic, laid, one, simple, value

from lagwise.challenges.context import Context
from lagwise.challenges.measurement import corrected, pieces
from lagwise.core.study import AnalysisPlan

WITH_EFFORT = replace(PLAN, analysis=AnalysisPlan(exposures=("jump", "effort", "stress")))


def _made(of_effort: float, effect: float, tie: float, error: float, spread: float = 0.7, people: int = 60):
    """Load follows effort by `tie` per point; later pain follows true effort and load; recorded effort carries error."""
    made = simple(people=people, steps=30)
    rng = np.random.default_rng(1)
    effort = 7 + rng.normal(0, spread, made["load"].shape)
    load = made["load"] * np.exp(tie * (effort - 7))
    jump = np.log(load / load.mean(axis=1, keepdims=True))
    later = np.column_stack([np.zeros(people), (of_effort * (effort - 7) + effect * jump)[:, :-1]])
    recorded = effort + rng.normal(0, error, effort.shape)
    return laid(np.clip(made["pain"] + later, 0, 10), load, WITH_EFFORT, stress=made["stress"], effort=recorded)


def test_effort_unrelated_to_load_holds():
    found = one("measurement", _made(0.3, 0.8, 0.0, 0.5))
    assert found.verdict == "holds"


@pytest.mark.parametrize("sign", [1, -1])
def test_a_result_that_stands_in_for_badly_rated_effort_does_not_hold(sign):
    found = one("measurement", _made(sign * 0.8, 0.0, 0.25, 0.51))
    plain = found.numbers.iloc[0]
    assert plain["low"] > 0 or plain["high"] < 0
    assert found.verdict == "does_not_hold"
    assert abs(value(found, "estimate at an error SD of 0.51 points")) < abs(plain["value"])


def test_effort_that_hardly_varies_cannot_tell():
    found = one("measurement", _made(0.3, 0.8, 0.0, 0.1, spread=0.2, people=20))
    assert found.verdict == "cannot_tell"
    assert value(found, "reliability of effort beside the other columns at an error SD of 0.51") == 0


def test_without_effort_it_says_why():
    made = simple()
    assert (
        "effort is not in the model"
        in one("measurement", laid(made["pain"], made["load"], stress=made["stress"])).problem
    )


def test_without_error_it_is_least_squares_with_person_dummies():
    panel, fit = clinic()
    d = Context(panel, fit).design
    got = corrected(pieces(d), 0.0, np.ones((1, d.n_people)), "jump")[0]
    dummies = (d.person[:, None] == np.arange(d.n_people)).astype(float)
    X = np.column_stack([d.X[:, 1:], dummies])
    assert got == pytest.approx(np.linalg.lstsq(X, d.y, rcond=None)[0][d.names.index("jump") - 1], rel=1e-8)
