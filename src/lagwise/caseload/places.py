"""Where a caseload's files are: every one a regular file inside the folder."""

from __future__ import annotations

import difflib
import fnmatch
import hashlib
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import Any

import pandas as pd

from lagwise.caseload.check_edits import Edit, mending, written
from lagwise.caseload.remarks import at_row
from lagwise.core import columns
from lagwise.core.claim import coded, said
from lagwise.core.errors import CaseloadError, meant
from lagwise.core.numbers import megabytes, whole
from lagwise.core.opening import read_once
from lagwise.core.study import Study, TableSource

SUFFIXES = (".csv", ".xlsx", ".parquet")
TEXT_SUFFIXES = (".csv", ".tsv", ".txt")
BOOKS = (".xlsx", ".xlsm")
WORKBOOK = "caseload.xlsx"
MOST_PARTS = 1000
_MOST_BLANK = 4000
"""Bytes of a template at most."""
MOST_BYTES = 256_000_000
"""In all tables of a folder together."""


@dataclass(frozen=True)
class Place:
    """One table's file (resolved), its name as shown to people, its declared source, its worksheet if it has
    one, and the bytes of the file, read once: what is parsed is what is hashed.
    Or the frame that was given in place of a file. `parts` are the places of a table that lies in several
    files or sheets, `part` the name of such a one, and `book` the opened workbook. `shared` is True where
    another table lies in the same sheet."""

    table: str
    path: Path
    shown: str
    source: TableSource
    sheet: str = ""
    content: bytes = field(default=b"", repr=False, compare=False)
    frame: pd.DataFrame | None = field(default=None, repr=False, compare=False)
    parts: tuple[Place, ...] = ()
    part: str = ""
    book: Any = field(default=None, repr=False, compare=False)
    shared: bool = False

    @property
    def every(self) -> tuple[Place, ...]:
        """Its parts, or itself."""
        return self.parts or (self,)

    @property
    def named(self) -> tuple[str, ...]:
        """Names of its parts; none where it lies in one file."""
        return tuple(part.part for part in self.parts)

    @property
    def lies(self) -> tuple[Path, str]:
        """Its file and, in a workbook, its sheet: the declared one, else that of its name or the only one."""
        names = [] if self.book is None else [name.strip().lower() for name in self.book.sheets]
        wanted = (self.sheet or self.table).strip().lower() if names else ""
        return self.path, names[0] if len(names) == 1 and not self.sheet else wanted

    def label(self, row: int) -> str:
        """The index label of a row of the frame; nothing in a file."""
        return "" if self.frame is None else str(self.frame.index[row])

    @property
    def decimal(self) -> str:
        """The decimal sign of numbers written as text."""
        return "." if self.path.suffix.lower() == ".parquet" else self.source.decimal

    def error(self, what: str, mend: str = "", column: str = "") -> CaseloadError:
        """The error of this table, or of one of its columns."""
        where = coded(f"{self.shown}, column {column}", column=column) if column else self.shown
        return CaseloadError(what, where=where, mend=mend)

    def at(self, row: int) -> str:
        """A row as its owner finds it: its number in the file,
        or its 0-based position and index label in the frame."""
        if self.frame is None:
            return at_row(row, self.named)
        return f"row {row} (index {self.label(row)})"


def folder_of(folder: str | Path) -> Path:
    """The resolved caseload folder; raises CaseloadError when it is missing or no folder."""
    try:
        root = Path(folder).resolve(strict=True)
        is_folder = root.is_dir()
    except (OSError, ValueError, RuntimeError):
        raise CaseloadError("there is no such folder", where=str(folder), mend="Check the path.") from None
    if not is_folder:
        raise CaseloadError(
            "is a file, not a folder", where=str(folder), mend="Give the folder that holds study.toml."
        )
    return root


def inside(root: Path, name: str, where: str) -> Path:
    """The regular file `name` below `root`; CaseloadError when it is outside, missing or not regular."""
    parts = name.replace("\\", "/").split("/")
    outside = Path(name).is_absolute() or ".." in parts or name.startswith(("/", "\\", "~")) or ":" in name
    try:
        path = root if outside else (root / name).resolve()
        outside = outside or not path.is_relative_to(root)
        found, regular = path.exists(), path.is_file()
    except (OSError, ValueError, RuntimeError):
        raise CaseloadError(f"'{name[:80]}' is no usable file name", where=where) from None
    if found and regular and not outside:
        return path
    why = "outside" if outside else "irregular" if found else "no_link" if (root / name).is_symlink() else ""
    near = [] if why else difflib.get_close_matches(name, sorted(p.name for p in root.iterdir()), n=1)
    mend = meant(name, near[0]) if near else said(f"mend.{why or 'no_file'}")
    raise CaseloadError(said(f"what.{why or 'no_file'}", name=name[:80]), where=where, mend=mend)


