"""Stretches of the calendar: the public result, its words, its card and its part of the write-up."""

from __future__ import annotations

import doctest
from dataclasses import replace

import pytest
import small_records

import lagwise as lw
from lagwise.document.markdown import render_md
from lagwise.document.tree import Document
from lagwise.say.report.stretches import stretched
from lagwise.say.report.words import Words
from lagwise.writeup.share import shared

HALVES = {"autumn": ("2025-09-01", "2025-11-02"), "winter": ("2025-12-01", "2026-02-01")}


def caseload_of(blocks=HALVES, **size):
    made = small_records.tables(**{"people": 24, "weeks": 24} | size)
    return lw.from_frames(**made, plan=lw.Study("Two halves").with_(blocks=blocks))


@pytest.fixture(scope="module")
def caseload():
    return caseload_of()


@pytest.fixture(scope="module")
def panel(caseload):
    return lw.build_panel(caseload)


def section(found):
    return render_md(Document("", stretched(found, Words(found), {})))


def test_sentences_are_short_and_say_what_of_the_season(panel):
    found = lw.stretches(panel)
    assert all(len(line.split()) <= 30 for line in found.sentences)
    assert found.sentences[0].startswith("In winter, pain averaged") and "in autumn" in found.sentences[0]
    assert "24 people" in found.sentences[1]
    assert "the season cannot be told apart" in " ".join(found.sentences)
    assert repr(found).startswith("Stretches: pain") and "autumn, then winter" in found._repr_html_()


def test_another_rating_may_be_asked_about(panel):
    found = lw.stretches(panel, "stress")
    assert found.outcome.name == "stress" and "stress averaged" in found.sentences[0]
    assert found.table["variable"].iloc[0] == "stress"


def test_few_people_and_one_are_said_as_such(caseload):
    few, one = (lw.stretches(lw.build_panel(caseload_of(people=n))) for n in (6, 1))
    assert "With 6 people this is exploratory: 15 are needed for an estimate." in few.sentences
    assert "1 person" in one.sentences[1] and "This is one person" in one.sentences[2]


@pytest.mark.parametrize(
    ("blocks", "says"),
    [
        ({"a": ("2025-09-01", "2025-10-31"), "b": ("2025-10-31", "2025-12-31")}, "A and b share days"),
        (HALVES | {"winter": ("2024-12-01", "2025-02-01")}, "Nobody has three weeks with pain rated in both"),
    ],
)
def test_stretches_that_cannot_be_compared_are_said(panel, blocks, says):
    found = lw.stretches(replace(panel, study=panel.study.with_(blocks=blocks)))
    assert says in found.sentences[0] and found.people.empty
    assert says in repr(found) and found._repr_html_()


def test_wrong_questions_say_what_would_mend_them(panel):
    with pytest.raises(lw.LagwiseError, match=r"fewer than two stretches.*\[blocks\]"):
        lw.stretches(replace(panel, study=panel.study.with_(blocks={})))
    with pytest.raises(lw.LagwiseError, match="'load' is not a rating of this study"):
        lw.stretches(panel, "load")


def test_the_write_up_has_them_where_the_plan_names_some(caseload, panel):
    found = lw.collect(caseload, panel, [], None)
    said = section(type(found).from_json(found.to_json()))
    assert said.startswith("### Stretches of the calendar") and lw.stretches(panel).sentences[0] in said
    assert "load (working sets)" in said
    plain = caseload_of(blocks={})
    none = lw.collect(plain, lw.build_panel(plain), [], None)
    assert "stretches" not in none.tables and stretched(none, Words(none), {}) == ()


def test_a_version_to_share_has_no_means_and_nothing_of_few_people(caseload, panel):
    out = shared(lw.collect(caseload, panel, [], None)).tables["stretches"]
    assert "mean_earlier" not in out.columns and set(out.column("n_people")) == {20}
    few = caseload_of(blocks=HALVES, people=9)
    few = replace(
        few, checkins=few.checkins[(few.checkins["person"] > "k05") | (few.checkins["date"] < "2025-11-01")]
    )
    found = lw.collect(few, lw.build_panel(few), [], None)
    assert found.tables["stretches"].column("n_people")[0] == 4
    assert "pain" not in shared(found).tables.get("stretches", found.tables["counts"]).column("variable")


def test_the_example_runs():
    names = {"lw": lw, "caseload": lw.read("data_synthetic/clinic")}
    found = doctest.DocTestFinder().find(lw.stretches, "stretches", globs=names)
    assert doctest.DocTestRunner().run(found[0]).failed == 0
