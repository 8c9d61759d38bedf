"""What the command line prints of what was made, as blocks for the terminal; each loads its own words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from lagwise.core.numbers import plural
from lagwise.core.words import capital
from lagwise.document.terminal import print_blocks
from lagwise.document.tree import Block, Bullets, Heading, Inline, Para, bullets, para, strong
from lagwise.say.commands import CAUTION, LINES

if TYPE_CHECKING:
    from lagwise.caseload.risk import Risk
    from lagwise.findings import Findings
    from lagwise.pages.since import Compared
    from lagwise.say.plan import Plan
    from lagwise.suite import Suite
    from lagwise.writeup.checker import Remark


def print_answer(findings: Findings) -> None:
    """Print the title and the opening paragraphs of a case series, and what it is not for."""
    from lagwise.say.report.summary import summary  # which loads every challenge

    opening = (replace(paragraph, role="lead") for paragraph in summary(findings))
    print_blocks(_heading(findings.study.title), *opening, para(CAUTION, role="lead"))


def print_since(found: Compared) -> None:
    """Print what came in, how the main estimate and the challenges moved, and what weakens the comparison."""
    print_blocks(_heading(found.title), *found.opening)


def print_risk(risk: Risk) -> None:
    """Print what tells most of a person in a de-identified caseload, and what lowers it."""
    from lagwise.say.check.risk_page import lessened, sentences

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
    from lagwise.say.notebooks import STATES
    from lagwise.suite.index import said, took

    blocks: list[Block] = [para(said(suite.ran), role="lead")]
    for ran in suite.ran:
        ended = f" {STATES[ran.outcome.status].lower()}, {took(ran.seconds)}"
        blocks.append(para(strong(ran.source.name), ended, role="lead"))
        why = (ran.outcome.why, *(f"Not shown: {why}" for why in ran.outcome.left_out))
        blocks.append(bullets(*filter(None, why)))
    print_blocks(*blocks, para(CAUTION, role="lead"))


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
