"""A table as it lies in its file: every cell as text or typed column, headers as written,
rows as people count them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NoReturn

import numpy as np
import pandas as pd

from lagwise.caseload.check_edits import Edit
from lagwise.caseload.kinds import refuse_two_headers
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark, remark
from lagwise.core.claim import said
from lagwise.core.errors import CaseloadError
from lagwise.core.numbers import whole

SEARCHED_ROWS = 20
MOST_ROWS = 3_000_000
MOST_CELLS = 40_000_000
MAX_COLUMNS = 2000
EXCEL_DAY_0 = date(1899, 12, 30)
"""The day that a spreadsheet's serial day numbers count from; workbooks of the 1904 system have another."""


@dataclass(frozen=True)
class Grid:
    """Rows below the header. `frame` has one column per header (text, or typed when the file stores types);
    `rows` the row numbers as seen in the file; `ragged` the positions of rows with more cells than headers;
    `day_0` the day that serial day numbers count from; `twice` the headers that are there again,
    with both column numbers."""

    frame: pd.DataFrame
    rows: np.ndarray
    remarks: tuple[Remark, ...] = ()
    ragged: Mapping[int, str] = field(default_factory=dict)
    day_0: date = EXCEL_DAY_0
    twice: Mapping[str, tuple[int, int]] = field(default_factory=dict)


def grid_from_cells(
    cells: pd.DataFrame,
    place: Place,
    wanted: Sequence[str],
    *,
    search: bool,
    ragged: Mapping[int, str] | None = None,
) -> Grid:
    """A grid from all cells of a sheet or text file, header and blank rows included.

    `cells` has one row per row of the file in order, columns 0..k-1, missing where empty. `wanted` are the
    headers, lower-cased, that the header row must hold; with `search` it is looked for in the first 20 rows
    when the declared row does not hold them. `ragged` maps row positions of `cells` to what stood
    beyond the last column.
    """
    at, remarks = _header_at(cells, place, wanted, search)
    headers, twice = once(_headers(cells.iloc[at], place))
    if wanted and _holds(cells.iloc[at], wanted):
        refuse_two_headers(cells, at, headers, place)
    body = cells.iloc[at + 1 :, : len(headers)]
    filled = body.notna().any(axis=1).to_numpy().copy()
    extra = {at_row - at - 1: text for at_row, text in (ragged or {}).items() if at_row > at}
    filled[list(extra)] = True
    loose = cells.iloc[at + 1 :, len(headers) :]
    if loose.shape[1]:
        over = loose.notna().any(axis=1).to_numpy()
        extra |= {int(i): str(loose.iloc[i].dropna().iloc[0]) for i in np.flatnonzero(over)}
        filled |= over
    keep = np.flatnonzero(filled)
    where = {old: new for new, old in enumerate(keep.tolist())}
    named = [(i, name) for i, name in enumerate(headers) if name]
    frame = body.iloc[keep, [i for i, _ in named]].reset_index(drop=True)
    frame.columns = pd.Index([name for _, name in named])
    nameless = [i for i, name in enumerate(headers)
                if not name and i < body.shape[1] and body.iloc[keep, i].notna().any()]  # fmt: skip
    if nameless:
        at_column = f"column {nameless[0] + 1}"
        remarks.append(remark("ignored_column", place.table, at_column, len(nameless), of="nameless_column"))
    beyond = {where[i]: text for i, text in extra.items()}
    return Grid(frame, keep + at + 2, tuple(remarks), beyond, twice=twice)


def refuse_hollow(rows: int, width: int, stored: int, place: Place) -> None:
    """Raise when filling every row up to the widest would make far more cells than the file stores."""
    if rows * width > min(MOST_CELLS, 4 * stored + 1_000_000):
        raise place.error(
            f"has {whole(rows)} rows and one of {whole(width)} columns, nearly all of them empty",
            "Delete the cells beyond the table.",
        )


