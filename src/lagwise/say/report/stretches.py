"""Stretches of the calendar that the plan names: each person against themselves."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from lagwise.core.words import capital
from lagwise.document.tree import Block, Heading, grids, para
from lagwise.findings import Findings, PictureFacts, rows_of
from lagwise.say.changes.stretches import NOTE, rows, said_of
from lagwise.say.report.words import Words


def stretched(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """What is said of stretches next to each other, and a table: every two of what is asked about, those next
    to each other of what else was recorded. Nothing without any."""
    found = rows_of(findings, "stretches")
    if not found:
        return ()
    ends = findings.study.plan["blocks"]
    order = sorted(ends, key=lambda name: tuple(ends[name]))
    next_to = dict(pairwise(order))
    near = [r for r in found if next_to.get(r["earlier"]) == r["later"]]
    asked = words.outcome.name
    told = said_of([r for r in near if r["variable"] == asked], words)
    shown = [r for r in found if r["variable"] == asked or r in near]
    (_, *named), cells, pairs = rows(shown, words, words.measure)
    head = ("Variable", *map(capital, named))
    return (
        Heading(3, "Stretches of the calendar", "stretches"),
        *([para(" ".join(told))] if told else []),
        *grids(
            "stretches",
            "Each person against themselves, the later stretch minus the earlier",
            head,
            cells,
            numeric=range(1, len(head)),
            note=words.fill(NOTE),
            groups=pairs,
        ),
    )
