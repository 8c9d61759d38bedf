"""Which rows and columns enter a model."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from simulated_panels import simulate

import lagwise as lw
from lagwise.core.errors import ModelError
from lagwise.models.design import design
from lagwise.panel.derive import load_columns, person_index, split_parts, usual_load
from lagwise.say.fit import why_left_out

CLINIC = Path(__file__).parents[2] / "data_synthetic" / "clinic"
SIDE = ("stress", "sleep_hours", "worry")


@pytest.fixture(scope="module")
def caseload():
    return lw.read(CLINIC)


def without_load(study):
    return replace(
        study, analysis=replace(study.analysis, exposures=SIDE, primary="stress", primary_contrast=1.0)
    )


def test_a_study_that_does_not_ask_about_load_keeps_steps_without_it(caseload):
    panel = lw.build_panel(caseload, without_load(caseload.study))
    d = design(panel)
    frame = panel.frame
    known = frame[[*SIDE, "pain", "pain_next"]].notna().all(axis=1)
    assert "log_usual" not in d.names
    assert d.n_steps == int(known.sum())
    assert d.frame["usual"].isna().any()


def test_a_study_that_asks_about_load_holds_usual_load_equal_in_every_model(caseload):
    panel = lw.build_panel(caseload)
    assert "log_usual" in design(panel).names
    assert "log_usual" in design(panel, exposures=["stress"], adjustment="crude").names


def test_complete_steps_are_those_of_the_primary_exposure(caseload):
    study = without_load(caseload.study)
    about_load, about_stress = lw.build_panel(caseload), lw.build_panel(caseload, study)
    for panel, column in ((about_load, "jump"), (about_stress, "stress")):
        frame = panel.frame
        known = frame[[column, "pain", "pain_next"]].notna().all(axis=1)
        assert panel.coverage()["complete"].sum() == known.sum()


def test_what_keeps_every_step_out_is_said_in_words(caseload):
    panel = lw.build_panel(caseload)
    daily = replace(panel.study.clock, step_days=1)
    panel = replace(panel, study=replace(panel.study, clock=daily))
    rated = int(panel.frame["pain_next"].notna().sum())
    elsewhere = panel.frame["worry_within"].where(panel.frame["pain_next"].isna())
    without = panel.frame.assign(worry_within=elsewhere)
    with pytest.raises(
        ModelError,
        match=rf"^no day has pain on the next day and .* of {rated} with the first, .*known in 0\.",
    ):
        design(replace(panel, frame=without), exposures=["jump", "worry"])
    with pytest.raises(
        ModelError, match=r"^no rating of pain is followed by one on the next day\. .* on days that"
    ):
        design(replace(panel, frame=panel.frame.assign(pain_next=float("nan"))))


def test_rested_steps_stay_with_the_persons_own_effort(caseload):
    d = design(lw.build_panel(caseload))
    rested = d.frame["rested"].eq(1)
    assert rested.any()
    assert (d.X[rested.to_numpy(), d.names.index("effort_within")] == 0).all()
    assert d.frame.loc[rested, "effort"].isna().all()


def rated(panel, values):
    """The panel with these ratings of stress, split as the panel splits them."""
    within, between = split_parts(np.asarray(values, dtype=float), person_index(panel.frame))
    return replace(
        panel, frame=panel.frame.assign(stress=values, stress_within=within, stress_between=between)
    )


def test_a_rating_that_is_constant_in_every_person_is_never_fitted():
    panel = simulate(3, people=12, steps=18)
    own = np.repeat(np.random.default_rng(1).uniform(0, 10, 12), 18)
    lost = rated(panel, own)
    assert 0 < lost.frame["stress_within"].abs().max() < 1e-12  # rounding, which must not pass for variation
    assert dict(design(lost).dropped)["stress_within"] == "does not vary within people"
    effects = lw.fit_mixed(lost).effects
    assert "stress" not in set(effects["term"]) and effects["estimate"].abs().max() < 100
    same = design(rated(panel, np.full(12 * 18, 0.1 + 0.2)))
    assert {"stress_within", "stress_between"} <= {name for name, _ in same.dropped}


@pytest.mark.parametrize(
    ("people", "steps", "why"),
    [
        (4, 8, "it changes in 4 people, and"),
        (7, 1, "person's median in 7 weeks, and"),
        (5, 2, ""),
        (12, 1, ""),
    ],
)
def test_a_rating_that_hardly_varies_is_named_and_left_out(people, steps, why):
    panel = simulate(3, people=12, steps=18)
    values = np.full((12, 18), 4.0)
    values[:people, 6 : 6 + steps] = 7.0
    left = dict(design(rated(panel, values.ravel())).dropped)
    assert ("stress_within" in left) is bool(why)
    assert left.get("stress_between", "").startswith("hardly varies between people") is (people < 5)
    if why:
        told = left["stress_within"]
        assert told.startswith("hardly varies within people") and why in told
        assert why_left_out(str(told)) == "few_steps" and why_left_out(told) in ("few_change", "few_steps")


def test_an_exposure_named_alone_is_one_exposure():
    panel = simulate(3, people=12, steps=18)
    alone, listed = (design(panel, exposures=named) for named in ("stress", ["stress", "stress"]))
    assert alone.names == listed.names and "stress_within" in alone.names


def test_a_constant_load_leaves_no_jump_whatever_its_rounding():
    panel = simulate(3, people=12, steps=18)
    load = np.repeat(np.random.default_rng(2).uniform(1, 50, 12), 18)
    usual = usual_load(load, person_index(panel.frame), 3, 3)
    columns = load_columns(load, usual, person_index(panel.frame))
    frame = panel.frame.assign(load=load, usual=usual, **columns)
    assert np.nanmax(np.abs(columns["log_usual"])) < 1e-12
    assert {"jump", "log_usual"} <= {name for name, _ in design(replace(panel, frame=frame)).dropped}
