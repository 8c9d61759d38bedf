"""Where a caseload's files are: every one a regular file inside the folder."""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from lagwise.caseload.study_text import toml_value
from lagwise.core import columns
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study, TableSource

SUFFIXES = (".csv", ".xlsx", ".parquet")
TEXT_SUFFIXES = (".csv", ".tsv", ".txt")
WORKBOOK = "caseload.xlsx"


@dataclass(frozen=True)
class Place:
    """One table's file (resolved), its name as shown to people, its declared source and its worksheet if it has one."""

    table: str
    path: Path
    shown: str
    source: TableSource
    sheet: str = ""


def folder_of(folder: str | Path) -> Path:
    """The resolved caseload folder; raises CaseloadError when it is missing or no folder."""
    try:
        root = Path(folder).resolve(strict=True)
        is_folder = root.is_dir()
    except (OSError, ValueError, RuntimeError):
        raise CaseloadError("there is no such folder", where=str(folder), mend="Check the path.") from None
    if not is_folder:
        raise CaseloadError("is a file, not a folder", where=str(folder), mend="Give the folder that holds study.toml.")
    return root


def inside(root: Path, name: str, where: str) -> Path:
    """The regular file `name` below `root`; raises CaseloadError when it lies outside, is missing or no regular file."""
    outside = CaseloadError(
        f"'{name[:80]}' does not lie inside the caseload folder",
        where=where,
        mend="Copy the file into the folder and name it without .., drive or leading slash.",
    )
    parts = name.replace("\\", "/").split("/")
    if Path(name).is_absolute() or ".." in parts or name.startswith(("/", "\\", "~")) or ":" in name:
        raise outside
    try:
        path = (root / name).resolve()
        if not path.is_relative_to(root):
            raise outside
        found, regular = path.exists(), path.is_file()
    except (OSError, ValueError, RuntimeError):
        raise CaseloadError(f"'{name[:80]}' is no usable file name", where=where) from None
    if not found and (root / name).is_symlink():
        raise CaseloadError(
            f"'{name[:80]}' is a link that leads nowhere", where=where, mend="Put the file itself there."
        )
    if not found:
        there = sorted(p.name for p in root.iterdir())
        near = difflib.get_close_matches(name, there, n=1)
        mend = f"Did you mean '{near[0]}'?" if near else "Check its name in study.toml."
        raise CaseloadError(f"there is no file '{name[:80]}' in the caseload folder", where=where, mend=mend)
    if not regular:
        raise CaseloadError(f"'{name[:80]}' is not a regular file", where=where, mend="Put a table file there.")
    return path


def find_tables(root: Path, study: Study, sheets_of) -> dict[str, Place]:
    """The file of every table that is there.

    `sheets_of(path)` gives a workbook's sheet names; it is asked for caseload.xlsx only.
    A table has the file that study.toml names, else `<table>.csv`, `.xlsx` or `.parquet`, else a sheet of
    caseload.xlsx. Two candidates are an error: which one is meant is not guessed.
    """
    files = {p.name.lower(): p.name for p in sorted(root.iterdir())}
    book = files.get(WORKBOOK)
    sheets: dict[str, str] = {}
    if book:
        sheets = {name.strip().lower(): name for name in sheets_of(inside(root, book, book))}
    places = {}
    for table in columns.TABLES:
        source = study.tables.get(table, TableSource())
        if source.file:
            path = inside(root, source.file, f"study.toml [tables.{table}] file")
            places[table] = Place(table, path, source.file, source, source.sheet)
            continue
        here = [files[f"{table}{suffix}"] for suffix in SUFFIXES if f"{table}{suffix}" in files]
        sheet = source.sheet or sheets.get(table, "")
        if book and sheet and not (source.sheet and here):
            here.append(book)
        if len(here) > 1:
            raise CaseloadError(
                f"the {table} table is there more than once: {', '.join(here)}",
                where=str(root.name),
                mend=f"Write file = {toml_value(here[0])} (or the other) under [tables.{table}] in study.toml.",
            )
        if here:
            shown = here[0]
            chosen = sheet if shown == book else source.sheet
            places[table] = Place(table, inside(root, shown, table), shown, source, chosen)
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
    """SHA-256, hex, over the bytes of the tables' files in name order, each file once."""
    total = hashlib.sha256()
    for path in dict.fromkeys(place.path for place in sorted(places, key=lambda place: place.shown)):
        with path.open("rb") as file:
            while block := file.read(1 << 20):
                total.update(block)
    return total.hexdigest()
