import numpy as np
import pytest
from challenge_panels import clinic, laid, one, simple, value
from proof import proved
from proof_caseloads import one_person_steep, one_person_varies

from lagwise.challenges import leave_one_person_out
from lagwise.challenges.context import Context
from lagwise.challenges.estimate import answer, variants
from lagwise.challenges.leave_one_person_out import judged, without_each
from lagwise.core.results import Panel

NAME = "leave_one_person_out"
APART = [
    (np.array([0.01, 0.9]), np.zeros(2)),
    (np.array([0.5, 0.9]), np.array([0.6, 0.1])),
    (np.array([0.9, 0.01]), np.array([0.1, 0.6])),
]
"""p of standing apart and share of information of two people of whom the first one's leaving changes the reading."""


def test_one_person_who_alone_says_something_is_told_and_not_named_on_the_other_side():
    found = one(NAME, one_person_varies(-1))
    assert found.verdict == "does_not_hold"
    assert "P000" not in found.sentence
    assert "brings 9" in found.sentence
    assert value(found, "people whose leaving changes the reading") == 1


def test_one_steep_slope_among_twelve_stands_apart_from_an_undecided_average():
    found, twin = (one(NAME, one_person_steep(slope)) for slope in (8.0, 0.0))
    assert found.numbers.iloc[0]["low"] < 0 < found.numbers.iloc[0]["high"]
    assert found.verdict == "cannot_tell"
    assert value(found, "p of the person who stands farthest apart") <= 0.05
    assert "does not speak for everybody" in found.sentence
    assert twin.verdict == "holds"
    assert value(twin, "p of the person who stands farthest apart") > 0.05
    assert "the interval includes 0, which is no confirmation" in twin.sentence


def test_the_rule_of_one_person():
    verdicts = [judged(1, np.array([True, False]), p, share) for p, share in APART]
    assert verdicts == ["does_not_hold", "does_not_hold", "cannot_tell"]
    assert judged(0, np.array([False, False]), np.array([0.01, 0.9]), np.zeros(2)) == "cannot_tell"
    assert judged(1, np.array([False, False]), np.array([0.01, 0.9]), np.full(2, 0.9)) == "holds"
    assert judged(0, np.array([False, False]), np.full(2, np.nan), np.zeros(2)) == "holds"


def test_estimates_are_those_of_the_panel_without_the_person():
    panel, fit = clinic()
    context = Context(panel, fit)
    p = context.primary
    found = without_each(variants(context.design, p.column, p.size))
    frame = panel.frame[panel.frame["person"] != found.loc[3, "person"]]
    again = answer(context.adjusted(Panel(frame, panel.study)), p.column, p.size)
    assert found.loc[3, "estimate"] == pytest.approx(again.estimate, abs=2e-3)
    assert len(found) == 40


def test_of_many_people_those_who_move_it_most_are_left_out_and_the_range_is_the_same(monkeypatch):
    every = proved(NAME, "holds")
    monkeypatch.setattr(leave_one_person_out, "MANY", 20)
    monkeypatch.setattr(leave_one_person_out, "FOREMOST", 8)
    some = one(NAME, clinic(), quick=True)
    ranges = [
        found.numbers.set_index("key").loc["without", ["low", "high"]].tolist() for found in (every, some)
    ]
    assert ranges[0] == ranges[1]
    assert some.sentence.endswith("were the 8 whose leaving moves the estimate most, of 40 people.")
    assert "Left out, one at a time" not in every.sentence


def test_five_people_are_enough():
    made = simple(people=5, steps=20)
    found = one(NAME, laid(made["pain"], made["load"], stress=made["stress"]))
    assert not found.problem
    assert len(found.picture.data) == 6
