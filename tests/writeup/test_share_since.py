"""What a version to share tells of an earlier report: nothing by which the two subtract to a few people."""

from __future__ import annotations

from dataclasses import replace

import pytest
import writeup_inputs as made
from two_reports import fitted, part, put

from lagwise.document.markdown import render_md
from lagwise.findings.look_back import look_back
from lagwise.say.report.document import document
from lagwise.writeup.share import shared

BIG = made.panel(30, 16)
EVERYBODY = sorted(BIG.frame["person"].unique())


def since(gone: int, *, edited: int = 0, steps: int = 12):
    """The shared version of a report whose earlier one lacks the last `gone` people."""
    frame = BIG.frame.copy()
    for person in EVERYBODY[:edited]:
        at = frame.index[(frame["person"] == person) & frame["pain"].notna()][:1]
        frame.loc[at, "pain"] += 0.5
    now = put(replace(BIG, frame=frame), fitted(400, 0.05, 0.1, n_people=30))
    then = put(
        part(BIG, steps=steps, without=tuple(EVERYBODY[30 - gone :])),
        fitted(300, error=0.12, n_people=30 - gone),
    )
    return shared(now.model_copy(update={"since": look_back(now, then)})), look_back(now, then)


def test_codes_days_fingerprints_and_exact_numbers_are_not_told():
    found, exact = since(7)
    text = found.since.model_dump_json()
    assert exact.looks[0].digest and not found.since.looks[0].digest
    assert not any(code in text for code in EVERYBODY)
    assert (found.since.came, found.since.until, found.since.edited_people) == (5, ("", ""), None)
    counts = {c.name: (c.old, c.new) for c in found.since.counts}
    assert counts["people"] == (20, 30)
    assert counts["steps"][1] == found.number("steps")
    assert {c.name for c in found.since.counts} == {"people", "steps"}
    for move in found.since.moves:
        assert move.new.estimate in {r.estimate for r in found.effects}
        assert move.difference == pytest.approx(move.new.estimate - move.old.estimate)
        assert move.reach is None
    assert found.since.moves


@pytest.mark.parametrize("apart", [{"gone": 3}, {"gone": 0, "edited": 2, "steps": 99}])
def test_where_few_people_set_the_two_apart_no_number_of_the_earlier_report_is_told(apart):
    found, _ = since(**apart)
    assert (found.since.counts, found.since.moves, found.since.came, found.since.left) == ((), (), None, None)
    assert "withheld" in found.since.cautions
    assert "edited" not in found.since.cautions
    assert "too few people set the two apart" in render_md(document(found))


def test_choices_that_name_exercises_are_told_by_their_section_alone():
    named = replace(made.STUDY, groups={"knee": ("secret lift",)})
    now = put(replace(BIG, study=named), fitted(400, 0.05), study=named)
    then = put(part(BIG, steps=12), fitted(300, error=0.12))
    found = shared(now.model_copy(update={"since": look_back(now, then)}))
    assert [c.key for c in found.since.plan] == ["groups"]
    assert "secret lift" not in found.since.model_dump_json()
