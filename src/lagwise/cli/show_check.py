"""What the command line prints of a check."""

from __future__ import annotations

from collections.abc import Iterator

from lagwise.core.numbers import plural
from lagwise.document.terminal import print_blocks
from lagwise.document.tree import Block, Heading, para, strong
from lagwise.pages import check_parts as parts
from lagwise.pages.check_needs import need_blocks
from lagwise.pages.check_page import Checked
from lagwise.say import check_record as words
from lagwise.say.check_first import draft_blocks, first_blocks, lacks
from lagwise.say.check_page import TEXTS


def print_check(of: Checked) -> None:
    """Print whether a report is possible, what needs an edit, what was read, set aside and noticed."""
    print_blocks(*_check(of))


def _check(of: Checked) -> Iterator[Block]:
    caseload, panel = of.reading.caseload, of.panel
    yield Heading(1, of.reading.plan.study.title, "")
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
