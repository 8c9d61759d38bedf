"""Excel workbooks -> grid of cells, opened only after a look at what is inside the archive."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pandas as pd

from lagwise.caseload.grid import MAX_COLUMNS, Grid, grid_from_cells, no_rows, refuse_hollow
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark
from lagwise.core.errors import CaseloadError

MAX_UNPACKED = 400_000_000
MAX_RATIO = 250
MAX_ROWS = 1_048_576
_SMALL = 20_000_000


def sheet_names(path: Path, shown: str) -> list[str]:
    """Names of the worksheets; raises CaseloadError when the file is no safe workbook."""
    book = _opened(path, shown, values=True)
    try:
        return list(book.sheetnames)
    finally:
        book.close()


def read_workbook(place: Place, wanted: Sequence[str], *, merged_repair: bool, search: bool) -> Grid:
    """The grid of one worksheet: the declared one, else the one with the table's name, else the only one."""
    book = _opened(place.path, place.shown, values=True)
    try:
        name = chosen_sheet(book.sheetnames, place)
        sheet = book[name]
        formulas, merges = _marks(place, str(getattr(sheet, "_worksheet_path", "")))
        rows = _rows(sheet, place)
        day_0 = book.epoch.date()
    finally:
        book.close()
    if formulas:
        _show_formulas(rows, place, name)
    remarks = _fill_merged(rows, merges, place) if merged_repair and merges else []
    if not rows:
        raise no_rows(place)
    width = max(len(row) for row in rows)
    refuse_hollow(len(rows), width, sum(map(len, rows)), place)
    cells = pd.DataFrame(
        {
            i: pd.Series([_text(row[i], place) if i < len(row) else None for row in rows], dtype="str")
            for i in range(width)
        }
    )
    grid = grid_from_cells(cells, place, wanted, search=search)
    return replace(grid, remarks=(*remarks, *grid.remarks), day_0=day_0)


def _checked(path: Path, shown: str) -> None:
    """Raise unless the file is a ZIP archive of bearable unpacked size without document type declarations."""
    bad = CaseloadError("is no readable Excel workbook (.xlsx)", where=shown, mend="Save it again as .xlsx or CSV.")
    try:
        with zipfile.ZipFile(path) as archive:
            infos = archive.infolist()
            unpacked = sum(info.file_size for info in infos)
            packed = max(sum(info.compress_size for info in infos), 1)
            huge = unpacked > MAX_UNPACKED or (unpacked > _SMALL and unpacked / packed > MAX_RATIO)
            if huge or len(infos) > 2000:
                raise CaseloadError(
                    f"would unpack to {unpacked / 1e6:,.0f} MB, which no table of this kind needs",
                    where=shown,
                    mend="Save the table as CSV instead.",
                )
            for info in infos:
                if info.filename.endswith((".xml", ".rels")):
                    with archive.open(info) as part:
                        head = part.read(2000)
                    if b"<!DOCTYPE" in head or b"<!ENTITY" in head:
                        raise bad
    except CaseloadError:
        raise
    except Exception as error:
        raise bad from error


def _opened(path: Path, shown: str, *, values: bool) -> Any:
    import openpyxl

    _checked(path, shown)
    try:
        # From memory, because openpyxl leaves a file open when it gives up on a damaged one.
        with warnings.catch_warnings():
            # openpyxl warns about styles and extensions that it leaves out; no cell value depends on them.
            warnings.simplefilter("ignore", UserWarning)
            return openpyxl.load_workbook(
                io.BytesIO(path.read_bytes()), read_only=True, data_only=values, keep_links=False
            )
    except Exception as error:
        # openpyxl lets any exception through on a damaged archive (KeyError, ValueError, ParseError, ...).
        raise CaseloadError(
            "is no readable Excel workbook (.xlsx)", where=shown, mend="Save it again as .xlsx or CSV."
        ) from error


def chosen_sheet(names: Sequence[str], place: Place) -> str:
    """Of a workbook's sheets the one that holds the table; raises CaseloadError when there is none."""
    wanted = place.sheet or place.table
    for name in names:
        if name == wanted or name.strip().lower() == wanted.strip().lower():
            return name
    if len(names) == 1 and not place.sheet:
        return names[0]
    raise CaseloadError(
        f"has no sheet '{wanted}'",
        where=place.shown,
        mend=f'Write sheet = "..." under [tables.{place.table}]; its sheets: {", ".join(names[:10])}.',
    )