def refuse_many(rows: int, width: int, place: Place) -> None:
    """Raise when a table has more rows or cells than are read."""
    for found, most, what in ((rows, MOST_ROWS, "rows"), (rows * width, MOST_CELLS, "cells")):
        if found > most:
            raise place.error(
                f"has {whole(found)} {what}; at most {whole(most)} are read",
                "Keep the columns, people or years needed.",
            )


def refuse_no_rows(place: Place) -> NoReturn:
    """Raise for a file without any cell."""
    raise place.error("is empty", "Export it again, or take it out of the folder.")


def refuse_wide(place: Place) -> NoReturn:
    """Raise for a table with more columns than a form of this kind can have."""
    raise place.error(f"has more than {MAX_COLUMNS} columns", "Keep the columns needed.")


def missing_column(place: Place, column: str, theirs: str, headers: Iterable[object]) -> CaseloadError:
    """The error of a required or declared column that is not in the header,
    with the nearest header there is."""
    there = [str(h) for h in headers if str(h)]
    alike = {h.lower(): h for h in there}
    near = difflib.get_close_matches(theirs.lower(), alike, n=1, cutoff=0.5)
    absent = {"column": column, "theirs": theirs, "headers": there[:12]}
    mend = said("mend.no_column", **absent, table=place.table, nearest=alike[near[0]] if near else "")
    return place.error(said("what.no_column", **absent), mend)


def _header_at(
    cells: pd.DataFrame, place: Place, wanted: Sequence[str], search: bool
) -> tuple[int, list[Remark]]:
    declared = place.source.header_row - 1
    if cells.empty or not cells.notna().to_numpy().any():
        refuse_no_rows(place)
    if declared >= len(cells):
        raise place.error(
            f"header_row = {declared + 1} lies below the last row ({len(cells)})",
            f"Correct header_row under [tables.{place.table}].",
        )
    if _holds(cells.iloc[declared], wanted) or not search or declared:
        return declared, []
    for at in range(1, min(SEARCHED_ROWS, len(cells))):
        if _holds(cells.iloc[at], wanted):
            edits = (Edit(("tables", place.table), {"header_row": at + 1}),)
            where = f"row {at + 1}: '{', '.join(str(c) for c in cells.iloc[at].dropna().head(5))}'"
            return at, [remark("repair_title_rows", place.table, "", at, where, edits=edits)]
    return declared, []


def _holds(row: pd.Series, wanted: Sequence[str]) -> bool:
    return set(wanted) <= {str(cell).strip().lower() for cell in row.dropna()}


def _headers(row: pd.Series, place: Place) -> list[str]:
    headers = ["" if pd.isna(cell) else " ".join(str(cell).split()) for cell in row]
    while headers and not headers[-1]:
        headers.pop()
    if not headers:
        raise place.error(
            f"row {place.source.header_row} should hold the column names and is empty",
            f"Write header_row = ... under [tables.{place.table}].",
        )
    if len(headers) > MAX_COLUMNS:
        refuse_wide(place)
    return headers


def once(headers: list[str]) -> tuple[list[str], dict[str, tuple[int, int]]]:
    """Headers with the number of the column behind those that are there again,
    and the columns of each such name."""
    seen: dict[str, int] = {}
    twice: dict[str, tuple[int, int]] = {}
    out = []
    for at, name in enumerate(headers, start=1):
        unique = name
        if name in seen:
            twice.setdefault(name, (seen[name], at))
            unique = f"{name} (column {at})"
            while unique in seen:
                unique += "'"
        if name:
            seen[unique] = at
        out.append(unique)
    return out, twice


def refuse_twice(place: Place, used: Iterable[str], twice: Mapping[str, tuple[int, int]]) -> None:
    """Raise when a header that is used is there twice: which column is meant is not guessed."""
    for name in used:
        if name in twice:
            first, second = twice[name]
            raise place.error(
                f"columns {first} and {second} are both named '{name[:60]}'",
                "Give one of them another name; nothing need be deleted.",
            )


def folded(header: str) -> str:
    """A header in lower case, with one underscore for spaces, hyphens and points."""
    return re.sub(r"[\s\-_.]+", "_", header.strip().lower()).strip("_")
