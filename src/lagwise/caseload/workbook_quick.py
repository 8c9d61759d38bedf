"""The cells of a worksheet as programs write them: cut out of its XML by the places of its marks,
each different cell read once.

What a cell means is left to `workbook_sheet`: one of each different cell is put into a small sheet and read
there. A sheet that is written in any other way is not read here at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any
from xml.parsers.expat import ExpatError, ParserCreate

import numpy as np

from lagwise.caseload.grid import MOST_CELLS
from lagwise.caseload.workbook_sheet import MAX_ROWS, MOST_TEXT, Range, cells_in

_PIECE = 16_000_000
"""Bytes of a sheet that are cut up at a time."""
_IN_ROW = 10_000
_OPEN, _QUOTE = b"<"[0], b'"'[0]


@dataclass(frozen=True)
class Found:
    """The filled cells of a sheet: of each its row and column number and its place among `values`, and the
    merged ranges."""

    row: np.ndarray
    column: np.ndarray
    code: np.ndarray
    values: list[Any]
    merges: list[Range]

    def first(self, rows: int) -> Found:
        """The cells of the first rows."""
        some = self.row <= rows
        return replace(self, row=self.row[some], column=self.column[some], code=self.code[some])


def quick_cells(xml: bytes, book: Any, sheet: str) -> Found | None:
    """The cells of a sheet's XML; None where it is not written as spreadsheets and libraries write it."""
    start, end = xml.find(b"<sheetData>"), xml.rfind(b"</sheetData>")
    if start < 0 or end < start or b"<!" in xml or xml.find(b"<sheetData", start + 1) >= 0:
        return None
    start += len(b"<sheetData>")
    try:
        ParserCreate().Parse(xml, True)
    except ExpatError:
        return None
    memo: dict[bytes, int] = {}
    parts = []
    cells = last = 0
    for piece in _pieces(xml, start, end):
        cut = _cut(piece, memo)
        if cut is None or (len(cut[0]) and cut[0][0] <= last):
            return None
        last = int(cut[0][-1]) if len(cut[0]) else last
        cells += len(cut[2])
        if cells > MOST_CELLS:
            return None
        parts.append(cut[1:])
    if not parts:
        return None
    row, column, code = map(np.concatenate, zip(*parts, strict=True))
    small = [xml[:start], *_rows_of(list(memo)), xml[end:]]
    try:
        told = cells_in(b"".join(small), book, sheet)
        values = [value for _, cells_of_row in told.rows for _, value in cells_of_row]
    except Exception:
        return None
    if len(values) != len(memo):
        return None
    lengths = np.array([len(v) if isinstance(v, str) else 0 for v in values], dtype="int64")
    if lengths[code].sum() > MOST_TEXT:
        return None
    return Found(row, column, code, values, told.merges)


def _pieces(xml: bytes, start: int, end: int) -> Iterator[bytes]:
    """The rows, some megabytes of whole rows at a time."""
    while start < end:
        stop = end if end - start <= _PIECE else xml.find(b"</row>", start + _PIECE, end) + len(b"</row>")
        stop = end if stop < start else stop
        yield xml[start:stop]
        start = stop


def _cut(
    piece: bytes, memo: dict[bytes, int]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray] | None:
    """The numbers of the rows of a piece, and of its filled cells row, column and place in `memo`, which
    grows by cells not met before; None where it is written otherwise."""
    import pyarrow as pa

    text = np.frombuffer(piece, dtype="uint8")
    marks = np.flatnonzero(text == _OPEN)
    marks = marks[marks < len(text) - 4]
    first, second, third = (text[marks + n] for n in (1, 2, 3))
    is_cell = (first == b"c"[0]) & (second != b"o"[0])
    is_row = (first == b"r"[0]) & (second == b"o"[0])
    ends_row = (first == b"/"[0]) & (second == b"r"[0]) & (third == b"o"[0])
    cells, rows = marks[is_cell], marks[is_row]
    of_table = is_cell | is_row | ends_row
    bounds = np.append(marks[of_table], len(text))
    if not _rows_in_turn(text, marks, is_row, ends_row, of_table):
        return None
    if not _begins(text, cells, b'<c r="') or not _begins(text, rows, b'<row r="'):
        return None
    if not len(rows):
        none = np.empty(0, "int32")
        return (none, none, none, none) if not len(cells) else None
    quotes = np.flatnonzero(text == _QUOTE)
    numbers = _spans(piece, rows + 8, _closing(quotes, rows + 8))
    try:
        number = numbers.cast(pa.string()).cast(pa.int64()).to_numpy()
    except pa.ArrowInvalid:
        return None
    if (np.diff(number) <= 0).any() or number[0] < 1 or number[-1] > MAX_ROWS:
        return None
    of_row = np.searchsorted(rows, cells, side="right") - 1
    if len(cells) and of_row[0] < 0:
        return None
    named = _closing(quotes, cells + 6)
    column = _column_numbers(text, cells + 6, named)
    if column is None or (np.diff(of_row * 20_000 + column) <= 0).any():
        return None
    tails = _spans(piece, named + 1, bounds[np.searchsorted(bounds, cells, side="right")]).dictionary_encode()
    words = tails.dictionary.to_pylist()
    filled = [b"<v" in word or b"<is" in word or b"<f" in word for word in words]
    both = zip(words, filled, strict=True)
    places = np.array([memo.setdefault(word, len(memo)) if some else -1 for word, some in both] or [-1])
    code = places[tails.indices.to_numpy()]
    kept = code >= 0
    return number, number[of_row][kept].astype("int32"), column[kept], code[kept].astype("int32")


