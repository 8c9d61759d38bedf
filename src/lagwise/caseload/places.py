"""Where a caseload's files are: every one a regular file inside the folder."""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from lagwise.caseload.study_text import toml_value
from lagwise.core import columns
from lagwise.core.errors import CaseloadError
from lagwise.core.opening import read_once
from lagwise.core.study import Study, TableSource

SUFFIXES = (".csv", ".xlsx", ".parquet")
TEXT_SUFFIXES = (".csv", ".tsv", ".txt")
WORKBOOK = "caseload.xlsx"
MOST_BYTES = 256_000_000
"""In all tables of a folder together."""


@dataclass(frozen=True)
class Place:
    """One table's file (resolved), its name as shown to people, its declared source, its worksheet if it has
    one, and the bytes of the file, read once: what is parsed is what is hashed.
    Or the frame that was given in place of a file."""

    table: str
    path: Path
    shown: str
    source: TableSource
    sheet: str = ""
    content: bytes = field(default=b"", repr=False, compare=False)
    frame: pd.DataFrame | None = field(default=None, repr=False, compare=False)

    def label(self, row: int) -> str:
        """The index label of a row of the frame; nothing in a file."""
        return "" if self.frame is None else str(self.frame.index[row])

    @property
    def decimal(self) -> str:
        """The decimal sign of numbers written as text."""
        return "." if self.path.suffix.lower() == ".parquet" else self.source.decimal

    def error(self, what: str, mend: str = "", column: str = "") -> CaseloadError:
        """The error of this table, or of one of its columns."""
        where = f"{self.shown}, column {column}" if column else self.shown
        return CaseloadError(what, where=where, mend=mend)

    def at(self, row: int) -> str:
        """A row as its owner finds it: its number in the file,
        or its 0-based position and index label in the frame."""
        return f"row {row}" if self.frame is None else f"row {row} (index {self.label(row)})"


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
    said = f"'{name[:80]}'"
    parts = name.replace("\\", "/").split("/")
    outside = Path(name).is_absolute() or ".." in parts or name.startswith(("/", "\\", "~")) or ":" in name
    try:
        path = root if outside else (root / name).resolve()
        outside = outside or not path.is_relative_to(root)
        found, regular = path.exists(), path.is_file()
    except (OSError, ValueError, RuntimeError):
        raise CaseloadError(f"{said} is no usable file name", where=where) from None
    if outside:
        what = f"{said} does not lie inside the caseload folder"
        mend = "Copy the file into the folder and name it without .., drive or leading slash."
    elif not found and (root / name).is_symlink():
        what, mend = f"{said} is a link that leads nowhere", "Put the file itself there."
    elif not found:
        near = difflib.get_close_matches(name, sorted(p.name for p in root.iterdir()), n=1)
        what = f"there is no file {said} in the caseload folder"
        mend = f"Did you mean '{near[0]}'?" if near else "Check its name in study.toml."
    elif not regular:
        what, mend = f"{said} is not a regular file", "Put a table file there."
    else:
        return path
    raise CaseloadError(what, where=where, mend=mend)


def find_tables(
    root: Path,
    study: Study,
    sheets_of: Callable[[bytes, str], list[str]],
    tables: Iterable[str] = columns.TABLES,
) -> dict[str, Place]:
    """The file of every table that is there, opened and read once.

    `sheets_of(content, name)` gives a workbook's sheet names; it is asked for caseload.xlsx only.
    A table has the file that study.toml names, else `<table>.csv`, `.xlsx` or `.parquet`, else a sheet of
    caseload.xlsx. Two candidates are an error: which one is meant is not guessed.
    """
    held: dict[Path, bytes] = {}

    def content(path: Path, shown: str) -> bytes:
        if path not in held:
            left = MOST_BYTES - sum(map(len, held.values()))
            most = f"{MOST_BYTES / 1e6:,.0f} MB"
            mend = f"All tables of a folder may have {most} together; keep the people or years needed."
            held[path] = read_once(path, left, CaseloadError, where=shown, mend=mend, root=root)
        return held[path]

    files = {p.name.lower(): p.name for p in sorted(root.iterdir())}
    book = files.get(WORKBOOK)
    sheets: dict[str, str] = {}
    if book:
        names = sheets_of(content(inside(root, book, book), book), book)
        sheets = {name.strip().lower(): name for name in names}
    places = {}
    for table in tables:
        source = study.tables.get(table, TableSource())
        if source.file:
            path = inside(root, source.file, f"study.toml [tables.{table}] file")
            places[table] = Place(table, path, source.file, source, source.sheet, content(path, source.file))
            continue
        here = [files[f"{table}{suffix}"] for suffix in SUFFIXES if f"{table}{suffix}" in files]
        sheet = source.sheet or sheets.get(table, "")
        if book and sheet and not (source.sheet and here):
            here.append(book)
        if len(here) > 1:
            declare = f"file = {toml_value(here[0])} (or the other) under [tables.{table}] in study.toml"
            what = f"the {table} table is there more than once: {', '.join(here)}"
            raise CaseloadError(what, where=str(root.name), mend=f"Write {declare}.")
        for shown in here:
            path = inside(root, shown, table)
            own = sheet if shown == book else source.sheet
            places[table] = Place(table, path, shown, source, own, content(path, shown))
    return places


def unused_files(root: Path, places: Iterable[Place]) -> list[str]:
    """Names of table-like files in the folder that no table uses."""
    used = {place.path for place in places}
    return [
        p.name
        for p in sorted(root.iterdir())
        if p.suffix.lower() in (*SUFFIXES, *TEXT_SUFFIXES, ".xls", ".ods") and p.resolve() not in used
    ]


def hash_files(places: Iterable[Place]) -> str:
    """SHA-256, hex, over the bytes of the tables' files as read, in name order, each file once."""
    total = hashlib.sha256()
    by_path = {place.path: place.content for place in sorted(places, key=lambda place: place.shown)}
    for content in by_path.values():
        total.update(content)
    return total.hexdigest()
