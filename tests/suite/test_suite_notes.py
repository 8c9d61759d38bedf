"""What is said where a folder's plan differs from the one that the notebooks were written for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from lagwise import synthetic
from lagwise.core.study import Clock
from lagwise.suite.page import with_note

SOURCE = new_notebook(
    cells=[new_markdown_cell("# A week"), new_code_cell("a"), new_markdown_cell("its load")],
)


@pytest.fixture(scope="module")
def clinic():
    return synthetic.make("tiny")[0]


@pytest.fixture(scope="module")
def checkins():
    return synthetic.make("checkins_only")[0]


def note(notebook, caseload) -> str:
    made = with_note(notebook, caseload)
    return made.cells[1].source if len(made.cells) > len(notebook.cells) else ""


def test_nothing_is_noted_where_the_text_holds(clinic):
    assert note(SOURCE, clinic) == ""
    assert note(SOURCE, synthetic.make("weeks_only")[0]) == ""


@pytest.mark.parametrize(
    ("days", "words"), [(1, "is 1 day: "), (14, "is 14 days: where the text says *week*, read *14-day step*")]
)
def test_another_step_than_a_week_is_noted(clinic, days, words):
    caseload = replace(clinic, study=replace(clinic.study, clock=Clock(step_days=days)))
    assert words in note(SOURCE, caseload)
    assert "load" not in note(SOURCE, caseload)


def test_another_exposure_and_the_want_of_load_are_noted_once_below_the_opening(checkins):
    said = note(SOURCE, checkins)
    assert "is about stress, 2 points above the person's own average" in said
    assert "No training was recorded" in said
    made = with_note(SOURCE, checkins)
    assert [c.source for c in made.cells if c.source != said] == [c.source for c in SOURCE.cells]
    assert len(SOURCE.cells) == 3, "the notebook given is not changed"


def test_a_question_about_load_has_no_answer_without_any(checkins, clinic):
    asked = replace(checkins, study=clinic.study)
    assert "about load and has no answer here" in note(SOURCE, asked)
    assert "no answer here" not in note(SOURCE, checkins)


def test_the_want_of_pain_is_noted(clinic):
    source = new_notebook(cells=[new_markdown_cell("# Pain"), new_markdown_cell("pain")])
    assert note(source, clinic) == ""
    assert "No pain was rated" in note(
        source, replace(clinic, checkins=clinic.checkins.assign(pain=float("nan")))
    )


def test_a_notebook_that_speaks_of_neither_is_left_alone(checkins):
    plain = new_notebook(cells=[new_markdown_cell("# Files"), new_code_cell("load")])
    assert with_note(plain, checkins) is plain


def test_another_outcome_is_noted_with_its_own_scale(clinic):
    study = clinic.study.with_(ratings={"fatigue": {"low": 1, "high": 5, "worse": "high"}}, outcome="fatigue")
    source = new_notebook(cells=[new_markdown_cell("# Pain"), new_markdown_cell("how much pain")])
    said = note(source, replace(clinic, study=study))
    assert (
        "is about fatigue, in points (1-5), in the next week: where the text says *pain*, read *fatigue*"
        in said
    )
    assert "a *rise in fatigue*" in said
    assert note(source, clinic) == ""
