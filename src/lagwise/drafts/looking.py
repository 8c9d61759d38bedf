"""Files as they lie there -> sheets: headers and texts, before anything is known of what they mean."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pandas as pd

from lagwise.caseload.grid import MAX_COLUMNS, once
from lagwise.caseload.kinds import PIVOT, what_it_is
from lagwise.caseload.parquet_file import read_parquet
from lagwise.caseload.places import BOOKS, MOST_BYTES, Place
from lagwise.caseload.remarks import listed
from lagwise.caseload.text_file import raw_texts
from lagwise.caseload.workbook import sheet_texts
from lagwise.caseload.workbook_archive import Book, open_book
from lagwise.core.claim import said
from lagwise.core.errors import CaseloadError
from lagwise.core.numbers import megabytes
from lagwise.core.opening import read_once
from lagwise.core.study import TableSource
from lagwise.drafts.header import header_row

MOST_ROWS = 5000
"""Rows of a sheet that a draft looks at."""
MOST_TEXT = 4_000_000
"""Bytes of a text file that a draft looks at."""


@dataclass(frozen=True)
class Sheet:
    """A worksheet, or a whole text file (`name` is then empty), under its file's name in the caseload folder.

    `frame` holds the rows below the header as texts, missing where empty; `twice` holds headers that
    are there again, `titles` what stands above the header in row `header` (counted from 1).
    """

    file: str
    name: str
    header: int
    frame: pd.DataFrame = field(repr=False)
    titles: tuple[str, ...] = ()
    twice: frozenset[str] = frozenset()
    sep: str = ""
    encoding: str = ""

    @property
    def where(self) -> str:
        """Its name as said to people."""
        return f"{self.file}, sheet {self.name}" if self.name else self.file

    @property
    def headers(self) -> tuple[str, ...]:
        """The headers."""
        return tuple(map(str, self.frame.columns))


@dataclass(frozen=True)
class Seen:
    """What was found in some files: sheets, what could not be looked at, and the files' bytes by new name."""

    sheets: tuple[Sheet, ...]
    not_read: tuple[str, ...]
    copies: dict[str, bytes]


def look_at(files: Iterable[str | Path]) -> Seen:
    """The sheets of files and of the files in folders; what cannot be looked at becomes one line each.

    Raises CaseloadError when a path leads nowhere, or nothing could be looked at.
    """
    sheets: list[Sheet] = []
    not_read: list[str] = []
    copies: dict[str, bytes] = {}
    given = [*map(Path, files)]
    for folder in (path for path in given if path.is_dir()):
        inner = [p.name for p in sorted(folder.iterdir()) if p.is_dir() and p.name[0] != "."]
        if inner:
            not_read.append(said("draft.folders", folder=folder.name, inner=listed(inner)))
    for path in _files(given):
        name = _free(path.name, copies)
        try:
            left = MOST_BYTES - sum(map(len, copies.values()))
            mend = f"All files together may have {megabytes(MOST_BYTES)}; keep the people or years needed."
            content = read_once(path, left, CaseloadError, where=path.name, mend=mend)
            if other := what_it_is(path.suffix.lower(), content):
                raise CaseloadError(other[0], where=path.name, mend=other[1])
            found, lines = _sheets(name, path, content)
        except CaseloadError as error:
            not_read.append(str(error))
            continue
        sheets += found
        not_read += lines
        copies[name] = content
    return Seen(tuple(sheets), tuple(not_read), copies)


def _files(given: Iterable[Path]) -> list[Path]:
    out: list[Path] = []
    for path in given:
        if path.is_dir():
            inside = sorted(p for p in path.iterdir() if p.is_file() and not p.name.startswith((".", "~$")))
            out += [p for p in inside if p.suffix.lower() not in (".toml", ".json", ".md")]
        elif path.exists():
            out.append(path)
        else:
            raise CaseloadError("there is no such file or folder", where=str(path), mend="Check the path.")
    return list(dict.fromkeys(out))


