"""Tables as CSV text that a spreadsheet opens without running anything."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from typing import Any, TextIO

import numpy as np
import pandas as pd

from lagwise.core.spreadsheet import starts_formula
from lagwise.findings import EffectRow, Findings, Table
from lagwise.findings.facts import ChallengeFacts
from lagwise.findings.plain import scalar

_SIGNED = re.compile(r"[+-][0-9]+(\.[0-9]+)?( ?%)?")  # '+50 %' is a number to a spreadsheet and runs nothing
ROWS = 20_000
"""Rows of a frame written at a time, so that no more than these are held as cells."""


def cell(value: Any) -> Any:
    """A value for a CSV cell; text that a spreadsheet would take for a formula gets a leading apostrophe.

    Signed numbers and percentages stay as they are; missing is an empty cell.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{value}" if starts_formula(value) and not _SIGNED.fullmatch(value) else value
    return value


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """CSV with a header; lines end in a newline, floats keep all their digits."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([cell(c) for c in columns])
    writer.writerows([cell(v) for v in row] for row in rows)
    return out.getvalue()


def table_csv(table: Table) -> str:
    """A findings table as CSV."""
    return csv_text(table.columns, table.rows)


def frame_csv(frame: pd.DataFrame) -> str:
    """A frame as CSV, without its index."""
    out = io.StringIO()
    write_csv(frame, out)
    return out.getvalue()


def write_csv(frame: pd.DataFrame, out: TextIO) -> None:
    """Write a frame as `frame_csv` to an open file."""
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([cell(str(c)) for c in frame.columns])
    for at in range(0, len(frame), ROWS):
        part = frame.iloc[at : at + ROWS]
        writer.writerows(zip(*(_cells(part.iloc[:, i]) for i in range(part.shape[1])), strict=True))


def _cells(column: pd.Series) -> list[Any]:
    """The cells of a column; numbers of one kind are not looked at one by one, nor is a value twice."""
    if isinstance(column.dtype, np.dtype) and column.dtype.kind == "f":
        known = np.isfinite(column.to_numpy())
        return [value if there else "" for value, there in zip(column.tolist(), known.tolist(), strict=True)]
    if isinstance(column.dtype, np.dtype) and column.dtype.kind in "iu":
        return column.tolist()
    if column.dtype == object:
        return [cell(scalar(v)) for v in column.tolist()]
    code, values = pd.factorize(column)
    cells = [*(cell(scalar(v)) for v in values.tolist()), ""]
    return [cells[i] for i in code.tolist()]


def tables_csv(findings: Findings) -> dict[str, str]:
    """The tables that lie beside a report, by file name: effects and challenges, and where there are any the
    attempts to break what followed events (each after its kind of event and outcome), each person's record in
    one row, and stretches.
    """
    columns, people, stretches = (
        list(EffectRow.model_fields),
        *map(findings.tables.get, ("people", "stretches")),
    )
    tried = [(one.kind, one.outcome, *_of(c)) for one in findings.followed for c in one.attempts]
    out = {
        "effects.csv": csv_text(columns, ([getattr(r, c) for c in columns] for r in findings.effects)),
        "challenges.csv": csv_text(TRIED, map(_of, findings.challenges)),
        "attempts.csv": csv_text(("kind", "outcome", *TRIED), tried) if tried else "",
        "each-person.csv": "" if people is None else table_csv(people),
        "stretches.csv": "" if stretches is None else table_csv(stretches),
    }
    return {name: text for name, text in out.items() if text}


TRIED = ("name", "title", "question", "verdict", "sentence", "limits", "seconds", "problem")
"""What is told of a challenge."""


def _of(challenge: ChallengeFacts) -> list[Any]:
    return [getattr(challenge, name) for name in TRIED]
