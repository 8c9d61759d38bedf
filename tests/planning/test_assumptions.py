"""Assumptions in plain names become the process they speak of, and nonsense is refused."""

from dataclasses import replace

import numpy as np
import pytest

from lagwise.core.errors import LagwiseError
from lagwise.core.study import AnalysisPlan, Clock, PainPlan, Study
from lagwise.planning import Assumptions
from lagwise.planning.assumptions import process_of, require_usable
from lagwise.planning.simulate import Task, panel_of_many, with_gaps
from lagwise.synthetic.observe import observe
from lagwise.synthetic.process import run

STUDY = Study("Planned")
SEED = np.random.SeedSequence(5)


@pytest.mark.parametrize(
    ("name", "value"),
    [("missing_weeks", 1.0), ("missing_weeks", -0.1), ("feedback", 0.9), ("leaving", float("nan")), ("pain_level", 11), ("pain_sd", 0), ("load_sd", "much"), ("effect_sd", -1), ("weekly_rating_sd", 3), ("daily_rating_sd", -1)],
)  # fmt: skip
def test_values_out_of_range_are_named(name, value):
    with pytest.raises(LagwiseError, match=rf"^{name}: .* is no legal value\. Give "):
        Assumptions(**{name: value})


def test_an_unknown_way_of_rating_lists_the_known_ones():
    with pytest.raises(LagwiseError, match="mixed, daily, some_days, weekly"):
        Assumptions(ratings="hourly")


def test_the_difference_is_what_the_process_adds_at_the_contrast():
    spec = process_of(Assumptions(feedback=0.2), STUDY, 30, 20, 0.5)
    assert (spec.n_people, spec.n_steps) == (30, 20)
    assert spec.of_jump * np.log(1.5) == pytest.approx(0.5)
    assert spec.of_jump_sd * np.log(1.5) == pytest.approx(0.12)
    assert np.exp(-spec.feedback) == pytest.approx(0.8)
    rated = process_of(Assumptions(weekly_rating_sd=0.5, daily_rating_sd=0.9), STUDY, 30, 20, 0.5)
    assert (rated.week_sd, rated.day_sd) == (0.5, 0.9)


def test_another_primary_exposure_takes_the_difference_and_load_none():
    asked = AnalysisPlan(exposures=("stress", "worry"), primary="stress", primary_contrast=2)
    spec = process_of(Assumptions(), replace(STUDY, analysis=asked), 30, 20, 0.5)
    assert (spec.of_stress, spec.of_jump, spec.of_jump_sd, spec.of_effort, spec.of_sleep) == (
        0.25, 0, 0, 0, 0,
    )  # fmt: skip
    assert spec.of_worry > 0


@pytest.mark.parametrize(
    ("study", "said"),
    [
        (replace(STUDY, clock=Clock(step_days=1)), "this study's step is the day"),
        (replace(STUDY, analysis=AnalysisPlan(exposures=("confidence",), primary="confidence")), "give confidence no part in pain"),
        (replace(STUDY, analysis=AnalysisPlan(primary_contrast=0)), "a contrast of 0 compares nothing"),
        (STUDY.with_(outcome="confidence"), r"asks about confidence to train of the next week, 0-10\. Plan"),
        (STUDY.with_(lag=0, order="exposure_first"), "asks about pain of the same week, 0-10"),
        (STUDY.with_(ratings={"pain": {"low": 0, "high": 100}}), "asks about pain of the next week, 0-100"),
    ],
)  # fmt: skip
def test_studies_the_simulator_cannot_speak_for_say_why(study, said):
    with pytest.raises(LagwiseError, match=said):
        require_usable(study)


@pytest.mark.parametrize("share", [0.0, 0.15, 0.6])
def test_the_share_of_missing_weeks_is_the_one_asked_for(share):
    spec = process_of(Assumptions(), STUDY, 20, 20, 0.5)
    weeks = run(spec, np.random.default_rng(1), 2000)
    full = observe(weeks, replace(spec, dropout=0.0), np.random.default_rng(2))
    records = with_gaps(full, weeks, spec, share, np.random.default_rng(3))
    there = full.made.any(axis=2)
    lost = there & ~records.made.any(axis=2)
    assert there.all()
    assert lost.mean() == pytest.approx(share, abs=0.01)
    assert (records.logged & lost).sum() == 0
    if share:
        ache = weeks.pain - weeks.level[:, None]
        assert lost[ache > 1].mean() > lost[ache < -1].mean() + 0.02


def test_no_feedback_means_that_load_does_not_answer_pain():
    task = Task(400, 20, 0.0, 1, SEED)
    slopes = {}
    for feedback in (0.0, 0.2):
        f = panel_of_many(STUDY, Assumptions(feedback=feedback, ratings="daily"), task).frame
        f = f[(f["load"] > 0) & f["pain_within"].notna()]
        load = np.log(f["load"]) - np.log(f["load"]).groupby(f["person"]).transform("mean")
        slopes[feedback] = np.polyfit(f["pain_within"], load, 1)[0]
    assert abs(slopes[0.0]) < 0.02
    assert slopes[0.2] < -0.12


def test_ratings_at_the_start_stand_before_the_week_s_sessions():
    task = Task(50, 12, 0.5, 1, SEED)
    end = panel_of_many(STUDY, Assumptions(), task).frame
    start = panel_of_many(replace(STUDY, pain=PainPlan(rated="start")), Assumptions(), task).frame
    assert start["pain_before"].equals(end["pain"].rename("pain_before"))
