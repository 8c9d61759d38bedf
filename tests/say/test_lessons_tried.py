"""Sentences of lessons say what their numbers are, also where there is no truth, and in both directions."""

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import lagwise as lw
from lagwise.core.claim import Claim
from lagwise.core.errors import LagwiseError
from lagwise.core.followed import Followed
from lagwise.core.results import Challenges, Fit, Panel
from lagwise.core.study import Study
from lagwise.planning import Assumptions
from lagwise.planning.grid import Plan
from lagwise.say.lessons_tried import (
    alarms,
    beside_truth,
    chances,
    foreseen,
    gaps,
    odds,
    put_in,
    ratios,
    short_records,
    shortfall,
)
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


def flare(rows=(), **tables):
    names = ["engine", "pain_adjusted", "estimate", "low", "high", "n_people", "n_steps"]
    effects = pd.DataFrame(rows, columns=names).assign(
        term="jump", scale="odds_ratio", contrast="+50 %", adjustment="adjusted"
    )
    made = {name: pd.DataFrame(table) for name, table in tables.items()}
    return Fit("flare", "flare_next", effects, pd.DataFrame(), True, "onset model", tables=made)


def log():
    return Panel(pd.DataFrame(), Study("A log"))


OWN = ("clogit", "during", 1.6, 0.6, 4.0, 17, 109)


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


@pytest.mark.parametrize(
    ("low", "own", "ending"),
    [
        (0.9, [OWN], "Both intervals include 1: more flare-ups, fewer and as many all fit."),
        (1.1, [OWN], "One interval includes 1 and the other does not: it hangs on the comparison."),
        (0.9, [], "The interval includes 1: more flare-ups, fewer and as many all fit."),
        (1.1, [], "An odds ratio of 1 lies outside."),
    ],
)
def test_odds_say_which_intervals_include_1(low, own, ending):
    rows = [("flare", held, 2.0, low, 4.3, 40, 639) for held in ("during", "before")]
    said = odds(log(), flare([*rows, *own])).markdown
    assert said.startswith("Weeks trained 50 % above the usual load, against weeks at the usual load:")
    assert "- By the onset model the odds ratio is 2.0 (95 % interval" in said and "639 person-weeks" in said
    assert said.count("- By") == 1 + len(own) and said.endswith(ending)


def test_odds_are_of_the_primary_exposure_alone_and_said_where_there_are_none():
    fit = flare([OWN])
    for name, other in (("term", "stress"), ("contrast", "per unit"), ("adjustment", "crude")):
        of_another = replace(fit, effects=fit.effects.assign(**{name: other}))
        assert odds(log(), of_another).markdown.startswith("Neither model gives an odds ratio")


def test_tables_of_flare_ups_are_in_words():
    shown = ratios(log(), flare([OWN])).iloc[0]
    assert shown[:2].tolist() == ["each person against themselves", "B: pain of the same week"]
    risk = {"what": ["reference", "contrast", "difference"], "probability": [0.02, 0.04, 0.02]}
    shown = chances(log(), flare(risk=risk | {"low": 0.0, "high": 0.1}))
    weeks = ["weeks at the usual load", "weeks trained 50 % above the usual load", "difference"]
    assert shown["after"].tolist() == weeks
    of_stress = replace(
        log(), study=Study("A log").with_(exposures=["stress"], primary="stress", primary_contrast=2)
    )
    shown = chances(of_stress, flare(risk=risk | {"low": 0.0, "high": 0.1}))
    assert shown["after"][0] == "weeks with stress at the person's own average"


def foresight(plain, without=None):
    rows = [("model", 0.05, 0.0, 0.0, 0.0), ("base rate", 0.06, sum(plain) / 2, *plain)]
    rows += [("model without load", 0.05, sum(without) / 2, *without)] if without else []
    names = ["predictor", "brier", "brier_more", "brier_more_low", "brier_more_high"]
    table = pd.DataFrame(rows, columns=names).assign(n_people=9, n_steps=80)
    return foreseen(log(), flare(prediction=table)).markdown


@pytest.mark.parametrize(
    ("plain", "verdict"),
    [
        ((0.001, 0.003), "So the model foresees better than giving every week the same chance."),
        ((-0.003, -0.001), "So giving every week the same chance foresees better."),
        ((-0.001, 0.003), "So it is not shown to be better than giving every week the same chance."),
    ],
)
def test_foresight_is_set_beside_the_base_rate(plain, verdict):
    said = foresight(plain)
    assert "its Brier score is 0.0500 (9 people, 80 person-weeks)" in said and said.endswith(verdict)


def test_foresight_says_what_load_adds():
    said = foresight((0.001, 0.003), (0.001, 0.002))
    assert said.endswith(
        "load it is 0.0015 more (95 % interval 0.0010 more to 0.0020 more): load adds to the guess."
    )
    assert "is not shown to add to the guess" in foresight((0.001, 0.003), (-0.001, 0.002))
    assert "Without" not in foresight((0.001, 0.003), (float("nan"), 0.002))


def test_alarms_tell_false_ones_from_the_chance_to_see():
    truths = ["no association", "the association estimated"]
    bias = {"estimator": "onset model", "truth": truths, "excludes_zero": [0.05, 0.4], "runs": 100}
    said = alarms(flare(bias_at_this_size=bias)).markdown
    assert "- Onset model: with no association 5 (\u00b1 2) and with the one estimated 40 (\u00b1 5)." in said
    assert "false alarms, and 5 of 100 are to be expected" in said
    with pytest.raises(LagwiseError, match="for want of loads"):
        alarms(flare())
