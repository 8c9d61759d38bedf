"""The short questions inside the notebooks."""

import re
from pathlib import Path

import pytest

from lagwise.core.errors import LagwiseError
from lagwise.exercises import QUESTIONS, ask, world
from lagwise.exercises.questions import part_of
from lagwise.say.exercises import IMPOSSIBLE, NOT_YET, RIGHT

DATA = Path(__file__).parents[2] / "data_synthetic"
FOLDERS = {"02-set-aside": DATA / "messy" / "first_export"}


def folder(question):
    return FOLDERS.get(question, DATA / "clinic")


def test_each_notebook_has_two():
    assert sorted(name[:2] for name in QUESTIONS) == sorted(2 * [f"{n:02}" for n in range(11)])


@pytest.mark.parametrize("question", QUESTIONS)
def test_the_right_answer_is_taken_and_every_other_told_what_is_amiss(question):
    part = part_of(question)
    key = part.key(world(folder(question)))
    assert ask(question, folder(question), key.value).state == RIGHT
    others = [slip for slip in key.slips if slip.value != key.value]
    assert others
    for slip in others:
        found = ask(question, folder(question), slip.value)
        assert (found.state, bool(found.says)) == (NOT_YET, True)
    if part.choices:
        assert {slip.value for slip in others} == set(part.choices) - {key.value}
        assert ask(question, folder(question), 77).says.startswith("Answer with one of")


@pytest.mark.parametrize("question", QUESTIONS)
def test_what_is_asked_holds_on_any_caseload_and_gives_nothing_away(question):
    how = QUESTIONS[question]
    assert not re.search(r"\d", re.sub(r"`[^`]*`", "", how["asks"])), "a number of one caseload"
    for choice in how.get("choices", ()):
        assert f'"{choice}"' in how["asks"] or f"({choice})" in how["asks"]


def test_an_unanswered_question_is_calm_and_looks_at_nothing():
    for blank in (..., None, ""):
        assert str(ask("04-held-equal", "no-such-folder", blank)) == "04-held-equal: not answered yet."


def test_a_folder_without_what_is_asked_about_says_so():
    found = ask("10-how-many-events", DATA / "messy" / "first_export", 3)
    assert (found.state, found.says) == (IMPOSSIBLE, "It records no events.")


def test_a_question_that_is_not_there_is_said_with_those_that_are():
    with pytest.raises(LagwiseError, match=r"there is no question '04-'\. There are 04-held-equal, 04-large"):
        ask("04-", DATA / "clinic", "yes")
