"""What a file is, whatever its name says: pictures, old and locked workbooks, pivot tables."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path

import pandas as pd

from lagwise.caseload.places import BOOKS, SUFFIXES, TEXT_SUFFIXES, Place
from lagwise.caseload.remarks import Remark, listed, remark, shown
from lagwise.core.claim import said, told

_OTHER: Mapping[str, str] = {
    **{f".{name}": name for name in ("numbers", "ods", "docx", "doc", "xlsb")},
    **dict.fromkeys((".sav", ".dta", ".rds", ".rdata"), "statistics"),
}
_BEGINS = (
    (b"%PDF", "pdf"),
    *(
        (begin, "picture")
        for begin in (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"II*\0", b"MM\0*", b"BM", b"RIFF")
    ),
)
_COMPOUND = bytes.fromhex("D0CF11E0A1B11AE1")
_SEALED = "EncryptedPackage".encode("utf-16-le")
PIVOT = re.compile(
    "|".join((
        r"(?:row|column) labels", "zeilenbeschriftungen", "spaltenbeschriftungen",
        "étiquettes de (?:lignes|colonnes)", "etiquetas de (?:fila|columna)", "etichette di (?:riga|colonna)",
        "(?:sum|count|average|max|min) of .+", "(?:summe|anzahl|mittelwert) von .+",
        "(?:somme|nombre|moyenne) de .+",
    )),
    re.IGNORECASE,
)  # fmt: skip
"""Headers that a spreadsheet writes over its pivot tables."""


def refuse_other(place: Place) -> None:
    """Raise CaseloadError where a file is none of the kinds that are read, with what it is and the way on."""
    found = what_it_is(place.path.suffix.lower(), place.content)
    if found:
        raise place.error(*found)


def what_it_is(suffix: str, content: bytes) -> tuple[str, str] | None:
    """What a file is that is no table of the kind its name says, and the way on; None where it may be one."""
    kind = _kind(suffix, content)
    return (said(f"what.{kind}", suffix=suffix), said(f"mend.{kind}", suffix=suffix)) if kind else None


def _kind(suffix: str, content: bytes) -> str:
    if content.startswith(_COMPOUND):
        return "locked" if _SEALED in content else _OTHER.get(suffix, "old")
    if content[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1"):
        return "picture"
    for begin, kind in _BEGINS:
        if content.startswith(begin) and (len(begin) > 2 or suffix not in TEXT_SUFFIXES):
            return kind
    if suffix in _OTHER:
        return _OTHER[suffix]
    if suffix in BOOKS and content and not content.startswith(b"PK"):
        head = content[:1000].lstrip(b"\xef\xbb\xbf \r\n\t")
        if head.lower().startswith((b"<html", b"<!doctype html", b"<?xml", b"<table")):
            return "web"
        return "text" if b"\0" not in head and re.search(rb"[,;\t].*\n", head) else ""
    if suffix in TEXT_SUFFIXES and content.startswith(b"PK\x03\x04"):
        return "workbook"
    return "" if suffix in (*BOOKS, *TEXT_SUFFIXES, *SUFFIXES) else "unread_kind"


def lying(folder: Path) -> tuple[str, str]:
    """What lies in a folder that no table can be read from (' (log.pdf is a PDF)'), and the way on; empty
    where nothing is known."""
    others: dict[str, str] = {}
    for path in sorted(folder.iterdir()):
        ours = path.suffix.lower() in (*BOOKS, *TEXT_SUFFIXES, *SUFFIXES, ".toml", "") or path.name[0] in ".~"
        if path.is_file() and not path.is_symlink() and not ours:
            with path.open("rb") as file:
                what = what_it_is(path.suffix.lower(), file.read(100_000))
            if what and told(what[0]).reason != "unread_kind":
                others[f"{shown(path.name)} {what[0]}"] = what[1]
    return (f" ({listed(others)})", next(iter(others.values()))) if others else ("", "")


def refuse_pivot(place: Place, frame: pd.DataFrame, wanted: Iterable[str]) -> None:
    """Raise CaseloadError where a sheet lacks the columns needed and has the headers of a pivot table."""
    headers = [str(h) for h in frame.columns]
    first = [str(cell) for cell in frame.head(3).to_numpy().ravel() if isinstance(cell, str)]
    if {*wanted} <= {h.strip().lower() for h in headers}:
        return
    found = next((text for text in (*headers, *first) if PIVOT.fullmatch(text.strip())), None)
    if found is not None:
        raise place.error(
            f"is a pivot table ('{shown(found, 40)}'): its numbers are sums over rows",
            f"Name the sheet or file that holds the rows themselves under [tables.{place.table}].",
        )


def refuse_two_headers(cells: pd.DataFrame, at: int, headers: list[str], place: Place) -> None:
    """Raise CaseloadError where names of columns stand in two rows: text under columns without a name."""
    if at + 1 >= len(cells):
        return
    below = cells.iloc[at + 1]
    filled = [i for i, cell in enumerate(below) if isinstance(cell, str)]
    nameless = [i for i in filled if i >= len(headers) or not headers[i]]
    words = all(re.match(r"[^\W\d]", below.iloc[i].strip()) for i in filled)
    if nameless and words and len(filled) > 1:
        raise place.error(
            f"has names of columns in two rows ({at + 1} and {at + 2}); "
            f"'{shown(below.iloc[nameless[0]], 40)}' stands under no name",
            "Write one row of names, each column with its own.",
        )


def still_open(places: Iterable[Place]) -> list[Remark]:
    """A remark for every workbook that is open in a spreadsheet, as the file beside it shows."""
    names = {part.path for place in places for part in place.every}
    held = [p.name for p in sorted(names)
            if p.with_name(f"~${p.name}").exists() or p.with_name(f".~lock.{p.name}#").exists()]  # fmt: skip
    return [remark("open_file", "", "", len(held), listed(held))] if held else []
