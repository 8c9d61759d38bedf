"""The cells of one worksheet, read in one pass over its XML; what a cell's value means is openpyxl's work."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from xml.etree.ElementTree import Element, iterparse

from lagwise.caseload.workbook_archive import Book
from lagwise.core.errors import CaseloadError
from lagwise.core.numbers import whole

MAX_ROWS = 1_048_576
MOST_TEXT = 200_000_000
"""Characters in all cells of a sheet; a text that many cells share counts for each."""
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_DEEPEST = 50
_MOST_IN_ROW, _MOST_OUTSIDE = 8 * 16_384, 500_000
"""Elements in one row, of as many cells as a worksheet can have, and outside its rows:
both are held in memory."""
_LONGEST_FORMAT = 255
"""Letters of a number format, the most that a spreadsheet allows."""

Range = tuple[int, int, int, int]
"""First row, first column, last row, last column."""
Row = tuple[int, list[tuple[int, Any]]]
"""The number of a row, and of its cells the columns and values."""


@dataclass(frozen=True)
class Cells:
    """The rows that a sheet stores, as they come, and its merged ranges,
    which are known when the rows are through."""

    rows: Iterator[Row]
    merges: list[Range] = field(default_factory=list)


def cells_in(xml: bytes, book: Book, sheet: str) -> Cells:
    """The cells in the XML of a worksheet, as `cells_of` gives those of the book's."""
    merges: list[Range] = []
    return Cells(_told(_rows(book, xml, merges), book, sheet), merges)


def cells_of(book: Book, sheet: str) -> Cells:
    """The cells of the named worksheet.

    While its rows are taken CaseloadError is raised when it is damaged,
    goes on after the last row of a worksheet or holds more text than is read.
    """
    return cells_in(book.sheet(sheet), book, sheet)


def _told(rows: Iterator[Row], book: Book, sheet: str) -> Iterator[Row]:
    """The rows, with whatever goes wrong in them as the project's error."""
    near = letters = 0
    try:
        with warnings.catch_warnings():
            # openpyxl reads a date serial outside the calendar as text, with a warning: set aside later.
            warnings.simplefilter("ignore", UserWarning)
            for near, cells in rows:
                if not 0 < near <= MAX_ROWS:
                    raise CaseloadError("has more rows than a worksheet can hold", where=book.shown)
                letters += sum(len(value) for _, value in cells if isinstance(value, str))
                if letters > MOST_TEXT:
                    raise CaseloadError(
                        f"has more than {whole(MOST_TEXT / 1e6)} million characters in its cells "
                        f"by row {near}",
                        where=book.shown,
                        mend="Keep the columns and rows needed.",
                    )
                yield near, cells
    except CaseloadError:
        raise
    except Exception as error:
        # Whatever is damaged, openpyxl and the parser raise errors of many kinds.
        raise CaseloadError(
            f"the sheet '{sheet}' is damaged near row {near + 1}",
            where=book.shown,
            mend="Open it in a spreadsheet and save it again.",
        ) from error


def _rows(book: Book, xml: bytes, merges: list[Range]) -> Iterator[Row]:
    from openpyxl.utils import range_boundaries
    from openpyxl.worksheet._reader import WorkSheetParser

    dates, spans = book.once("styles", lambda: _date_styles(book.styles()))
    reader = WorkSheetParser(
        None,
        book.once("texts", lambda: _texts(book)),
        data_only=True,
        epoch=book.epoch,
        date_formats=dates,
        timedelta_formats=spans,
    )
    rows_of = Element("")
    deep = within = outside = 0
    in_row = False
    for event, element in iterparse(io.BytesIO(xml), ("start", "end")):
        if event == "start":
            deep += 1
            in_row |= element.tag == f"{_MAIN}row"
            within, outside = (within + 1, outside) if in_row else (0, outside + 1)
            if deep > _DEEPEST or within > _MOST_IN_ROW or outside > _MOST_OUTSIDE:
                raise ValueError("nested or wider than any worksheet")
            if element.tag == f"{_MAIN}sheetData":
                rows_of = element
            continue
        deep -= 1
        if element.tag == f"{_MAIN}row":
            in_row, within = False, 0
            formulas = _made_plain(element)
            number, cells = reader.parse_row(element)
            rows_of.clear()
            yield (
                number,
                [
                    (cell["column"], formulas.get(i) if cell["value"] is None else cell["value"])
                    for i, cell in enumerate(cells)
                ],
            )
        elif element.tag == f"{_MAIN}mergeCell":
            left, top, right, bottom = range_boundaries(element.get("ref", ""))
            if None not in (left, top, right, bottom):
                merges.append((top, left, bottom, right))


def _made_plain(row: Element) -> dict[int, str]:
    """Turn texts that stand in their cell into plain values, in place."""
    formulas = {}
    for i, cell in enumerate(row):
        if cell.get("t") == "inlineStr":
            value = Element(f"{_MAIN}v")
            value.text = _text(cell.find(f"{_MAIN}is"))
            cell[:] = [value]
            cell.set("t", "str")
        else:
            formula = cell.find(f"{_MAIN}f")
            if formula is not None:
                formulas[i] = f"={(formula.text or '')[:1000]}"
    return formulas


def _text(item: Element | None) -> str:
    """A text with all its runs, without the reading aids beside them."""
    if item is None:
        return ""
    text, run = f"{_MAIN}t", f"{_MAIN}r"
    runs = (part if part.tag == text else part.find(text) for part in item if part.tag in (text, run))
    return "".join(part.text or "" for part in runs if part is not None)


def _texts(book: Book) -> list[str]:
    """The texts that cells share."""
    out = []
    xml = book.shared_texts()
    for _, element in iterparse(io.BytesIO(xml), ("end",)) if xml else ():
        if element.tag == f"{_MAIN}si":
            out.append(_text(element))
            element.clear()
    return out


def _date_styles(xml: bytes) -> tuple[set[int], set[int]]:
    """The numbers of the cell formats that show dates, and of those that show spans of time."""
    from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format

    dates: set[int] = set()
    spans: set[int] = set()
    codes: dict[str, str | None] = {str(i): code for i, code in BUILTIN_FORMATS.items()}
    for _, element in iterparse(io.BytesIO(xml), ("end",)) if xml else ():
        if element.tag == f"{_MAIN}numFmt":
            codes[element.get("numFmtId", "")] = element.get("formatCode", "")[:_LONGEST_FORMAT]
        elif element.tag == f"{_MAIN}cellXfs":
            for i, style in enumerate(element.iterfind(f"{_MAIN}xf")):
                code = codes.get(style.get("numFmtId", ""))
                if is_date_format(code):
                    dates.add(i)
                if is_timedelta_format(code):
                    spans.add(i)
    return dates, spans