Openers = Callable[[bytes, str], Any]


def find_tables(
    root: Path, study: Study, opened: Openers, tables: Iterable[str] = columns.TABLES
) -> dict[str, Place]:
    """The file of every table that is there, or its files and sheets, each opened and read once.

    A blank template beside another candidate, or beside a table with records, counts as not there.

    `opened(content, name)` gives a workbook with its `sheets` by name. A table has the file or files that
    study.toml names, else `<table>.csv`, `.xlsx` or `.parquet`, else a sheet of caseload.xlsx. Two candidates
    are an error: which one is meant is not guessed.
    """
    folder = _Folder(root, opened)
    files = {p.name.lower(): p.name for p in sorted(root.iterdir())}
    book = files.get(WORKBOOK)
    sheets = {name.strip().lower(): name for name in folder.book(book).sheets} if book else {}
    places = {}
    for table in tables:
        source = study.tables.get(table, TableSource())
        where = f"study.toml [tables.{table}] file"
        if source.files or source.file:
            named = names_of(root, source.files, f"{where}s") if source.files else [source.file]
            found = [folder.place(table, name, source, source.sheet, where) for name in named]
            places[table] = folder.together(found)
            continue
        here = [files[f"{table}{suffix}"] for suffix in SUFFIXES if f"{table}{suffix}" in files]
        sheet = source.sheet or sheets.get(table, "")
        if book and (sheet or source.sheets) and not ((source.sheet or source.sheets) and here):
            here.append(book)
        if len(here) > 1:
            contents = {shown: folder.content(inside(root, shown, table), shown) for shown in here}
            here = [shown for shown in here if not blank(shown, contents[shown])] or here[:1]
        if len(here) > 1:
            edit = Edit(("tables", table), {"file": here[0]})
            raise CaseloadError(
                f"the {table} table is there more than once: {', '.join(here)}",
                where=str(root.name),
                mend=mending(f"Write {written(edit, note='or the other')} in study.toml.", edit),
            )
        for shown in here:
            own = sheet if shown == book else source.sheet
            places[table] = folder.together([folder.place(table, shown, source, own, table)])
    return shared_sheets(_with_records(places))


def _with_records(places: dict[str, Place]) -> dict[str, Place]:
    """The places without blank templates of check-ins and weeks, and of sessions beside weeks, where another
    table has records."""
    filled = {table for table, place in places.items() if not blank(place.shown, place.content)}
    without = {"checkins", "weeks"} if filled & {"sessions", "checkins", "weeks"} else set()
    without |= {"sessions"} if "weeks" in filled else set()
    return {table: place for table, place in places.items() if table in filled or table not in without}


def blank(name: str, content: bytes) -> bool:
    """Whether a file is a template that nothing was written into: <table>.csv, of one line."""
    stem, _, suffix = name.lower().rpartition(".")
    return suffix == "csv" and stem in columns.TABLES and len(content.splitlines()) == 1


class _Folder:
    """The files of a folder, each read and opened once."""

    def __init__(self, root: Path, opened: Openers) -> None:
        self._root, self._opened = root, opened
        self._held: dict[Path, bytes] = {}
        self._books: dict[Path, Any] = {}

    def content(self, path: Path, shown: str) -> bytes:
        if path not in self._held:
            left = MOST_BYTES - sum(map(len, self._held.values()))
            most = megabytes(MOST_BYTES)
            mend = f"All tables of a folder may have {most} together; keep the people or years needed."
            self._held[path] = read_once(path, left, CaseloadError, where=shown, mend=mend, root=self._root)
        return self._held[path]

    def book(self, shown: str) -> Any:
        path = inside(self._root, shown, shown)
        if path not in self._books:
            self._books[path] = self._opened(self.content(path, shown), shown)
        return self._books[path]

    def place(self, table: str, name: str, source: TableSource, sheet: str, where: str) -> Place:
        path = inside(self._root, name, where)
        content = self.content(path, name)
        book = self.book(name) if path.suffix.lower() in BOOKS else None
        return Place(table, path, name, source, sheet, content, part=name, book=book)

    def together(self, found: list[Place]) -> Place:
        """One place of several files or sheets."""
        source, parts = found[0].source, []
        for one in found:
            sheets = _sheets_of(one) if one.book is not None and source.sheets else [one.sheet]
            for sheet in sheets:
                named = f"{one.shown}, {sheet}" if len(found) > 1 else sheet
                part = named if source.sheets else one.part
                shown = f"{one.shown}, sheet {sheet}" if source.sheets else one.shown
                parts.append(replace(one, sheet=sheet, part=part, shown=shown))
        if not (source.files or source.sheets):
            return found[0]
        of_files = ", ".join(source.files) or found[0].shown
        what = f"{len(parts)} {'sheets' if source.sheets else 'files'}"
        return replace(found[0], shown=f"{of_files} ({what})", parts=tuple(parts))


