"""Excel workbooks -> grid of cells, opened only after a look at what is inside the archive."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import islice
from typing import Any

import numpy as np
import pandas as pd

from lagwise.caseload.grid import (
    MAX_COLUMNS,
    Grid,
    grid_from_cells,
    refuse_hollow,
    refuse_many,
    refuse_no_rows,
)
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark, remark
from lagwise.caseload.workbook_archive import MAX_CELLS, Book, open_book
from lagwise.caseload.workbook_quick import Found, quick_cells
from lagwise.caseload.workbook_sheet import Cells, Range, cells_of
from lagwise.core.claim import coded
from lagwise.core.legal import DAY

_MOST_SPANNED = 4 * MAX_CELLS + 1_000_000
"""Cells up to the last of each row; so many are hollow whatever is in them,
since a sheet holds `MAX_CELLS` at most."""


def read_workbook(place: Place, wanted: Sequence[str], *, merged_repair: bool, search: bool) -> Grid:
    """The grid of one worksheet: the declared one, else the one with the table's name, else the only one.

    Raises CaseloadError when the file is no workbook, has no such sheet, or more in it than is read.
    """
    book = place.book or open_book(place.content, place.shown)
    sheet = chosen_sheet(list(book.sheets), place)
    quick = book.once(f"sheet {sheet}", lambda: quick_cells(book.plain_sheet(sheet), book, sheet))
    if quick is None:
        found = cells_of(book, sheet)
        cells, merges = _one_by_one(found, place), found.merges
    else:
        cells, merges = _together(quick, place), quick.merges
    remarks = _fill_merged(cells, merges, place) if merged_repair and merges else []
    grid = grid_from_cells(cells, place, wanted, search=search)
    return replace(grid, remarks=(*remarks, *grid.remarks), day_0=book.epoch.date())


def _one_by_one(found: Cells, place: Place) -> pd.DataFrame:
    """All cells of a sheet as text."""
    rows = _rows(found, place)
    if not rows:
        refuse_no_rows(place)
    width = max(len(row) for row in rows)
    refuse_hollow(len(rows), width, sum(map(len, rows)), place)
    return _texts(rows, place)


def _texts(rows: Sequence[Sequence[Any]], place: Place) -> pd.DataFrame:
    """Rows of values as columns of text."""
    width = max(map(len, rows), default=0)
    columns = ([_text(row[i], place) if i < len(row) else None for row in rows] for i in range(width))
    return pd.DataFrame({i: pd.Series(column, dtype="str") for i, column in enumerate(columns)})


def _together(found: Found, place: Place, *, empty: bool = False) -> pd.DataFrame:
    """The same of cells of which each different one was read once; none are an error unless `empty`."""
    import pyarrow as pa

    texts = pa.array([_text(value, place) for value in found.values], pa.large_string())
    filled = texts.is_valid().to_numpy(zero_copy_only=False)[found.code]
    row, column, code = (part[filled] for part in (found.row, found.column, found.code))
    if not len(row):
        if empty:
            return pd.DataFrame()
        refuse_no_rows(place)
    count, width = int(row.max()), int(column.max())
    if width > MAX_COLUMNS:
        raise place.error(f"has a cell beyond column {MAX_COLUMNS}")
    refuse_hollow(count, width, len(row), place)
    refuse_many(count, width, place)
    columns = {}
    for i in range(width):
        own = column == i + 1
        at = np.full(count, -1, dtype="int64")
        at[row[own] - 1] = code[own]
        columns[i] = texts.take(pa.array(at, mask=at < 0)).to_pandas().astype("str")
    return pd.DataFrame(columns)


def chosen_sheet(names: Sequence[str], place: Place) -> str:
    """Of a workbook's sheets the one that holds the table; raises CaseloadError when there is none."""
    wanted = place.sheet or place.table
    for name in names:
        if name == wanted or name.strip().lower() == wanted.strip().lower():
            return name
    if len(names) == 1 and not place.sheet:
        return names[0]
    raise place.error(
        coded(f"has no sheet '{wanted}'", "no_sheet", sheets=names[:10]),
        f'Write sheet = "..." under [tables.{place.table}]; its sheets: {", ".join(names[:10])}.',
    )


