"""Weekly against daily ratings: the same weeks, each record read as a report would, and feedback that shows in what is read."""

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import lagwise as lw
from lagwise.core.errors import LagwiseError
from lagwise.core.study import AnalysisPlan, Study
from lagwise.pages.plan_file import plan_files
from lagwise.panel import panel_from_blocks
from lagwise.planning import Assumptions, Plan
from lagwise.planning.ratings import RatingTask, compare, how_many, rating_table, rating_tasks
from lagwise.planning.simulate import Task, panel_of_many, simulate
from lagwise.writeup.checker import check_text

STUDY = Study("Planned")
INEXACT = Assumptions(weekly_rating_sd=0.8, missing_weeks=0.0)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return lw.plan((4, 10), 12, 0.0, caseloads=50, rating_caseloads=10, assumptions=Assumptions(feedback=0.2))


def test_both_readings_are_those_of_a_report():
    task = Task(12, 12, 0.0, 2, np.random.SeedSequence(4))
    weekly = Assumptions(ratings="weekly")
    found = compare(STUDY, Assumptions(), RatingTask(task, "weekly", 1))
    panel = panel_of_many(STUDY, weekly, task)
    own = panel_from_blocks(
        panel.blocks[panel.blocks["person"].str[1:].astype(int) < 12].reset_index(drop=True), STUDY
    )
    effects = lw.fit_rated(own).effects
    row = effects[(effects["term"] == "jump") & (effects["contrast"] == "+50 %")].iloc[0]
    columns = ["estimate", "low", "high"]
    np.testing.assert_allclose(found.loc[0, [f"joint_{c}" for c in columns]].astype(float), row[columns].astype(float), rtol=1e-6)  # fmt: skip
    np.testing.assert_array_equal(found[columns], simulate(STUDY, weekly, task)[columns])
    assert list(found["joint"]) == [True, False]
    assert found["joint_estimate"].notna().tolist() == [True, False]


@pytest.mark.parametrize(("feedback", "biased"), [(0.3, True), (0.0, False)])
def test_feedback_biases_ratings_as_they_are_and_its_null_twin_does_not(feedback, biased):
    task = RatingTask(Task(30, 20, 0.0, 60, np.random.SeedSequence(8)), "weekly", 0)
    found = compare(STUDY, replace(INEXACT, feedback=feedback), task)
    error = found["estimate"].std() / np.sqrt(len(found))
    assert (found["estimate"].mean() < -0.02 - 3 * error) == biased
    assert (((found["low"] > 0) | (found["high"] < 0)).mean() > 0.2) == biased


def test_weekly_and_daily_rate_the_same_weeks():
    tasks = rating_tasks(10, 12, 7, 1)
    assert [(t.ratings, t.joint, t.task.caseloads) for t in tasks] == [("weekly", 5, 25), ("weekly", 2, 10), ("daily", 5, 25), ("daily", 2, 10)]  # fmt: skip
    frames = [panel_of_many(STUDY, Assumptions(ratings=t.ratings), t.task).frame for t in tasks[1::2]]
    both = frames[0].merge(frames[1], on=["person", "step_start"], suffixes=("", "_daily"))
    assert len(both) > 0.9 * len(frames[1])
    assert both["load"].equals(both["load_daily"].rename("load"))
    assert both[["pain", "pain_daily"]].corr().iloc[0, 1] > 0.8
    assert both["n_ratings_daily"].mean() > 6 * both["n_ratings"].mean()


def test_chances_are_counted_among_the_caseloads_of_each_model():
    found = pd.DataFrame({
        "ratings": ["weekly"] * 4 + ["daily"] * 4, "joint": [True, True, True, False] * 2, "estimate": 0.0,
        "low": [0.1, 0.1, -1, 0.1] * 2, "high": [0.5, 0.5, 1, 0.5] * 2,
        "joint_estimate": [0.0, 0.0, np.nan, np.nan] * 2, "joint_low": [0.1, -0.9, np.nan, np.nan] * 2, "joint_high": [0.7, -0.1, np.nan, np.nan] * 2,
    })  # fmt: skip
    table = rating_table(30, 26, found).set_index(["ratings", "model"]).loc["weekly"]
    assert table["caseloads"].tolist() == [4, 3, 3]
    assert table["fitted"].tolist() == [4, 2, 2]
    np.testing.assert_allclose(table["p_excludes_zero"], [3 / 4, 2 / 3, 1 / 3])
    assert table.loc["joint", "width"] == pytest.approx(0.7)
    assert np.isnan(table.loc["both", "width"])


def test_the_largest_size_is_compared_and_told_in_the_same_words_everywhere(plan):
    assert plan.ratings[["people", "weeks"]].drop_duplicates().to_numpy().tolist() == [[10, 12]]
    assert list(zip(plan.ratings["ratings"], plan.ratings["model"], strict=True)) == [(r, m) for r in ("weekly", "daily") for m in ("mixed", "joint", "both")]  # fmt: skip
    assert plan.ratings["caseloads"].tolist() == [50, 10, 10] * 2
    text = " ".join(plan.rhythm)
    for said in ("With 10 people and 12 weeks", "daily instead of weekly", "Monte Carlo error", "With load 20 % lower per point of pain", "undecided"):  # fmt: skip
        assert said in text
    assert [f"{r.rule}: {r.sentence}" for r in check_text("\n\n".join(plan.rhythm))] == []
    files = plan_files(plan)
    page = files["plan.html"].decode()
    assert all(sentence in page for sentence in plan.rhythm)
    assert json.loads(files["plan.json"])["rhythm"] == list(plan.rhythm)
    assert files["ratings.csv"].decode().count("\n") == 7


def test_where_rhythms_are_not_compared_the_reason_is_given(plan):
    few = replace(plan, ratings=plan.ratings.iloc[:0])
    assert "takes 10 caseloads or more" in few.rhythm[0]
    small = replace(few, table=plan.table[plan.table["people"] == 4])
    assert "the largest record planned has 4" in small.rhythm[0]
    stress = Study(
        "Stress", analysis=AnalysisPlan(exposures=("stress",), primary="stress", primary_contrast=2)
    )
    assert "does not ask about load" in replace(few, study=stress).rhythm[0]
    assert "ratings.csv" not in plan_files(few)


def test_how_many_are_read_by_the_joint_model():
    assert how_many(None, 500, STUDY, 30, 26) == 15
    assert [how_many(None, 200, STUDY, 30, 26), how_many(0, 500, STUDY, 30, 26), how_many(20, 500, STUDY, 9, 26), how_many(20, 500, STUDY, 30, 7)] == [0] * 4  # fmt: skip
    with pytest.raises(
        LagwiseError, match=r"^rating_caseloads: 3 caseloads rated weekly and daily\. Give 0 for none"
    ):
        how_many(3, 500, STUDY, 30, 26)