def _sheets_of(place: Place) -> list[str]:
    """The declared sheets of a workbook, in its own order for all of them."""
    there = list(place.book.sheets)
    if place.source.sheets == ("*",):
        return there
    alike = {name.strip().lower(): name for name in there}
    for name in place.source.sheets:
        if name.strip().lower() not in alike:
            raise place.error(
                coded(f"has no sheet '{name[:60]}'", "no_sheet", sheets=there[:10]),
                f"Correct sheets under [tables.{place.table}]; its sheets: {', '.join(there[:10])}.",
            )
    return [alike[name.strip().lower()] for name in place.source.sheets]


def shared_sheets(places: dict[str, Place]) -> dict[str, Place]:
    """The places, marked where two tables lie in one file and sheet."""
    where = [part.lies for place in places.values() for part in place.every]
    return {
        table: replace(place, shared=any(where.count(part.lies) > 1 for part in place.every))
        for table, place in places.items()
    }


def names_of(root: Path, patterns: Sequence[str], where: str) -> list[str]:
    """The files below `root` that are named or fit a pattern (* and ?), in order; each once."""
    out: dict[str, None] = {}
    for pattern in patterns:
        plain = pattern.replace("\\", "/")
        if not {*"*?"} & {*plain}:
            out[pattern] = None
            continue
        under = inside_folder(root, PurePosixPath(plain).parent.as_posix(), where)
        there = sorted(p for p in under.iterdir() if p.is_file() and not p.name.startswith(("~$", ".")))
        fits = fnmatch.translate(PurePosixPath(plain).name.lower().replace("[", "[[]"))
        found = [p.relative_to(root).as_posix() for p in there if re.match(fits, p.name.lower())]
        if not found:
            mend = "Check the pattern; * stands for any letters."
            raise CaseloadError(f"no file of the folder fits '{pattern[:80]}'", where=where, mend=mend)
        out |= dict.fromkeys(found)
    if len(out) > MOST_PARTS:
        raise CaseloadError(f"{whole(len(out))} files fit; at most {whole(MOST_PARTS)} are read", where=where)
    return list(out)


def inside_folder(root: Path, name: str, where: str) -> Path:
    """The folder `name` below `root`; CaseloadError when it is outside or missing."""
    under = (root / name).resolve()
    if Path(name).is_absolute() or ".." in name.split("/") or not under.is_relative_to(root):
        raise CaseloadError(
            f"'{name[:80]}' does not lie inside the caseload folder",
            where=where,
            mend="Copy the files into the folder and name them without .., drive or leading slash.",
        )
    if not under.is_dir():
        raise CaseloadError(f"there is no folder '{name[:80]}'", where=where, mend="Check its name.")
    return under


def unused_files(root: Path, places: Iterable[Place]) -> list[str]:
    """Names of table-like files in the folder that no table uses."""
    used = {part.path for place in places for part in place.every}
    return [
        p.name
        for p in sorted(root.iterdir())
        if p.suffix.lower() in (*SUFFIXES, *TEXT_SUFFIXES, ".xls", ".ods")
        and not p.name.startswith("~$")
        and p.resolve() not in used
        and not _is_blank(p, root)
    ]


def _is_blank(path: Path, root: Path) -> bool:
    """Whether a file of the folder, no link that leads elsewhere, is a template that nobody filled in."""
    if path.is_symlink() or not path.is_file() or path.stat().st_size >= _MOST_BLANK:
        return False
    return blank(path.name, read_once(path, _MOST_BLANK, CaseloadError, where=path.name, root=root))


def hash_files(places: Iterable[Place]) -> str:
    """SHA-256, hex, over the bytes of the tables' files as read, in name order, each file once."""
    total = hashlib.sha256()
    every = (part for place in places for part in place.every)
    by_path = {place.path: place.content for place in sorted(every, key=lambda place: place.shown)}
    for content in by_path.values():
        total.update(content)
    return total.hexdigest()
