"""What changed for one person and their ratings around it, on their own page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from lagwise.core.numbers import UNKNOWN, fixed, interval, known, plural
from lagwise.core.words import listed
from lagwise.document.tree import Block, Heading, grid, para
from lagwise.events.phased import changes
from lagwise.findings import PersonSeries
from lagwise.say.changes.kinds import heading
from lagwise.say.changes.stretches import records
from lagwise.say.report.course import events_of, numbered
from lagwise.say.report.words import Words

HEAD = ("change", "before", "after", "the difference fits with")


def changed(one: PersonSeries, words: Words) -> list[Block]:
    """Every change inside the record in a table, what the table is, and what it is not; nothing of a record
    in which nothing changed."""
    found = [(at, row) for at, row in enumerate(records(numbers_of(one)), 1) if row["reason"] != "outside"]
    if not found:
        return []
    step, steps = words.step, words.steps
    told = [
        "Dashed lines in the picture show where something changed, and flat lines your average in each part. "
    ]
    if any(row["reason"] == "compared" for _, row in found):
        told.append(
            f"The table sets your average before a change beside that after it, with the number of rated "
            f"{steps}. The last column says what your log fits with, since one {step} tends to be like the "
            "next. "
        )
    told.append("Changes often come in a bad stretch, and ratings ease after one anyway. ")
    told.append("This is one person: nothing here says what the change did.")
    rows = [_row(at, row, words) for at, row in found]
    what = f"Your {words.asked} before and after each change, in {words.unit}"
    return [Heading(2, "What changed", "changes"), para(*told), grid("each-change", what, HEAD, rows)]


def numbers_of(one: PersonSeries) -> pd.DataFrame:
    """Everything that is known of a person's changes, as in `lagwise.events.phased.changes`."""
    return changes(one.pain, events_of(one))


def key(one: PersonSeries, words: Words) -> str:
    """What the numbers at the lines of the picture stand for; empty where nothing changed."""
    told = [
        f"({at}) {listed([f'{heading(e.kind)} ({words.step} {e.start + 1})' for e in cut.events])}"
        for at, cut in numbered(one)
    ]
    return f" What changed: {'; '.join(told)}." if told else ""


def _row(at: int, row: Mapping[str, Any], words: Words) -> tuple[str, ...]:
    """One change; of one that is not compared, why."""
    what = f"({at}) {', '.join(heading(k) for k in row['kind'].split(' + '))}"
    sides = [
        f"{fixed(row[f'mean_{k}'], words.outcome.places - 1)} ({plural(int(row[f'n_{k}']), words.step)})"
        if known(row[f"mean_{k}"]) is not None
        else UNKNOWN
        for k in ("before", "after")
    ]
    if row["reason"] == "compared":
        return (what, *sides, interval(row["low"], row["high"]))
    few = f"too few rated {words.steps} around it"
    return (what, *sides, few if row["reason"] == "few" else "ratings all the same")
