"""What changed, and what followed: the section of a write-up, and what of it may be shared."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

import lagwise as lw
from lagwise.core.errors import WriteUpError
from lagwise.document.layout import sections
from lagwise.document.markdown import render_md
from lagwise.events.asked import questions
from lagwise.findings import Findings
from lagwise.say.check_record import events_sentence
from lagwise.say.report.checklist import checklist
from lagwise.say.report.document import document, on_sheets
from lagwise.writeup.collect import collect
from lagwise.writeup.csvs import tables_csv
from lagwise.writeup.share import shared

CHANGES = Path(__file__).parents[2] / "data_synthetic" / "changes"
HEAD = "## What changed, and what followed"


@pytest.fixture(scope="module")
def caseload():
    return lw.read(CHANGES)


@pytest.fixture(scope="module")
def panel(caseload):
    return lw.build_panel(caseload)


@pytest.fixture(scope="module")
def found(caseload, panel) -> Findings:
    """Education (an estimate) and a break (exploratory)."""
    events = [lw.follow(panel, "education", "worry", quick=True), lw.follow(panel, "break", quick=True)]
    return collect(caseload, panel, [], None, events=events)


def with_events(caseload, events):
    own = replace(caseload, events=events.reset_index(drop=True))
    return own, lw.build_panel(own)


def section(findings: Findings) -> str:
    """The section as a paper has it, with what a page folds; empty where there is none."""
    whole = document(findings)
    own = dict(sections(whole.blocks)).get("changed", ())
    return render_md(on_sheets(replace(whole, blocks=tuple(own)))).replace("\\", "").strip()


def test_findings_keep_what_followed_and_older_ones_are_read(found):
    assert Findings.from_json(found.to_json()) == found
    older = {k: v for k, v in json.loads(found.to_json()).items() if k != "followed"}
    assert Findings.from_json(json.dumps(older)).followed == ()
    assert not section(Findings.from_json(json.dumps(older))) and HEAD in section(found)
    rows = [r for r in found.effects if r.outcome == "worry_after"]
    assert {r.engine for r in rows} == {"risk_set", "did", "before_after"}
    told = tables_csv(found)
    assert not any(r.primary for r in rows) and "worry_after" in told["effects.csv"]
    assert told["attempts.csv"].startswith("kind,outcome,name,")
    assert "break,pain,false_dates" in told["attempts.csv"]


def test_the_section_says_what_followed_and_what_returns_anyway(found):
    text = section(found)
    own = found.followed[0].claim["numbers"]
    assert "worry about the pain was lower after education" in text
    assert "Before and after includes the ordinary return after a bad stretch" in text
    assert f"Event{'s' * 0}" in text and str(int(own["compared"]["value"])) in text
    assert "10 people have three ratings both before and after it; with fewer than 15" in text
    assert "Set off by pain" in text and "No comparison removes" in text
    assert not re.search(r"effect of|treatment|recommend|should", text)
    plain = re.sub(r"!?\[[^]]*\]\([^)]*\)|\*\*", "", text)
    told = [line for line in plain.splitlines() if line and not line.startswith(("|", "#"))]
    long = [s for line in told for s in re.split(r"(?<=[.:]) ", line) if len(s.split()) > 30]
    assert not long
    answers = {f"{a.source} {a.number}": a for a in checklist(found)}
    assert "20 set off by pain" in answers["SCRIBE 5"].where and answers["TARGET 13"].status == "filled"
    limits = render_md(on_sheets(document(found))).split("Changes have their reasons")[1].split("\n")[0]
    assert re.search(r"would make pain .* points \w+ after a break, at a true", limits)


def test_a_version_to_share_counts_in_fives_and_tells_nobody_alone(found):
    told = shared(found)
    text = section(told)
    assert "worry about the pain" in text and "figures/followed-1.png" in text
    counts = [r["n"] for one in told.followed for r in one.picture.data.records()]
    counts += [r.n_people for one in told.followed for r in one.effects]
    assert counts and all(n >= 5 and n % 5 == 0 for n in counts)
    assert all(a.claim is None for one in told.followed for a in one.attempts)
    tried = tables_csv(told)["attempts.csv"]
    assert "Leaving out" not in tried and "Without one person" not in tried
    assert not any(word in text for word in ("not the first of its person", "First events"))


def test_kinds_of_few_people_are_pictures_in_private_and_not_shared(caseload):
    events = caseload.events[caseload.events["kind"].eq("education")]
    own, panel = with_events(caseload, events[events["person"].isin(events["person"].unique()[:3])])
    few = lw.follow(panel, "education", "worry", quick=True)
    findings = collect(own, panel, [], None, events=[few])
    text = section(findings)
    assert few.reason == "picture" and not len(few.effects) and not few.tests
    assert "too few for an estimate" in text and "followed-1.png" in text and "doubly robust" not in text
    assert shared(findings).followed == () and not section(shared(findings))


def test_one_event_is_told_and_none_has_no_heading(caseload):
    own, panel = with_events(caseload, caseload.events[caseload.events["kind"].eq("education")].head(1))
    one = lw.follow(panel, "education", "worry", quick=True)
    text = section(collect(own, panel, [], None, events=[one]))
    assert "Too few people have any one kind of event" in text and "After education" in text
    assert lw.picture(one).title == one.figure.title
    with pytest.raises(WriteUpError, match="1 person has three ratings both before and after education"):
        lw.picture(replace(one, figure=None))
    bare, panel = with_events(caseload, caseload.events.head(0))
    assert questions(panel) == ([], 0) and events_sentence(panel) == ""
    assert HEAD not in render_md(on_sheets(document(collect(bare, panel, [], None))))


def test_the_plan_chooses_kinds_and_ratings(caseload, panel):
    asked, left = questions(panel)
    assert [name for kind, name in asked if kind == "education"] == ["worry", "confidence", "pain"]
    assert left == 0 and ("break", "pain") in asked
    study = panel.study.with_(
        kinds=["new_programme"], outcomes={"new_programme": ["pain"], "break": ["stress"]}
    )
    chosen = lw.build_panel(caseload, study)
    assert questions(chosen)[0][0] == ("break", "stress")
    assert "nobody has such an event in the record" in events_sentence(chosen)
    assert "education (26)" in events_sentence(panel)
