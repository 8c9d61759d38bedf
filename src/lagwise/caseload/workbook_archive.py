"""What is inside a workbook's archive, looked at before anything of it is built: sizes, counts,
names of the sheets."""

from __future__ import annotations

import hashlib
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from pathlib import PurePath
from typing import Any

from lagwise.caseload.kinds import what_it_is
from lagwise.core.claim import said
from lagwise.core.errors import CaseloadError
from lagwise.core.numbers import megabytes, whole

MAX_PACKED = 60_000_000
MAX_UNPACKED = 400_000_000
MAX_RATIO = 250
MAX_PARTS = 2000
MAX_CELLS = 1_000_000
MAX_TEXTS = 1_000_000
MAX_STYLES = 65_490
"""Cell formats: the most that a spreadsheet allows."""
MAX_LISTED = 20_000
"""Elements in the lists of parts, sheets and names."""
MAX_ELEMENTS = 6_000_000
"""Elements in any other part that is read."""
_SMALL = 20_000_000
_CODED = re.compile(
    rb"""^(?:\xef\xbb\xbf)?\s*<\?xml[^<>]{0,200}?encoding\s*=\s*["'](?!utf-?8["'])""", re.IGNORECASE
)
_LONG_TAG = re.compile(rb"<[^<>]{100000}")
"""No mark-up of a workbook is so long; one of millions of attributes would take gigabytes."""


@dataclass(frozen=True)
class Book:
    """A checked workbook: its bytes, its name as shown to people, the part of each worksheet by the sheet's
    name, the part with the texts that cells share, the day that its serial day numbers count from, and what
    was read of it so far."""

    content: bytes
    shown: str
    sheets: Mapping[str, str]
    texts: str
    epoch: datetime
    held: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    def once[T](self, what: str, read: Callable[[], T]) -> T:
        """What `read` gives, read the first time that it is asked for."""
        if what not in self.held:
            self.held[what] = read()
        found: T = self.held[what]
        return found

    def sheet(self, name: str) -> bytes:
        """The XML of a worksheet; as the other parts it raises CaseloadError when it holds
        more than is read."""
        return self._part(self.sheets[name], b"c", MAX_CELLS)

    def plain_sheet(self, name: str) -> bytes:
        """The XML of a worksheet, bounded by what a workbook may unpack to and not by its cells."""
        return self._part(self.sheets[name], b"c", MAX_UNPACKED, MAX_UNPACKED)

    def shared_texts(self) -> bytes:
        """The XML of the texts that cells share; empty where there are none."""
        return self._part(self.texts, b"si", MAX_TEXTS)

    def styles(self) -> bytes:
        """The XML of the cell formats; empty where there are none."""
        return self._part("xl/styles.xml", b"xf", 2 * MAX_STYLES)

    def _part(self, name: str, tag: bytes, most: int, elements: int | None = None) -> bytes:
        try:
            with zipfile.ZipFile(io.BytesIO(self.content)) as archive:
                xml = archive.read(name) if name in archive.namelist() else b""
        except Exception as error:
            raise unreadable(self.shown) from error
        tags = re.finditer(rb"<(?:\w{1,20}+:)?%s[\s/>]" % tag, xml) if xml.count(b"<") > most else iter(())
        if next(islice(tags, most, None), None) is not None:
            what = said("what.too_many_parts", most=most, tag=tag.decode())
            raise _too_much(what, whole(most), self.shown)
        _check_part(name, xml, elements or MAX_ELEMENTS, self.shown)
        return xml


def opening_once() -> Callable[[bytes, str], Book]:
    """A function that opens workbooks as `open_book` does, and each content once."""
    books: dict[tuple[bytes, str], Book] = {}

    def opened(content: bytes, shown: str) -> Book:
        key = (hashlib.sha256(content).digest(), shown)
        if key not in books:
            books[key] = open_book(content, shown)
        return books[key]

    return opened


