"""Which row of a sheet holds the names of its columns."""

from __future__ import annotations

import re
from collections.abc import Sequence

from lagwise.caseload.grid import SEARCHED_ROWS
from lagwise.caseload.suggest import meanings
from lagwise.drafts.wide import WEEKDAYS

Row = Sequence[str | None]
_LONGEST = 200
_NUMBER = re.compile(r"[<>~]?[-+]?\d+(?:[.,]\d+)?%?")
_DATE = re.compile(r"\d{1,4}[-./]\d{1,2}[-./]\d{1,4}.*|\d{4}-?W\d\d")


def header_row(rows: Sequence[Row]) -> int | None:
    """The position of the header among the first rows; None where no row looks like one.

    A header holds words, most of them different; it is as wide as what is below it, and what is below it is
    of another kind.
    """
    width = max((_filled(row) for row in rows), default=0)
    scored = [(_score(row, rows[at + 1 : at + 8], width), -at) for at, row in enumerate(rows[:SEARCHED_ROWS])]
    best, at = max(scored, default=(0.0, 0))
    return -at if best > 0 else None


def _score(row: Row, below: Sequence[Row], width: int) -> float:
    cells = [cell.strip() for cell in row if cell and cell.strip()]
    if len(cells) < min(2, width) or not below or not any(map(_filled, below)):
        return 0.0
    dates = sum(bool(_DATE.fullmatch(cell)) for cell in cells)
    labels = [c for c in cells if not _NUMBER.fullmatch(c) and not _DATE.fullmatch(c) and len(c) <= _LONGEST]
    share = (len(labels) + (dates if dates >= 3 and dates < len(cells) else 0)) / len(cells)
    if share < 0.7 or len(set(cells)) < 0.5 * len(cells):
        return 0.0
    meant = sum(bool(meanings(label)) or label.lower() in WEEKDAYS for label in labels)
    kinds = [_kinds(one) for one in below if _filled(one)]
    alike = sum(kind == _kinds(row) for kind in kinds) / len(kinds)
    return 2 * min(meant, 8) / 4 + share + 2 * len(cells) / width - 1.5 * alike


def _filled(row: Row) -> int:
    return sum(bool(cell and cell.strip()) for cell in row)


def _kinds(row: Row) -> tuple[str, ...]:
    """Of every cell whether it is empty, a number, a date or a word."""
    return tuple(
        "" if not cell else "n" if _NUMBER.fullmatch(cell) else "d" if _DATE.fullmatch(cell) else "w"
        for cell in row
    )
