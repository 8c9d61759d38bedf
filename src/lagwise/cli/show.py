"""What the command line prints of what was made: trees of blocks, for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from lagwise.caseload.risk import Risk
from lagwise.core.numbers import plural
from lagwise.core.words import capital
from lagwise.document.terminal import print_blocks
from lagwise.document.tree import Block, Bullets, Heading, Inline, Para, bullets, para, strong
from lagwise.findings import Findings
from lagwise.pages import check_parts as parts
from lagwise.pages.check_needs import need_blocks
from lagwise.pages.check_page import Checked
from lagwise.say import check_record as words
from lagwise.say.check.risk_page import lessened, sentences
from lagwise.say.check_first import draft_blocks, first_blocks, lacks
from lagwise.say.check_page import TEXTS
from lagwise.say.commands import LINES
from lagwise.say.notebooks import STATES
from lagwise.suite import Suite
from lagwise.suite.index import said, took

if TYPE_CHECKING:
    from lagwise.pages.since import Compared
    from lagwise.say.plan import Plan
    from lagwise.writeup.checker import Remark


def print_check(of: Checked) -> None:
    """Print whether a report is possible, what needs an edit, what was read, set aside and noticed."""
    print_blocks(*_check(of))


def _check(of: Checked) -> Iterator[Block]:
    caseload, panel = of.reading.caseload, of.panel
    yield _heading(of.reading.plan.study.title)
    yield from first_blocks(of.reading, panel, of.waits)
    if caseload is not None and panel is not None and (missing := lacks(panel, caseload)):
        yield para(missing)
    yield from draft_blocks(of.reading)
    yield from need_blocks(list(of.needs), of.reading.plan.text)
    if caseload is None:
        return
    counts = parts.row_counts(caseload).drop(columns=["cells read", "cells used"])
    yield parts.frame_grid(TEXTS["rows_briefly"], counts)
    if len(caseload.quarantine):
        reasons = parts.set_aside(caseload.quarantine)
        yield parts.frame_grid(TEXTS["by_reason"], reasons.drop(columns="mend"))
        yield parts.mends(reasons)
    if panel is not None:
        first, *others = words.sentences(caseload, panel)
        yield para(first, role="lead" if len(caseload.quarantine) else "body")
        yield from map(para, others)
    for matter in (m for m in of.rest if not m.informs):
        title, told = parts.matter_said(matter)
        yield para(strong(title), f" ({plural(matter.count, 'time')})", role="lead")
        yield told
    if brief := [m for m in of.rest if m.informs]:
        yield Heading(2, TEXTS["informs"], "")
        yield parts.told_briefly(brief)
    made = parts.repairs(caseload)
    if len(made):
        yield parts.frame_grid(TEXTS["repairs_briefly"], made.drop(columns="done"))
    yield para(words.aside_sentence(caseload, "rest_used"), role="lead")


def print_answer(findings: Findings) -> None:
    """Print the title and the opening paragraphs of a case series."""
    from lagwise.say.report.summary import summary  # which loads every challenge

    opening = (replace(paragraph, role="lead") for paragraph in summary(findings))
    print_blocks(_heading(findings.study.title), *opening)


def print_since(found: Compared) -> None:
    """Print what came in, how the main estimate and the challenges moved, and what weakens the comparison."""
    print_blocks(_heading(found.title), *found.opening)


def print_risk(risk: Risk) -> None:
    """Print what tells most of a person in a de-identified caseload, and what lowers it."""
    worst = risk.worst(3)
    told = (bullets(*sentences(worst)), lessened(worst, LINES["lowers"]))
    print_blocks(_heading(LINES["recognised"]), *told)


def print_plan(plan: Plan) -> None:
    """Print what a record of each size would be able to tell, how to read it, and what was assumed."""
    from lagwise.pages.plan_page import tables
    from lagwise.say.plan import PAGE, question

    parts_told = (
        (PAGE["rhythm"], plan.rhythm),
        (PAGE["reading"], plan.notes),
        (PAGE["assumed"], plan.assumed),
    )
    told = (block for heading, said in parts_told for block in (_heading(heading), bullets(*said)))
    asked = para(f"{capital(question(plan.study))}.")
    print_blocks(_heading(plan.study.title), asked, *tables(plan), *told)


def print_wording(remarks: list[Remark], counted: str) -> bool:
    """Print the remarks on a draft whose lines, or paragraphs, are counted; True when there are none."""
    found = f"{plural(len(remarks), 'remark')}." if remarks else LINES["no_remark"]
    end = para(found, role="lead" if remarks else "body")
    print_blocks(*(block for remark in remarks for block in _remark(remark, counted)), end)
    return not remarks


def _remark(remark: Remark, counted: str) -> tuple[Para, Bullets]:
    said: list[str | Inline] = [remark.sentence, f"{remark.why} {remark.advice}"]
    if remark.rewrite:
        said.append(f"Could be said: {remark.rewrite}")
    where = f": {remark.rule}, {counted} {remark.line}"
    return para(strong(remark.words), where, role="lead"), bullets(*said)


def print_suite(suite: Suite) -> None:
    """Print how each notebook ended, and why where it did not end as it should."""
    blocks: list[Block] = [para(said(suite.ran), role="lead")]
    for ran in suite.ran:
        ended = f" {STATES[ran.outcome.status].lower()}, {took(ran.seconds)}"
        blocks.append(para(strong(ran.source.name), ended, role="lead"))
        why = (ran.outcome.why, *(f"Not shown: {why}" for why in ran.outcome.left_out))
        blocks.append(bullets(*filter(None, why)))
    print_blocks(*blocks)


def pages_said(findings: Findings) -> Iterable[str]:
    """A line for each page made for a single person, with its reading grade."""
    from lagwise.findings.codes import page_name
    from lagwise.say.report.person import grade, page

    codes = [p.person for p in findings.people]
    for code in findings.for_person:
        level = grade(page(findings, code))
        yield LINES["person_page"].format(page=page_name(code, codes), grade=level)


def _heading(text: str) -> Heading:
    return Heading(1, text, "")
