"""One person at a time: the picture, the list to choose in, and what shows where nobody can choose."""

from __future__ import annotations

from dataclasses import replace

import pytest
from IPython.core.interactiveshell import InteractiveShell
from IPython.utils.capture import capture_output
from notebook_files import CLINIC

import lagwise as lw
from lagwise import describe
from lagwise.core.errors import WriteUpError
from lagwise.pages.viewer import can_choose
from lagwise.say.report.course import facts_of

HOSTILE = '<img src=x onerror="1">'


@pytest.fixture(scope="module")
def caseload():
    return lw.read(CLINIC)


@pytest.fixture(scope="module")
def panel(caseload):
    return lw.build_panel(caseload)


@pytest.fixture
def view(panel):
    return lw.person_view(panel)


def test_the_picture_is_of_one_person_and_says_so(view, panel, caseload):
    figure = view.figure()
    assert view.people == tuple(sorted(panel.frame["person"].unique()))
    assert figure.title == f"{view.people[0]}: pain, load and effort, week by week"
    assert figure.alt.endswith("The record of one person, which is personal data even under a code.")
    assert figure.png != view.figure(view.people[1]).png
    assert lw.person_view(caseload, view.people[1]).figure().png == view.figure(view.people[1]).png


def test_its_words_are_those_of_the_table_of_people(view, panel, caseload):
    rows = describe.people_table(caseload, panel).set_index("person")
    for one in view._series.values():
        found = facts_of(one)
        assert found == pytest.approx(rows.loc[one.person, list(found)].to_dict())


def test_another_person_chosen_is_another_picture(view):
    shown = []
    names, before, after = view.chooser(shown.append).children
    assert (names.description, before.description, after.description) == ("Person", "Previous", "Next")
    names.value = view.people[3]
    after.click()
    assert shown == list(view.people[3:5])
    names.index = len(view.people) - 1
    after.click()
    assert names.value == view.people[0], "after the last comes the first"
    before.click()
    assert names.value == view.people[-1]
    assert shown[-2:] == [view.people[0], view.people[-1]]


def test_where_nobody_can_choose_it_is_a_png_with_its_words(view):
    assert not can_choose()
    InteractiveShell.instance()
    try:
        with capture_output() as captured:
            view._ipython_display_()
    finally:
        InteractiveShell.clear_instance()
    (output,) = captured.outputs
    assert set(output.data) == {"image/png", "text/plain"}
    assert output.metadata["image/png"]["alt"] == view.figure().alt


def test_an_unknown_code_names_those_like_it_and_nobody_is_said(panel):
    code = panel.frame["person"].iloc[0]
    with pytest.raises(WriteUpError, match=f"^person: nobody in this caseload has the code .*{code}"):
        lw.person_view(panel, code.lower())
    with pytest.raises(WriteUpError, match="nobody in the panel"):
        lw.person_view(replace(panel, frame=panel.frame.head(0)))


def test_a_code_is_text_in_picture_and_list(panel):
    frame = panel.frame.assign(person=panel.frame["person"].replace(panel.frame["person"].iloc[0], HOSTILE))
    view = lw.person_view(replace(panel, frame=frame), HOSTILE)
    figure = view.figure()
    assert HOSTILE in figure.title
    assert b"<img" not in figure.svg
    assert view.chooser(print).children[0].value == HOSTILE


def test_a_record_without_load_and_effort_is_of_pain_alone(panel):
    frame = panel.frame.assign(load=float("nan"), effort=float("nan"), state="unknown")
    assert lw.person_view(replace(panel, frame=frame)).figure().title.endswith(": pain, week by week")