def _rows(found: Cells, place: Place) -> list[list[Any]]:
    """Cell values by row, rows left out in the file filled in, trailing empty cells and rows left out."""
    out: list[list[Any]] = []
    spanned = 0
    for number, cells in found.rows:
        last = max((column for column, value in cells if value is not None and value != ""), default=0)
        if last > MAX_COLUMNS:
            raise place.error(f"has a cell beyond column {MAX_COLUMNS}")
        spanned += last
        if spanned > _MOST_SPANNED:
            refuse_hollow(number, max(map(len, out)), spanned // 10, place)
        if not last:
            continue
        out.extend([] for _ in range(number - len(out)))
        row = out[number - 1]
        row.extend([None] * (last - len(row)))
        for column, value in cells:
            if column <= last:
                row[column - 1] = value
    return out


def _fill_merged(cells: pd.DataFrame, merges: Sequence[Range], place: Place) -> list[Remark]:
    """Copy the text of a merged range down its first column, in place, into rows where anything stands."""
    filled: list[tuple[int, str]] = []
    reached: dict[int, int] = {}
    some = cells.notna().any(axis=1).to_numpy()
    for top, left, bottom, _ in sorted(merges):
        first, reached[left] = max(top, reached.get(left, 0)) + 1, max(bottom, reached.get(left, 0))
        if bottom == top or top > len(cells) or left > cells.shape[1]:
            continue
        column = cells[left - 1]
        value = column.iloc[top - 1]
        if pd.isna(value):
            continue
        empty = column.iloc[first - 1 : bottom].isna().to_numpy()
        span = (first - 1 + np.flatnonzero(empty & some[first - 1 : bottom])).tolist()
        column.iloc[span] = value
        cells[left - 1] = column
        filled += [(at + 1, str(value)) for at in span]
    where = "; ".join(f"row {number}: '{value[:40]}'" for number, value in filled[:5])
    return [remark("repair_merged_cells", place.table, "", len(filled), where)] if filled else []


def _text(value: Any, place: Place) -> str | None:
    """A typed cell as its owner would write it in text: declared decimal sign and date format."""
    pattern = place.source.date_format
    pattern = "%Y-%m-%d" if pattern in ("", DAY) else pattern
    match value:
        case None:
            return None
        case str():
            return value if value and not value.isspace() else None
        case bool():
            return "yes" if value else "no"
        case float() if math.isfinite(value):
            text = str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
            return text.replace(".", place.source.decimal)
        case datetime():
            # A spreadsheet stores 07:30 as a fraction of a day, which may fall just short of it.
            value = value + timedelta(microseconds=500_000) if value.year < 9999 else value
            clock = value.time().replace(microsecond=0)
            plain = pattern == "%Y-%m-%d" or value.year < 1000
            day = value.date().isoformat() if plain else value.strftime(pattern)
            return day if clock == time(0) else f"{day} {clock.isoformat()}"
        case date():
            return value.strftime(pattern)
        case time():
            return value.replace(microsecond=0).isoformat()
        case timedelta():
            minutes = int(value.total_seconds() // 60)
            return f"{minutes // 60:02d}:{minutes % 60:02d}"
    return str(value)


def sheet_texts(book: Book, sheet: str, place: Place, most: int) -> list[list[str | None]]:
    """The first `most` rows of a worksheet as texts, nothing taken for a header, merged cells filled."""
    quick = quick_cells(book.plain_sheet(sheet), book, sheet)
    if quick is None:
        found = cells_of(book, sheet)
        texts, merges = (
            _texts(_rows(replace(found, rows=islice(found.rows, most)), place), place),
            found.merges,
        )
    else:
        texts, merges = _together(quick.first(most), place, empty=True), quick.merges
    _fill_merged(texts, merges, place)
    held = texts.astype(object).where(texts.notna(), None).to_numpy().tolist()
    return [_trimmed(row) for row in held]


def _trimmed(row: list[str | None]) -> list[str | None]:
    """A row without the empty cells at its end."""
    return row[: max((i for i, cell in enumerate(row, 1) if cell is not None), default=0)]
