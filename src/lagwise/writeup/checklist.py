"""The reporting checklist: each item filled (and where), left to the author, or not applicable (and why)."""

from __future__ import annotations

from dataclasses import dataclass

from lagwise.writeup.checklist_items import ITEMS, Status
from lagwise.writeup.findings import Findings


@dataclass(frozen=True)
class Answer:
    """An item as met by these findings: `where` names the section, what the author is to write, or why it
    does not apply.
    """

    source: str
    number: str
    asks: str
    status: Status
    where: str


def checklist(findings: Findings) -> tuple[Answer, ...]:
    """Every item with its answer."""
    return tuple(Answer(i.source, i.number, i.asks, *i.decide(findings)) for i in ITEMS)


def counts(findings: Findings) -> dict[Status, int]:
    """How many items are filled, left to the author or not applicable."""
    statuses = [a.status for a in checklist(findings)]
    names: tuple[Status, ...] = ("filled", "author", "not_applicable")
    return {name: statuses.count(name) for name in names}