def _free(name: str, taken: Iterable[str]) -> str:
    """The file's name, with a number where another file has it already."""
    lower = {other.lower() for other in taken}
    stem, suffix = Path(name).stem, Path(name).suffix
    names = (name, *(f"{stem} ({n}){suffix}" for n in range(2, 10_000)))
    return next(one for one in names if one.lower() not in lower)


def _sheets(name: str, path: Path, content: bytes) -> tuple[list[Sheet], list[str]]:
    place = Place("NAME", path, name, TableSource(), content=content)
    suffix = path.suffix.lower()
    if suffix in BOOKS:
        return _of_book(name, place, open_book(content, name))
    if suffix == ".parquet":
        frame = read_parquet(place, _All()).frame.head(MOST_ROWS)
        return [Sheet(name, "", 1, frame.apply(_as_text))], []
    texts, sep, encoding = raw_texts(_beginning(place))
    rows = texts.head(MOST_ROWS).astype(object).where(texts.head(MOST_ROWS).notna(), None).to_numpy().tolist()
    return _sheet(name, "", rows, sep, encoding)


class _All(tuple):
    """Every name is in it."""

    def __contains__(self, name: object) -> bool:
        return True


def _beginning(place: Place) -> Place:
    """The place with the beginning of a long text, up to the end of a line."""
    content = place.content
    if len(content) <= MOST_TEXT or content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return place
    return replace(place, content=content[: content.rfind(b"\n", 0, MOST_TEXT) + 1] or content)


def _as_text(values: pd.Series) -> pd.Series:
    if pd.api.types.is_datetime64_any_dtype(values.dtype):
        return values.astype("str").str.removesuffix(" 00:00:00").where(values.notna())
    text = (
        values.astype("str").str.removesuffix(".0") if pd.api.types.is_float_dtype(values.dtype) else values
    )
    return text.astype("str").where(values.notna())


def _of_book(name: str, place: Place, book: Book) -> tuple[list[Sheet], list[str]]:
    sheets: list[Sheet] = []
    lines: list[str] = []
    for sheet in book.sheets:
        try:
            rows = sheet_texts(book, sheet, place, MOST_ROWS)
        except CaseloadError as error:
            lines.append(f"{error.where}, sheet {sheet}: {error.what}. {error.mend}".strip())
            continue
        found, more = _sheet(name, sheet, rows, "", "")
        sheets += found
        lines += more
    return sheets, lines


def _sheet(
    file: str, name: str, rows: Sequence[Sequence[str | None]], sep: str, encoding: str
) -> tuple[list[Sheet], list[str]]:
    where = f"{file}, sheet {name}" if name else file
    rows = [[" ".join(c.split()) if c else None for c in row[:MAX_COLUMNS]] for row in rows]
    if not any(cell for row in rows for cell in row):
        return [], [f"{where}: is empty."]
    if _pivot(rows):
        return [], [said("draft.pivot", where=where)]
    at = header_row(rows)
    if at is None:
        return [], [said("draft.no_header", where=where)]
    width = max(len(row) for row in rows[at:])
    full = [[*row, *[None] * (width - len(row))] for row in rows[at:]]
    names, twice = once([cell or "" for cell in full[0]])
    frame = pd.DataFrame(
        {n: pd.Series([r[i] for r in full[1:]], dtype="str") for i, n in enumerate(names) if n}
    )
    frame = frame.dropna(how="all").reset_index(drop=True)
    titles = tuple(cell for row in rows[:at] for cell in row if cell)
    return [Sheet(file, name, at + 1, frame, titles, frozenset(twice), sep, encoding)], []


def _pivot(rows: Sequence[Sequence[str | None]]) -> bool:
    """Whether a sheet begins as a pivot table does."""
    found = [cell.lower() for row in rows[:6] for cell in row if cell and PIVOT.fullmatch(cell.strip())]
    return len(found) > 1 or any(not re.match(r"\w+ (?:of|von|de) ", cell) for cell in found)
