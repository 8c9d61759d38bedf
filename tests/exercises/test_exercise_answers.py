"""What a student may type, and how a single answer is judged."""

from decimal import Decimal

import numpy as np
import pandas as pd
import pytest

from lagwise.core.errors import LagwiseError
from lagwise.exercises import Key, Part, Slip
from lagwise.exercises.answers import understood
from lagwise.exercises.judge import judge
from lagwise.say.exercises import IMPOSSIBLE, NOT_YET, RIGHT, UNANSWERED

KEY = Key(12.5, "Right, because.", (Slip(20.0, "A sum."), Slip(12.9, "A near slip.")), 0.1)


def part(kind="number", key=KEY, choices=()):
    return Part("it", kind, lambda world: key, choices)


def judged(answer, **how):
    return judge(part(**how), answer, None)


@pytest.mark.parametrize("blank", [..., None, "", "  ", "...", set(), {}, [], ()])
@pytest.mark.parametrize("kind", ["number", "count", "choice", "sentences", "text"])
def test_blank_answers_are_not_answered_yet(blank, kind):
    found = judged(blank, kind=kind)
    assert (found.state, found.says) == (UNANSWERED, "")
    assert str(found) == "it: not answered yet."


@pytest.mark.parametrize("answer", [12.5, 12.45, 12.6, 12.4, np.float32(12.5), Decimal("12.5"), pd.Series([12.5]), np.array([12.5])])  # fmt: skip
def test_a_number_within_the_tolerance_is_right(answer):
    found = judged(answer)
    assert (found.state, found.says) == (RIGHT, "Right, because.")


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        (20, "A sum."),
        (12.9, "A near slip."),
        (12.61, "Close, but further off than rounding explains; an answer within 0.1 is taken."),
        (12.39, "Close, but further off than rounding explains; an answer within 0.1 is taken."),
        (-12.5, "The size fits, but the sign is turned. Look again at what is taken from what."),
        (77, "This does not follow from what is given. A hint may help."),
    ],
)
def test_another_number_is_not_yet_and_says_what_seems_to_have_happened(answer, says):
    found = judged(answer)
    assert (found.state, found.says) == (NOT_YET, says)


def test_what_is_right_is_not_taken_for_a_slip():
    key = Key(12.5, "Right.", (Slip(12.5, "The same by another way."),), 0.1)
    assert judged(12.5, key=key).state == RIGHT


def test_a_slip_that_has_no_value_here_meets_nothing():
    key = Key(12.5, "Right.", (Slip(float("nan"), "Never."),), 0.1)
    assert judged(3, key=key).says.startswith("This does not follow")


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ("12.5", "This is text."), ("about twelve", "This is text."), (True, "This is True or False."),
        (np.bool_(True), "This is True or False."),
        ((12, 5), "These are two numbers. Decimals are written with a point"),
        (float("nan"), "This is a missing value"), (pd.NA, "This is something else (NAType)."),
        (float("inf"), "This is a missing value"), (pd.Series([1, 2]), "This is several values."),
        (pd.DataFrame({"a": [1, 2], "b": [1, 2]}), "This is a whole table."),
        ([1, 2, 3], "This is several values."), (len, "This is a command without its brackets."),
        (pd.Series([1, 2]).mean, "This is a command without its brackets."),
        (object(), "This is something else (object)."), (3 + 2j, "This is something else (complex).")],
)  # fmt: skip
@pytest.mark.parametrize("kind", ["number", "count"])
def test_a_wrong_kind_of_answer_gets_a_sentence(kind, answer, says):
    found = judged(answer, kind=kind)
    assert found.state == NOT_YET
    assert found.says.startswith(says)


def test_a_count_is_whole():
    key = Key(12, "Right.")
    assert judged(12.0, kind="count", key=key).state == RIGHT
    assert judged(np.int64(12), kind="count", key=key).state == RIGHT
    assert judged(12.2, kind="count", key=key).says == "A count is asked for, and a count is a whole number."
    assert judged(13, kind="count", key=key).state == NOT_YET


def test_choices_are_read_generously_and_named_when_they_are_not_met():
    key = Key("b", "Right.", (Slip("a", "Not a."),))
    for answer in ("b", " B", "(b)", "b."):
        assert judged(answer, kind="choice", key=key, choices=("a", "b")).state == RIGHT
    assert judged("a", kind="choice", key=key, choices=("a", "b")).says == "Not a."
    for answer in ("c", 2, True, ["b", "a"]):
        assert judged(answer, kind="choice", key=key, choices=("a", "b")).says == 'Answer with one of "a", "b", in quotes.'  # fmt: skip


def test_true_and_false_stand_for_yes_and_no_where_these_are_asked():
    for kind in (bool, np.bool_):
        assert understood(part("choice", choices=("yes", "no")), kind(True)) == ("yes", "")
        assert understood(part("choice", choices=("yes", "no")), kind(False)) == ("no", "")


def test_marked_sentences_are_counted_without_naming_them():
    key = Key(frozenset({2, 4, 6}), "Right.", (Slip(frozenset({1, 3}), "The others."),))
    how = {"kind": "sentences", "key": key}
    assert judged({2, 4, 6}, **how).state == judged([6, 4, 2], **how).state == RIGHT
    assert judged({1, 3}, **how).says == "The others."
    assert (
        judged(2, **how).says
        == "Of the 1 you marked, 1 is not carried by the findings. 2 more are still unmarked."
    )
    assert judged({2, 4, 5}, **how).says == "Of the 3 you marked, 2 are not carried by the findings and 1 is. 1 more is still unmarked."  # fmt: skip
    for answer in ("2, 4", {"2"}, {2.5}, {True}, 3.0):
        assert (
            judged(answer, **how).says == "Write the numbers of the sentences in curly brackets, like {1, 2}."
        )


def test_what_the_caseload_cannot_give_is_said_with_its_reason():
    def no(world):
        raise LagwiseError("it records no training", mend="Record it.")

    for answer in (..., 3, "text"):
        found = judge(Part("it", "number", no), answer, None)
        assert (found.state, found.says) == (IMPOSSIBLE, "It records no training.")