def _rows_in_turn(
    text: np.ndarray, marks: np.ndarray, is_row: np.ndarray, ends_row: np.ndarray, of_table: np.ndarray
) -> bool:
    """Whether every row is closed before the next one begins, and holds nothing before its first cell."""
    around = np.flatnonzero(is_row | ends_row)
    if not len(around):
        return True
    begins = is_row[around]
    after = np.append(marks, len(text))[around + 1]
    empty = begins & (text[after - 1] == b">"[0]) & (text[after - 2] == b"/"[0])
    closed = ~begins | empty
    follows = np.append(of_table, True)[around + 1]
    first = np.append(True, closed[:-1])
    return bool(begins[0] and around[0] == 0 and closed[-1] and follows.all()
                and (first == begins).all()
                and (around[begins][1:] - 1 == around[np.flatnonzero(begins)[1:] - 1]).all())  # fmt: skip


def _begins(text: np.ndarray, at: np.ndarray, word: bytes) -> bool:
    """Whether every mark is this one."""
    if len(at) and at[-1] + len(word) > len(text):
        return False
    return all(bool((text[at + n] == letter).all()) for n, letter in enumerate(word))


def _closing(quotes: np.ndarray, at: np.ndarray) -> np.ndarray:
    """The next quotation mark from each place on; the last one where there is none."""
    if not len(quotes):
        return at
    return quotes[np.minimum(np.searchsorted(quotes, at), len(quotes) - 1)]


def _spans(piece: bytes, start: np.ndarray, stop: np.ndarray):
    """The bytes from each start to its stop as an Arrow array; the spans follow each other."""
    import pyarrow as pa

    ends = np.column_stack([start, np.maximum(start, stop)]).ravel().astype("int64")
    every = pa.Array.from_buffers(
        pa.large_binary(), max(len(ends) - 1, 0), [None, pa.py_buffer(ends), pa.py_buffer(piece)]
    )
    return every.take(pa.array(np.arange(0, len(ends), 2)))


def _column_numbers(text: np.ndarray, start: np.ndarray, stop: np.ndarray) -> np.ndarray | None:
    """The number of the column that each reference such as AB12 names; None where one is none."""
    column = np.zeros(len(start), dtype="int32")
    more = np.ones(len(start), dtype=bool)
    for n in range(4):
        letter = text[np.minimum(start + n, len(text) - 1)].astype("int32") - 64
        more &= (letter >= 1) & (letter <= 26) & (start + n < stop)
        if n == 3 and more.any():
            return None
        column = np.where(more, column * 26 + letter, column)
    letters = 1 + (column > 26) + (column > 702)
    for n in range(int((stop - start - letters).max(initial=0))):
        at = start + letters + n
        digit = text[np.minimum(at, len(text) - 1)].astype("int32") - ord("0")
        if n > 7 or ((at < stop) & ((digit < 0) | (digit > 9))).any():
            return None
    told = (column > 0) & (column <= 16_384) & (stop - start > letters)
    return column if told.all() else None


def _rows_of(cells: list[bytes]) -> Iterator[bytes]:
    """Rows of a small sheet with these cells."""
    for at in range(0, len(cells), _IN_ROW):
        inside = b"".join(b'<c r="A1"' + cell for cell in cells[at : at + _IN_ROW])
        yield b'<row r="%d">%s</row>' % (at // _IN_ROW + 1, inside)
