"""The line a student hands in and the table a teacher makes of many."""

import pytest

from lagwise.core.errors import LagwiseError
from lagwise.exercises import Checked, Result, collected, result
from lagwise.say.exercises import CARRIED, IMPOSSIBLE, NOT_YET, RIGHT, UNANSWERED

MINE, OTHERS = "3f9a2c1b" + 56 * "0", "77aa00ff" + 56 * "1"


def checked(*states, number=1, data=MINE):
    names = ("usual", "percent", "jump", "pain_next")
    return Checked(number, "", tuple(map(Result, names, states)), data)


def test_a_line_says_how_much_is_right_on_which_data_and_ends_in_a_word():
    line = result(checked(RIGHT, NOT_YET, CARRIED, RIGHT))
    assert line.startswith("lagwise task 1: 2 of 4 right, 1 right from an own number; data 3f9a2c1b; word ")
    assert len(line) < 110
    assert result(checked(RIGHT, IMPOSSIBLE)).startswith("lagwise task 1: 1 of 4 right, 1 not possible;")
    assert result(checked(UNANSWERED)).startswith("lagwise task 1: 0 of 4 right; data")
    assert result(checked(RIGHT), checked(RIGHT, data=OTHERS)).startswith("lagwise task 1: 2 of 5 right;")


def test_a_result_is_of_one_task():
    for several in ((), (checked(RIGHT), checked(RIGHT, number=2))):
        with pytest.raises(LagwiseError, match="a result is of one task"):
            result(*several)


def test_many_lines_make_a_table_and_what_is_no_line_is_passed_over():
    one, two = result(checked(RIGHT, RIGHT, RIGHT, RIGHT)), result(checked(NOT_YET, number=2, data=OTHERS))
    table = collected(f"Anna: {one}\n\nsomething else\n  Ben:  {two}  \n")
    assert table[["who", "task", "right", "of"]].to_numpy().tolist() == [["Anna", 1, 4, 4], ["Ben", 2, 0, 4]]
    assert table["remark"].tolist() == ["", ""]
    assert collected({"Anna": one, "Ben": two}).equals(table)
    assert collected([one])["who"].tolist() == [""]
    assert collected("").empty


def test_a_line_changed_by_hand_and_one_from_anothers_caseload_are_remarked_on(monkeypatch):
    line = result(checked(RIGHT, NOT_YET))
    changed = line.replace("1 of 4", "4 of 4")
    assert (
        collected(changed)["remark"].item()
        == "the word does not go with the line; something in it was changed"
    )
    monkeypatch.setattr("lagwise.exercises.result_line._data", str)
    seeds = {"Anna": "3f9a2c1b", "Ben": "77aa00ff"}
    said = collected({"Anna": line, "Ben": line, "Cleo": line}, seeds)["remark"].tolist()
    assert said == ["", "these are the data of Anna", "Cleo is not in the list"]
    nobodys = result(checked(RIGHT, data=64 * "a"))
    assert collected({"Ben": nobodys}, seeds)["remark"].item() == "these are the data of nobody in the list"
