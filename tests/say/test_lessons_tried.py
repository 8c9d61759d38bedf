"""Sentences of lessons say what their numbers are, also where there is no truth, and in both directions."""

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import lagwise as lw
from lagwise.core.claim import Claim
from lagwise.core.errors import LagwiseError
from lagwise.core.followed import Followed
from lagwise.core.results import Challenges
from lagwise.core.study import Study
from lagwise.planning import Assumptions
from lagwise.planning.grid import Plan
from lagwise.say.lessons_tried import beside_truth, gaps, put_in, short_records, shortfall
from lagwise.synthetic import changes_beside

SYNTHETIC = Path(__file__).parents[2] / "data_synthetic"
ROW = {"people": 40, "effect": 1.0, "bias": -0.1, "bias_error": 0.01, "width": 0.4, "width_error": 0.01,
       "coverage_error": 0.03, "p_open": 0.2, "p_partly": 0.5, "person_weeks": 500.0}  # fmt: skip


def planned(**more):
    rows = [ROW | {"weeks": 12, "coverage": 0.8} | more, ROW | {"weeks": 26, "coverage": 0.6} | more]
    return Plan(pd.DataFrame(rows), Study("A plan"), Assumptions(), 200, 1, 0.0)


def followed(low, high):
    effects = pd.DataFrame(
        {"contrast": ["mean of steps 1-4 after"], "model": ["doubly robust"], "low": [low], "high": [high]}
    )
    asked = Study("A log").outcome.variable
    nobody = pd.DataFrame()
    return Followed(
        "technique_change",
        asked,
        "estimate",
        effects,
        nobody,
        nobody,
        Challenges((), 1),
        None,
        (),
        Claim("followed", "", "", {}),
    )


@pytest.fixture(scope="module")
def hall():
    return lw.read(SYNTHETIC / "changes")


def test_a_shortfall_says_its_side_and_what_a_longer_record_does():
    said = shortfall(planned()).markdown
    assert "With 40 people and 12 weeks, estimates lie 0.10 points short of it (\u00b1 0.010)." in said
    assert "80 of 100 (\u00b1 3) hold it" in said and said.endswith("hold it less often.")
    said = shortfall(planned(bias=0.1, coverage=0.95)).markdown
    assert "0.10 points beyond it" in said and said.endswith("hold it about as often.")


def test_what_a_short_record_leaves_open_and_what_gaps_take():
    assert (
        "With 40 people and 12 weeks, 70 of 100 intervals leave the size open"
        in short_records(planned()).markdown
    )
    other = replace(planned(person_weeks=90.0), assumptions=Assumptions(missing_weeks=0.4))
    said = gaps(planned(), other).markdown
    assert "15 of 100 weeks missing: of 480 person-weeks 500 can be used" in said
    assert "40 of 100 weeks missing: of 480 person-weeks 90 can be used" in said


def test_what_followed_is_set_beside_the_truth_where_there_is_one(hall):
    truth = changes_beside(hall).set_index(["event", "rating"])["true difference"]
    assert truth["technique_change", "pain"] == pytest.approx(-0.6, abs=0.01)
    said = beside_truth(hall, [followed(-1.0, -0.2)]).markdown
    assert (
        "pain after a change of technique is 0.6 points lower." in said
        and "of `doubly robust` holds that" in said
    )
    assert "does not hold that" in beside_truth(hall, [followed(-0.4, 0.2)]).markdown
    real = replace(hall, folder="")
    assert beside_truth(real, [followed(-1.0, -0.2)]).markdown.endswith(
        "no truth lies beside it; only an invented caseload can carry one."
    )
    clinic = lw.read(SYNTHETIC / "clinic")
    assert beside_truth(clinic, [followed(-1.0, -0.2)]).markdown.endswith("says nothing of events.")
    with pytest.raises(LagwiseError, match="no truth lies beside it"):
        changes_beside(real)


def test_what_load_was_given_is_set_beside_each_interval(hall):
    clinic = lw.read(SYNTHETIC / "clinic")
    found = pd.DataFrame({"low": [0.4, 0.9], "high": [1.3, 1.4]}, index=["one way", "another"])
    assert (
        "+0.8 points per log unit. The interval holds it by `one way` alone."
        in put_in(clinic, found).markdown
    )
    assert "does not hold it by `another`" in put_in(clinic, found.tail(1)).markdown
    assert put_in(hall, found).markdown.endswith("says nothing of exposures.")
