"""Text tables (CSV and its kin): bytes -> decoded text -> grid of cells."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import pandas as pd
import pyarrow as pa
import pyarrow.csv

from lagwise.caseload.check_edits import Edit
from lagwise.caseload.grid import (
    MAX_COLUMNS,
    Grid,
    grid_from_cells,
    refuse_hollow,
    refuse_many,
    refuse_no_rows,
    refuse_wide,
)
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark, remark
from lagwise.core.claim import said
from lagwise.core.numbers import whole

_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_ORDERED = ("utf-32-le", "utf-32-be", "utf-16-le", "utf-16-be")
QUICK_FROM = 200_000
"""Bytes from which a plain table is read at once and not row by row."""
_BLOCK = 50_000
"""Rows that are held as Python texts at a time."""
_MOST_SEPARATORS = 1_000_000
_LINE_END = re.compile(r"\r\n|\r|\n")
"""What ends a row in a spreadsheet and for `csv`; form feeds and line separators stand inside cells."""
_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}


def read_text(place: Place, wanted: Sequence[str], *, encoding_repair: bool, search: bool) -> Grid:
    """The grid of a text table.

    Raises CaseloadError when the file is empty, is in another encoding than declared (or not UTF-8 with the
    repair off), holds binary content, opens a quotation mark that is never closed,
    or has more rows or cells than are read.
    """
    data = place.content
    if not data or data.isspace():
        refuse_no_rows(place)
    coded, remarks = _coded(data, place, encoding_repair)
    sep = place.source.sep
    if not sep:
        sep = _separator(coded.head())
        if sep != ",":
            named = _SEPARATORS[sep]
            numbers = {"file": place.shown, "separator": named, "sep": "tab" if sep == "\t" else sep}
            remarks.append(remark("separator_detected", place.table, "", 1, f"'{named}'", **numbers))
    cells, ragged = _cells(coded, sep, place)
    grid = grid_from_cells(cells, place, wanted, search=search, ragged=ragged)
    return replace(grid, remarks=(*remarks, *grid.remarks))


@dataclass(frozen=True)
class Coded:
    """The bytes of a text, the name of their encoding, and what is done with bytes that it does not have."""

    data: bytes
    encoding: str
    errors: str = "strict"

    def lines(self) -> io.TextIOWrapper:
        """The text line by line, with the line ends as they are."""
        return io.TextIOWrapper(io.BytesIO(self.data), self.encoding, self.errors, newline="")

    def head(self) -> str:
        """The beginning of the text."""
        with self.lines() as text:
            return text.read(200_000)


def _coded(data: bytes, place: Place, repair: bool) -> tuple[Coded, list[Remark]]:
    marked = next((name for bom, name in _BOMS if data.startswith(bom)), "")
    declared = codecs.lookup(place.source.encoding).name if place.source.encoding else ""
    if not declared or (marked and declared.startswith(marked.removesuffix("-sig"))):
        # The mark says the same and the order of bytes besides; it is no part of the first header.
        declared = marked
    if declared in ("utf-16", "utf-32") and not marked:
        fits = (name for name in _ORDERED if name.startswith(declared) and _reads(data, name))
        declared = next(fits, f"{declared}-le")
    found, remarks = Coded(data, declared or "utf-8"), []
    try:
        text = data.decode(found.encoding)
    except UnicodeError as error:
        row = _line_of(data[: getattr(error, "start", 0)])
        if declared or not repair or b"\x00" in data:
            raise place.error(
                f"line {row} is not text in the encoding {found.encoding.removesuffix('-sig')}",
                (
                    f'Write the right one under [tables.{place.table}], such as encoding = "cp1252", '
                    f"or save as UTF-8."
                ),
            ) from None
        found = Coded(data, "cp1252", "replace")
        text = data.decode(found.encoding, found.errors)
        remarks.append(remark("repair_encoding", place.table, "", 1, f"line {row}", file=place.shown))
    if not text or text.isspace():
        refuse_no_rows(place)
    if "\x00" in text:
        plain = next((name for name in _ORDERED if _reads(data, name)), "")
        edits = [Edit(("tables", place.table), {"encoding": plain})] if plain else []
        raise place.error("holds binary content, not text", said("mend.utf8", edits=edits))
    return found, remarks


def _line_of(before: bytes) -> int:
    """The number of the line that begins or goes on after these bytes."""
    return before.count(b"\r") + before.count(b"\n") - before.count(b"\r\n") + 1


def _reads(data: bytes, name: str) -> bool:
    """Whether the beginning is lines of text in an encoding of two or four bytes a character."""
    try:
        text = codecs.getincrementaldecoder(name)().decode(data[:8000])
    except UnicodeError:
        return False
    return "\x00" not in text and not {*"\r\n"}.isdisjoint(text) and not {*_SEPARATORS}.isdisjoint(text)


def _separator(head: str) -> str:
    """The separator that gives the most alike rows among the first lines."""
    lines = [line for line in _LINE_END.split(head, 51)[:50] if line.strip()]
    best, score = ",", 0.0
    for sep in _SEPARATORS:
        try:
            widths = [len(row) for row in csv.reader(lines, delimiter=sep)]
        except csv.Error:
            continue
        usual = max(set(widths), key=lambda w: (widths.count(w), w), default=1)
        value = widths.count(usual) / len(widths) * min(usual - 1, 8) if widths else 0.0
        if value > score:
            best, score = sep, value
    return best


def _cells(coded: Coded, sep: str, place: Place) -> tuple[pd.DataFrame, dict[int, str]]:
    """All cells, and what stood beyond the last column in rows that are too long."""
    lines = _line_of(coded.data) if coded.data[-1:] not in b"\r\n" else _line_of(coded.data) - 1
    if b'"' not in coded.data:  # then no row goes over several lines
        refuse_many(lines, 1, place)
    if len(coded.data) > QUICK_FROM and b'"' not in coded.data:
        width = _LINE_END.split(coded.head(), 1)[0].count(sep) + 1
        if width > MAX_COLUMNS:
            refuse_wide(place)
        refuse_many(lines, width, place)
        quick = _quick_cells(coded, sep, width)
        if quick is not None:
            return quick, {}
    return _careful_cells(coded, sep, place)


def _quick_cells(coded: Coded, sep: str, width: int) -> pd.DataFrame | None:
    """The cells of a big file whose rows are all as long as its first, without quotation marks; else None."""
    cells = _columns(coded, sep, width)
    if cells is None:
        return None
    for at in range(width):
        blank = cells[at].str.isspace().fillna(False)
        if blank.any():  # else the column is not copied
            cells[at] = cells[at].mask(blank)
    return cells


def _columns(coded: Coded, sep: str, width: int) -> pd.DataFrame | None:
    """By pyarrow where it is UTF-8 without empty lines, which takes a fifth of the time, else by pandas."""
    if coded.encoding in ("utf-8", "utf-8-sig"):
        names = [str(i) for i in range(width)]
        with suppress(pa.ArrowInvalid):
            found = pyarrow.csv.read_csv(
                pa.py_buffer(coded.data),
                pyarrow.csv.ReadOptions(column_names=names),
                pyarrow.csv.ParseOptions(delimiter=sep, quote_char=False, ignore_empty_lines=False),
                pyarrow.csv.ConvertOptions(
                    column_types=dict.fromkeys(names, pa.large_string()),
                    strings_can_be_null=True,
                    null_values=[""],
                ),
            )
            return found.to_pandas().set_axis(range(width), axis=1)
    try:
        cells = pd.read_csv(
            io.BytesIO(coded.data), encoding=coded.encoding, encoding_errors=coded.errors, sep=sep,
            header=None, names=range(width), dtype=str, skip_blank_lines=False, keep_default_na=False,
            na_values=[""], quoting=csv.QUOTE_NONE, on_bad_lines="error",
        )  # fmt: skip
    except (ValueError, OverflowError):
        return None
    return cells if isinstance(cells.index, pd.RangeIndex) else None


def _careful_cells(coded: Coded, sep: str, place: Place) -> tuple[pd.DataFrame, dict[int, str]]:
    rows: list[list[str]] = []
    done: list[pd.DataFrame] = []
    ragged: dict[int, str] = {}
    count = line = 0
    width = 1
    with coded.lines() as text:
        reader = csv.reader(_bounded(text, sep, place), delimiter=sep, strict=False)
        try:
            for row in reader:
                count += 1
                if reader.line_num > line + 1:
                    _refuse_swallowed(row, sep, place, count, reader.line_num - line - 1)
                line = reader.line_num
                rows.append(row)
                if len(rows) == _BLOCK:
                    width = width if done else _width(rows, place)
                    refuse_many(count, width, place)
                    done.append(_block(rows, width, count - len(rows), ragged))
                    rows = []
        except csv.Error:
            raise place.error(
                f"row {count + 1} cannot be read (a cell of more than {whole(csv.field_size_limit())} "
                "characters, or a quotation mark that is never closed)",
                "Look at that row in a text editor and correct it.",
            ) from None
    width = width if done else _width(rows, place)
    refuse_hollow(count, width, len(coded.data), place)
    refuse_many(count, width, place)
    done.append(_block(rows, width, count - len(rows), ragged))
    return done[0] if len(done) == 1 else pd.concat(done, ignore_index=True), ragged


def _bounded(lines: Iterable[str], sep: str, place: Place) -> Iterator[str]:
    """The lines; raises where one has so many separators that they cannot all stand inside texts."""
    for line in lines:
        if len(line) > _MOST_SEPARATORS and line.count(sep) > _MOST_SEPARATORS:
            refuse_wide(place)
        yield line


def _width(rows: list[list[str]], place: Place) -> int:
    """How many columns a table has, from its first rows."""
    width = max((len(row) for row in rows[: max(place.source.header_row, 20)]), default=1)
    if width > MAX_COLUMNS:
        refuse_wide(place)
    return max(width, 1)


def _block(rows: list[list[str]], width: int, first: int, ragged: dict[int, str]) -> pd.DataFrame:
    """Some rows as columns of text, missing where a row is shorter or its cell is blank."""
    for i, row in enumerate(rows):
        if len(row) > width:
            beyond = next((cell for cell in row[width:] if cell.strip()), None)
            if beyond is not None:
                ragged[first + i] = beyond
    return pd.DataFrame({i: _column(rows, i) for i in range(width)}, index=range(len(rows)))


def _column(rows: list[list[str]], i: int) -> pd.Series:
    cells = (row[i] if i < len(row) else "" for row in rows)
    return pd.Series([cell if cell and not cell.isspace() else None for cell in cells], dtype="str")


def _refuse_swallowed(row: list[str], sep: str, place: Place, number: int, lines: int) -> None:
    """Raise when a quoted cell holds line breaks followed by what looks like further rows of the table."""
    inner = (part for cell in row for part in _LINE_END.split(cell)[1:])
    if any(part.count(sep) >= max(len(row) - 1, 1) for part in inner):
        raise place.error(
            f"a quotation mark opened in row {number} takes in {lines} further lines",
            "Close the quotation mark in that row, or remove it.",
        )


def raw_texts(place: Place) -> tuple[pd.DataFrame, str, str]:
    """The cells of a text table, nothing taken for a header, its separator and its encoding; raises as
    `read_text`."""
    if not place.content or place.content.isspace():
        refuse_no_rows(place)
    coded, _ = _coded(place.content, place, repair=True)
    sep = _separator(coded.head())
    return _cells(coded, sep, place)[0], sep, coded.encoding