def _rows(sheet: Any, place: Place) -> list[list[Any]]:
    """Cell values of the sheet, trailing empty cells and rows left out.

    Rows and columns far away are refused before they are filled up with empty cells.
    """
    out: list[list[Any]] = []
    try:
        sheet.reset_dimensions()
        with warnings.catch_warnings():
            # A date serial outside Excel's calendar is read as text by openpyxl with a warning; it is quarantined later.
            warnings.simplefilter("ignore", UserWarning)
            for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
                if number > MAX_ROWS:
                    raise CaseloadError("has more rows than a worksheet can hold", where=place.shown)
                if len(row) > MAX_COLUMNS:
                    raise CaseloadError(f"has a cell beyond column {MAX_COLUMNS}", where=place.shown)
                cells = list(row)
                while cells and (cells[-1] is None or cells[-1] == ""):
                    cells.pop()
                out.append(cells)
    except CaseloadError:
        raise
    except Exception as error:
        raise CaseloadError(
            f"the sheet '{sheet.title}' is damaged near row {len(out) + 1}",
            where=place.shown,
            mend="Open it in a spreadsheet and save it again.",
        ) from error
    while out and not out[-1]:
        out.pop()
    return out


def _marks(place: Place, part: str) -> tuple[bool, list[tuple[int, int, int, int]]]:
    """Whether the sheet holds formulas, and its merged ranges as (first row, first column, last row, last column).

    Raises CaseloadError when a cell claims a column that no worksheet has, which openpyxl would try to fill up to.
    """
    from openpyxl.utils import range_boundaries

    merges = []
    try:
        with zipfile.ZipFile(place.path) as archive:
            xml = archive.read(part.lstrip("/"))
    except Exception as error:
        # A damaged archive can fail in zipfile, zlib or lzma, each with errors of its own.
        raise CaseloadError(
            "the sheet is damaged", where=place.shown, mend="Open it in a spreadsheet and save it again."
        ) from error
    if re.search(rb"""\sr\s*=\s*["'][A-Za-z$]{4,}""", xml):
        raise CaseloadError(f"has a cell beyond column {MAX_COLUMNS}", where=place.shown)
    for found in re.findall(rb'<(?:\w+:)?mergeCell\s[^>]*?ref="([A-Z0-9:]{1,30})"', xml)[:20_000]:
        try:
            left, top, right, bottom = range_boundaries(found.decode())
        except (ValueError, TypeError):
            continue
        if None not in (left, top, right, bottom):
            merges.append((top, left, bottom, right))
    return bool(re.search(rb"<(?:\w+:)?f[\s>/]", xml)), merges


def _show_formulas(rows: list[list[Any]], place: Place, name: str) -> None:
    """Where a formula has no stored value, put the formula itself, so that the cell is named and not lost."""
    book = _opened(place.path, place.shown, values=False)
    try:
        written = _rows(book[name], place)
    finally:
        book.close()
    for number, cells in enumerate(written):
        while len(rows) <= number:
            rows.append([])
        for column, value in enumerate(cells):
            formula = value if isinstance(value, str) else getattr(value, "text", None)
            if isinstance(formula, str) and formula.startswith("="):
                row = rows[number]
                row.extend([None] * (column + 1 - len(row)))
                if row[column] is None:
                    row[column] = formula


def _fill_merged(rows: list[list[Any]], merges: list[tuple[int, int, int, int]], place: Place) -> list[Remark]:
    """Copy the value of a merged range down its first column, in place; only rows that hold something else."""
    filled = []
    for top, left, bottom, _ in merges:
        if bottom == top or top > len(rows) or left > len(rows[top - 1]):
            continue
        value = rows[top - 1][left - 1]
        for number in range(top + 1, min(bottom, len(rows)) + 1):
            row = rows[number - 1]
            if value is not None and row:
                row.extend([None] * (left - len(row)))
                if row[left - 1] is None:
                    row[left - 1] = value
                    filled.append((number, value))
    if not filled:
        return []
    examples = "; ".join(f"row {number}: '{str(value)[:40]}'" for number, value in filled[:5])
    return [
        Remark(
            "repair_merged_cells", place.table, "", len(filled), examples,
            "A merged cell was taken to speak for every row it spans", "Unmerge the cells and fill in each row.",
        )
    ]  # fmt: skip


def _to_second(value: datetime) -> datetime:
    """To the nearest second; a spreadsheet stores 07:30 as a fraction of a day, which may fall just short of it."""
    return value + timedelta(microseconds=500_000) if value.year < 9999 else value


def _text(value: Any, place: Place) -> str | None:
    """A typed cell as its owner would write it in text: declared decimal sign and date format."""
    if value is None:
        return None
    if isinstance(value, str):
        return value if value and not value.isspace() else None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if value != value or abs(value) == float("inf"):
            return str(value)
        text = str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
        return text.replace(".", place.source.decimal)
    if isinstance(value, datetime):
        pattern = place.source.date_format or "%Y-%m-%d"
        value = _to_second(value)
        clock = value.time().replace(microsecond=0)
        day = value.strftime(pattern) if value.year >= 1000 else value.date().isoformat()
        return day if clock == time(0) else f"{day} {clock.isoformat()}"
    if isinstance(value, date):
        return value.strftime(place.source.date_format or "%Y-%m-%d")
    if isinstance(value, time):
        return value.replace(microsecond=0).isoformat()
    if isinstance(value, timedelta):
        minutes = int(value.total_seconds() // 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}"
    return str(value)
