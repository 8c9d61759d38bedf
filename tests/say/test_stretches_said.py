"""Stretches of the calendar: the public result, its words, its card and its part of the write-up."""

from __future__ import annotations

import doctest
from dataclasses import replace
from pathlib import Path

import golden
import pytest
import small_records

import lagwise as lw
from lagwise.document.markdown import render_md
from lagwise.document.tree import Document
from lagwise.say.report.stretches import stretched
from lagwise.say.report.words import Words
from lagwise.writeup.share import shared

GOLDEN = Path(__file__).parent / "golden" / "stretches.md"
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


def asked(panel):
    """(what is special, what is found)."""
    yield "two halves", lw.stretches(panel)
    yield "another rating", lw.stretches(panel, "stress")
    for n in (6, 1):
        yield f"people: {n}", lw.stretches(lw.build_panel(caseload_of(people=n)))
    for name, blocks in (
        ("days in both", {"a": ("2025-09-01", "2025-10-31"), "b": ("2025-10-31", "2025-12-31")}),
        ("nobody in both", HALVES | {"winter": ("2024-12-01", "2025-02-01")}),
    ):
        yield name, lw.stretches(replace(panel, study=panel.study.with_(blocks=blocks)))


def test_what_is_said_is_as_kept(panel):
    found = dict(asked(panel))
    golden.kept(GOLDEN, "\n\n".join(f"## {name}\n\n{one!r}" for name, one in found.items()) + "\n")
    assert all(len(line.split()) <= 30 for one in found.values() for line in one.sentences)
    assert "autumn, then winter" in found["two halves"]._repr_html_()
    assert (
        found["nobody in both"].people.empty and found["another rating"].table["variable"].iloc[0] == "stress"
    )


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
