"""Sentences of lessons say what their numbers are, also where there is no truth, and in both directions."""

from dataclasses import replace
from pathlib import Path

import golden
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
GOLDEN = Path(__file__).parent / "lessons_tried.md"
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


def foresight(plain, without=None):
    rows = [("model", 0.05, 0.0, 0.0, 0.0), ("base rate", 0.06, sum(plain) / 2, *plain)]
    rows += [("model without load", 0.05, sum(without) / 2, *without)] if without else []
    names = ["predictor", "brier", "brier_more", "brier_more_low", "brier_more_high"]
    table = pd.DataFrame(rows, columns=names).assign(n_people=9, n_steps=80)
    return foreseen(log(), flare(prediction=table))


def said():
    """(what is special, sentences), in both directions and where there is no truth."""
    hall, clinic = (lw.read(SYNTHETIC / name) for name in ("changes", "clinic"))
    held, found = (
        followed(-1.0, -0.2),
        pd.DataFrame({"low": [0.4, 0.9], "high": [1.3, 1.4]}, index=["a", "b"]),
    )
    fewer = replace(planned(person_weeks=90.0), assumptions=Assumptions(missing_weeks=0.4))
    yield "short of it", shortfall(planned())
    yield "beyond it", shortfall(planned(bias=0.1, coverage=0.95))
    yield "short records", short_records(planned())
    yield "gaps", gaps(planned(), fewer)
    yield "an interval that holds the truth", beside_truth(hall, [held])
    yield "one that does not", beside_truth(hall, [followed(-0.4, 0.2)])
    yield "no truth beside it", beside_truth(replace(hall, folder=""), [held])
    yield "a truth without events", beside_truth(clinic, [held])
    yield "one of two intervals holds what was put in", put_in(clinic, found)
    yield "none does", put_in(clinic, found.tail(1))
    yield "nothing was put in of exposures", put_in(hall, found)
    for low in (0.9, 1.1):
        rows = [("flare", equal, 2.0, low, 4.3, 40, 639) for equal in ("during", "before")]
        yield f"odds from {low} by both models", odds(log(), flare([*rows, OWN]))
        yield f"odds from {low} by one", odds(log(), flare(rows))
    for plain in ((0.001, 0.003), (-0.003, -0.001), (-0.001, 0.003)):
        yield f"foresight {plain}", foresight(plain)
    for without in ((0.001, 0.002), (-0.001, 0.002), (float("nan"), 0.002)):
        yield f"foresight without load {without}", foresight((0.001, 0.003), without)
    truths = ["no association", "the association estimated"]
    bias = {"estimator": "onset model", "truth": truths, "excludes_zero": [0.05, 0.4], "runs": 100}
    yield "alarms", alarms(flare(bias_at_this_size=bias))


def test_sentences_are_as_kept():
    golden.kept(GOLDEN, "\n\n".join(f"## {name}\n\n{one.markdown}" for name, one in said()) + "\n")


def test_what_has_no_truth_or_no_loads_is_refused():
    with pytest.raises(LagwiseError, match="no truth lies beside it"):
        changes_beside(replace(lw.read(SYNTHETIC / "changes"), folder=""))
    with pytest.raises(LagwiseError, match="for want of loads"):
        alarms(flare())


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
