"""Text tables (CSV and its kin): bytes -> decoded text -> grid of cells."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from lagwise.caseload.grid import MAX_COLUMNS, Grid, grid_from_cells, no_rows, refuse_hollow, too_wide
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark
from lagwise.core.errors import CaseloadError

_BOMS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
QUICK_FROM = 5_000_000
_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}


def read_text(place: Place, wanted: Sequence[str], *, encoding_repair: bool, search: bool) -> Grid:
    """The grid of a text table.

    Raises CaseloadError when the file is empty, is in another encoding than declared (or not UTF-8 with the repair
    off), holds binary content, or opens a quotation mark that is never closed.
    """
    data = place.path.read_bytes()
    if not data.strip():
        raise no_rows(place)
    text, remarks = _decoded(data, place, encoding_repair)
    if not text.strip():
        raise no_rows(place)
    sep = place.source.sep
    if not sep:
        sep = _separator(text)
        if sep != ",":
            remarks.append(
                Remark(
                    "separator_detected", place.table, "", 1, f"'{_SEPARATORS[sep]}'",
                    f"The cells of {place.shown} are separated by a {_SEPARATORS[sep]}, which study.toml does not say",
                    f'Write sep = "{"tab" if sep == chr(9) else sep}" under [tables.{place.table}].',
                )
            )  # fmt: skip
    cells, ragged = _cells(text, sep, place)
    grid = grid_from_cells(cells, place, wanted, search=search, ragged=ragged)
    return replace(grid, remarks=(*remarks, *grid.remarks))


def _decoded(data: bytes, place: Place, repair: bool) -> tuple[str, list[Remark]]:
    declared = place.source.encoding
    if not declared:
        declared = next((name for bom, name in _BOMS if data.startswith(bom)), "")
    elif declared.lower().replace("_", "-") in ("utf-8", "utf8"):
        declared = "utf-8-sig"
    remarks = []
    try:
        text = data.decode(declared or "utf-8")
    except UnicodeError as error:
        start = getattr(error, "start", 0)
        row = data[:start].count(b"\n") + 1
        if declared or not repair or b"\x00" in data:
            raise CaseloadError(
                f"line {row} is not text in the encoding {declared or 'utf-8'}",
                where=place.shown,
                mend=f'Write the right one under [tables.{place.table}], such as encoding = "cp1252", or save as UTF-8.',
            ) from None
        text = data.decode("cp1252", errors="replace")
        remarks.append(
            Remark(
                "repair_encoding", place.table, "", 1, f"line {row}",
                f"{place.shown} is not UTF-8 and was read as Windows-1252; letters with accents may be wrong",
                f'Write encoding = "cp1252" (or the right one) under [tables.{place.table}].',
            )
        )  # fmt: skip
    if "\x00" in text:
        raise CaseloadError("holds binary content, not text", where=place.shown, mend=_without_mark(data, place.table))
    return text, remarks


def _without_mark(data: bytes, table: str) -> str:
    """What to do about zero bytes; every second byte of plain text in UTF-16 is one, three of four in UTF-32."""
    again = "Export the table again as CSV with UTF-8"
    head = data[:2000]
    for step, name in ((4, "utf-32"), (2, "utf-16")):
        at = [sum(byte == 0 for byte in head[i::step]) * step > 0.8 * len(head) for i in range(step)]
        if sum(at) == step - 1 and (at[0] or at[-1]):
            order = "be" if at[0] else "le"
            return f'{again}, or write encoding = "{name}-{order}" under [tables.{table}].'
    return f"{again}."


def _separator(text: str) -> str:
    """The separator that gives the most alike rows among the first lines."""
    lines = [line for line in text[:200_000].splitlines()[:50] if line.strip()]
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


def _cells(text: str, sep: str, place: Place) -> tuple[pd.DataFrame, dict[int, str]]:
    """All cells, and what stood beyond the last column in rows that are too long."""
    if len(text) > QUICK_FROM and '"' not in text:
        quick = _quick_cells(text, sep)
        if quick is not None:
            return quick, {}
    return _careful_cells(text, sep, place)


def _quick_cells(text: str, sep: str) -> pd.DataFrame | None:
    """The cells of a big file whose rows are all as long as its first, without quotation marks; else None."""
    width = text[: text.find("\n") + 1 or None].count(sep) + 1
    try:
        cells = pd.read_csv(
            io.StringIO(text), sep=sep, header=None, names=range(width), dtype=str, skip_blank_lines=False,
            keep_default_na=False, na_values=[""], quoting=csv.QUOTE_NONE, on_bad_lines="error",
        )  # fmt: skip
    except (ValueError, OverflowError):
        return None
    if not isinstance(cells.index, pd.RangeIndex):
        return None
    return cells.apply(lambda column: column.mask(column.str.isspace().fillna(False)))


def _careful_cells(text: str, sep: str, place: Place) -> tuple[pd.DataFrame, dict[int, str]]:
    rows: list[list[str]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=sep, strict=False)
    line = 0
    try:
        for row in reader:
            if reader.line_num > line + 1:
                _swallowed(row, sep, place, len(rows) + 1, reader.line_num - line - 1)
            line = reader.line_num
            rows.append(row)
    except csv.Error:
        raise CaseloadError(
            f"row {len(rows) + 1} cannot be read (a cell of more than {csv.field_size_limit():,} characters, or a quotation mark "
            "that is never closed)",
            where=place.shown,
            mend="Look at that row in a text editor and correct it.",
        ) from None
    declared = place.source.header_row - 1
    width = max((len(row) for row in rows[: max(declared + 1, 20)]), default=1)
    if width > MAX_COLUMNS:
        raise too_wide(place)
    refuse_hollow(len(rows), width, len(text), place)
    ragged = {}
    for i, row in enumerate(rows):
        beyond = [cell for cell in row[width:] if cell.strip()]
        if beyond:
            ragged[i] = beyond[0]
    columns = {i: _column(rows, i) for i in range(width)}
    return pd.DataFrame(columns, index=range(len(rows))), ragged


def _column(rows: list[list[str]], i: int) -> pd.Series:
    """Column i, missing where a row is shorter or its cell is blank."""
    cells = (row[i] if i < len(row) else "" for row in rows)
    return pd.Series([cell if cell and not cell.isspace() else None for cell in cells], dtype="str")


def _swallowed(row: list[str], sep: str, place: Place, number: int, lines: int) -> None:
    """Raise when a quoted cell holds line breaks followed by what looks like further rows of the table."""
    for cell in row:
        if "\n" in cell or "\r" in cell:
            inner = [part for part in cell.splitlines()[1:] if part.count(sep) >= max(len(row) - 1, 1)]
            if inner:
                raise CaseloadError(
                    f"a quotation mark opened in row {number} takes in {lines} further lines",
                    where=place.shown,
                    mend="Close the quotation mark in that row, or remove it.",
                )
