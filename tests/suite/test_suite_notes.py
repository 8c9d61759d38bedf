"""What is said where a folder's plan differs from the one that the notebooks were written for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from lagwise import synthetic
from lagwise.core.study import Clock
from lagwise.say.notebooks import retold
from lagwise.suite.page import AS_WRITTEN, in_words_of

SOURCE = new_notebook(
    cells=[new_markdown_cell("# A week"), new_code_cell("a"), new_markdown_cell("its usual load")],
)


@pytest.fixture(scope="module")
def clinic():
    return synthetic.make("tiny")[0]


@pytest.fixture(scope="module")
def checkins():
    return synthetic.make("checkins_only")[0]


def note(notebook, caseload) -> str:
    made = in_words_of(notebook, caseload)
    return made.cells[1].source if len(made.cells) > len(notebook.cells) else ""


def test_nothing_is_noted_where_the_text_holds(clinic):
    assert note(SOURCE, clinic) == ""
    assert note(SOURCE, synthetic.make("weeks_only")[0]) == ""


def asking(clinic, days=7):
    rated = {"fatigue": {"low": 1, "high": 5, "worse": "high"}}
    study = clinic.study.with_(ratings=rated, outcome="fatigue", exposures=["stress"], primary="stress")
    return replace(study, clock=Clock(step_days=days))


@pytest.mark.parametrize(
    ("days", "said", "told"),
    [
        (1, "In the next week's pain, in one week", "In the next day's pain, on one day"),
        (1, "In a week of rest; weeks with `weeks`", "On a day of rest; days with `weeks`"),
        (
            14,
            "Same week, next week: 12 person-weeks",
            "Same 14-day step, next 14-day step: 12 person-14-day steps",
        ),
        (7, "In the next week", "In the next week"),
    ],
)
def test_text_is_in_the_steps_of_the_plan(clinic, days, said, told):
    assert retold(said, replace(clinic.study, clock=Clock(step_days=days))) == told


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("Pain, and `pain_next` of $\\text{pain}$", "Fatigue, and `fatigue_next` of $\\text{fatigue}$"),
        ("Flare-ups: a flare-up", "Rises in fatigue: a rise in fatigue"),
        (
            "people with pain, night pain, who call it `a pain`",
            "people with pain, night pain, who call it `a pain`",
        ),
        ("what one person called a flare-up", "what one person called a flare-up"),
        (
            "rated from 0 to 10; [pain](11_of_the_pain.ipynb)",
            "rated from 1 to 5; [fatigue](11_of_the_pain.ipynb)",
        ),
    ],
)
def test_text_is_of_what_the_plan_asks_about(clinic, said, told):
    assert retold(said, asking(clinic)) == told
    assert retold(said, clinic.study) == said


def test_text_on_invented_records_keeps_its_words_and_a_label_is_no_markup(clinic):
    rated = {"tired": {"low": 1, "high": 5, "worse": "high", "label": "*tired* <b>"}}
    caseload = replace(clinic, study=clinic.study.with_(ratings=rated, outcome="tired"))
    cells = [new_markdown_cell(text) for text in ("# Pain", "pain of the twin", "pain")]
    cells[1].metadata = {"tags": [AS_WRITTEN]}
    made = [c.source for c in in_words_of(new_notebook(cells=cells), caseload).cells]
    assert made[0] == "# \\*tired\\* \\<b\\>"
    assert made[2] == "pain of the twin"
    cells[0].metadata = {"tags": [AS_WRITTEN]}
    made = [c.source for c in in_words_of(new_notebook(cells=cells), caseload).cells]
    assert made == ["# Pain", "pain of the twin", "pain"]


def test_another_exposure_and_the_want_of_load_are_noted_once_below_the_opening(checkins):
    said = note(SOURCE, checkins)
    assert "is about stress, 2 points above the person's own average" in said
    assert "No training was recorded" in said
    made = in_words_of(SOURCE, checkins)
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
    assert in_words_of(plain, checkins) == plain


def test_another_outcome_is_noted_with_its_own_scale_and_step(clinic):
    source = new_notebook(cells=[new_markdown_cell("# Pain"), new_markdown_cell("how much pain")])
    said = note(source, replace(clinic, study=asking(clinic)))
    assert said.endswith("is about fatigue, in points (1-5), in the next week.")
    said = note(source, replace(clinic, study=asking(clinic, days=1)))
    assert said.endswith("on the next day.")
    assert note(source, clinic) == ""