def open_book(content: bytes, shown: str) -> Book:
    """The workbook in these bytes; raises CaseloadError when it is none,
    is damaged or holds more than is read.

    Bounds are those of what is unpacked and of the elements in it, since packing hides both. Only the lists
    of parts and sheets are read here; the drawings, rules and names of a workbook never are.
    """
    if found := what_it_is(PurePath(shown).suffix.lower(), content):
        raise CaseloadError(found[0], where=shown, mend=found[1])
    _check_archive(content, shown)
    try:
        with warnings.catch_warnings():
            # openpyxl warns about extensions that it leaves out; no cell value depends on them.
            warnings.simplefilter("ignore", UserWarning)
            book = _listed(content, shown)
    except CaseloadError:
        raise
    except Exception as error:
        # Whatever is damaged, zipfile, zlib, the parser and openpyxl raise errors of many kinds.
        raise unreadable(shown) from error
    if not book.sheets:
        raise CaseloadError("holds no worksheet", where=shown, mend="Save it again as .xlsx or CSV.")
    return book


def unreadable(shown: str) -> CaseloadError:
    """The error of a file that is no workbook, or a damaged one."""
    return CaseloadError(
        "is no readable Excel workbook (.xlsx)", where=shown, mend="Save it again as .xlsx or CSV."
    )


def _listed(content: bytes, shown: str) -> Book:
    from openpyxl.packaging.relationship import get_rels_path
    from openpyxl.reader.excel import ExcelReader, _find_workbook_part
    from openpyxl.xml.constants import ARC_CONTENT_TYPES, SHARED_STRINGS

    sheets: dict[str, str] = {}
    # From memory, because openpyxl leaves a file open when it gives up on a damaged one.
    reader = ExcelReader(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
    with reader.archive as archive:
        _check_part("", archive.read(ARC_CONTENT_TYPES), MAX_LISTED, shown)
        reader.read_manifest()
        main = _find_workbook_part(reader.package).PartName.lstrip("/")
        for name in (main, get_rels_path(main)):
            _check_part(name, archive.read(name), MAX_LISTED, shown)
        reader.read_workbook()
        there = set(reader.valid_files)
        for sheet, target in reader.parser.find_sheets():
            if target.target in there and "chartsheet" not in target.Type:
                sheets.setdefault(sheet.name, target.target)
    texts = reader.package.find(SHARED_STRINGS)
    return Book(content, shown, sheets, texts.PartName.lstrip("/") if texts else "", reader.wb.epoch)


def _check_archive(content: bytes, shown: str) -> None:
    """Raise unless this is a ZIP archive of bearable size."""
    if len(content) > MAX_PACKED:
        raise _too_much(f"has {megabytes(len(content))}", megabytes(MAX_PACKED), shown)
    parts = content.count(b"PK\x01\x02")
    if parts > MAX_PARTS:
        raise _too_much(f"is an archive of {whole(parts)} parts", whole(MAX_PARTS), shown)
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            infos = archive.infolist()
    except Exception as error:
        raise unreadable(shown) from error
    unpacked, packed = (sum(getattr(info, size) for info in infos) for size in ("file_size", "compress_size"))
    most = min(MAX_UNPACKED, max(_SMALL, MAX_RATIO * packed))
    if unpacked > most:
        raise _too_much(f"would unpack to {megabytes(unpacked)}", megabytes(most), shown)


def _check_part(name: str, xml: bytes, most: int, shown: str) -> None:
    """Raise when a part declares entities, is not UTF-8, or has too many elements or attributes."""
    if (
        b"<!DOCTYPE" in xml
        or b"<!ENTITY" in xml
        or b"\x00" in xml
        or _CODED.match(xml)
        or _LONG_TAG.search(xml)
    ):
        raise unreadable(shown)
    elements = xml.count(b"<") - xml.count(b"</")
    if elements > most:
        raise _too_much(
            f"has {whole(elements)} pieces of mark-up in {name[:60] or 'the list of parts'}",
            whole(most),
            shown,
        )


def _too_much(found: str, most: str, shown: str) -> CaseloadError:
    return CaseloadError(
        f"{found}; at most {most} are read from a workbook",
        where=shown,
        mend="Save the table as CSV instead.",
    )
