"""Which rows and columns enter a model."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import lagwise as lw
from lagwise.core.errors import ModelError
from lagwise.models.design import design

CLINIC = Path(__file__).parents[2] / "data_synthetic" / "clinic"
SIDE = ("stress", "sleep_hours", "worry")


@pytest.fixture(scope="module")
def caseload():
    return lw.read(CLINIC)


def without_load(study):
    return replace(study, analysis=replace(study.analysis, exposures=SIDE, primary="stress", primary_contrast=1.0))


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
    rated = int(panel.frame["pain_next"].notna().sum())
    elsewhere = panel.frame["worry_within"].where(panel.frame["pain_next"].isna())
    without = panel.frame.assign(worry_within=elsewhere)
    with pytest.raises(
        ModelError, match=rf"of {rated} with the first, worry about the pain is known in 0\. Leave an exp"
    ):
        design(replace(panel, frame=without), exposures=["jump", "worry"])
    with pytest.raises(ModelError, match=r"^pain in the next step is not known for any step"):
        design(replace(panel, frame=panel.frame.assign(pain_next=float("nan"))))


def test_rested_steps_stay_with_the_persons_own_effort(caseload):
    d = design(lw.build_panel(caseload))
    rested = d.frame["rested"].eq(1)
    assert rested.any()
    assert (d.X[rested.to_numpy(), d.names.index("effort_within")] == 0).all()
    assert d.frame.loc[rested, "effort"].isna().all()
