"""Sheets that are one table in several pieces (a file for each person, say), pasted together."""

from __future__ import annotations

import fnmatch
import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from lagwise.caseload.identifiers import codes_that_identify
from lagwise.caseload.suggest import meanings
from lagwise.core.claim import said
from lagwise.core.columns import CHECKINS, SESSIONS
from lagwise.drafts.guess import Guess, look, sure
from lagwise.drafts.looking import Sheet

_ALIKE = 0.75
MEASURES = frozenset(c.name for c in (*CHECKINS, *SESSIONS) if c.kind in ("number", "count"))


@dataclass(frozen=True)
class Group:
    """Sheets of the same headers, and one sheet that holds the rows of all."""

    members: tuple[Sheet, ...]
    sheet: Sheet

    @property
    def by_sheet(self) -> bool:
        """Whether the members are sheets of one workbook."""
        return len({one.file for one in self.members}) == 1 and bool(self.members[0].name)

    @property
    def pieces(self) -> tuple[str, ...]:
        """The names that tell the members apart."""
        return tuple(one.name if self.by_sheet else one.file for one in self.members)


def grouped(sheets: Iterable[Sheet]) -> list[Group]:
    """Sheets with the same headers in the same row, together."""
    found: list[list[Sheet]] = []
    for sheet in sheets:
        for other in found:
            if _alike(other[0], sheet):
                other.append(sheet)
                break
        else:
            found.append([sheet])
    return [Group(tuple(one), _pasted(one)) for one in found]


def _alike(one: Sheet, other: Sheet) -> bool:
    """Whether two sheets are pieces of one table: their names may not be those of different measures."""
    if _named(one) != _named(other):
        return False
    a, b = {*one.headers}, {*other.headers}
    return (
        len(a) >= 2
        and len(a & b) >= _ALIKE * len(a | b)
        and one.sep == other.sep
        and one.header == other.header
    )


def _named(sheet: Sheet) -> str:
    """The measure that a sheet is named after; empty where it is none."""
    told = meanings(sheet.name or Path(sheet.file).stem)
    return next((name for name, *_ in told if name in MEASURES), "")


def _pasted(sheets: Sequence[Sheet]) -> Sheet:
    if len(sheets) == 1:
        return sheets[0]
    frame = pd.concat([one.frame for one in sheets], ignore_index=True)
    encoding = next((one.encoding for one in sheets if one.encoding == "cp1252"), sheets[0].encoding)
    return replace(sheets[0], frame=frame, encoding=encoding)


def placed(group: Group, files: Sequence[str], has_person: bool, names: str = "") -> list[Guess]:
    """Guesses on where a table lies, and where the code of the person stands when no column has it.

    `names` is a header that looks like names, which stand in the place of codes.
    """
    first, pieces = group.members[0], group.pieces
    n = len(pieces)
    if n == 1 and (has_person or names):
        out = [sure("file", first.file, said("draft.rows", rows=len(first.frame)))]
        out += [sure("sheet", first.name, said("draft.sheet"))] if first.name else []
        why = said("draft.looks_like_names", header=names)
        return out if has_person else [*out, look("person_from", "file", why, on=False)]
    rows = len(group.sheet.frame)
    if group.by_sheet:
        out = [
            sure("file", first.file, said("draft.rows_in_all", rows=rows)),
            sure("sheets", list(pieces), said("draft.sheets", sheets=n)),
        ]
    else:
        out = [sure("files", _pattern(pieces, files), said("draft.files", files=n, rows=rows))]
        one_name = first.name and all(one.name == first.name for one in group.members)
        out += [sure("sheet", first.name, said("draft.in_each"))] if one_name else []
    return out if has_person else [*out, _person_from(group)]


def _person_from(group: Group) -> Guess:
    kind = "sheet" if group.by_sheet else "file"
    codes = [Path(piece).stem if kind == "file" else piece for piece in group.pieces]
    told = ", ".join(f"'{code}'" for code in codes[:3])
    if len(codes) > 1 and codes_that_identify("", pd.Series(codes, dtype="str")):
        why = said("draft.code_named", kind=kind)
        return look("person_from", kind, why, on=False)
    if len(codes) > 1 and all(code.isalpha() and len(code) <= 3 for code in codes):
        why = said("draft.code_initials", kind=kind, codes=told)
        return look("person_from", kind, why)
    why = said(f"draft.{'code_of_one' if len(codes) == 1 else 'code_in_name'}", kind=kind, codes=told)
    return sure("person_from", kind, why) if len(codes) > 2 else look("person_from", kind, why)


def _pattern(names: Sequence[str], files: Sequence[str]) -> list[str]:
    """One pattern that fits these names and no other file, else the names."""
    start, end = _alike_start(names), _alike_start([name[::-1] for name in names])[::-1]
    pattern = f"{start.rstrip('0123456789')}*{end if end.startswith('.') else Path(names[0]).suffix}"
    fits = {f for f in files if fnmatch.fnmatchcase(f, pattern)}
    return [pattern] if len(names) > 1 and fits == {*names} and not {*"[]?"} & {*start} else list(names)


def _alike_start(names: Sequence[str]) -> str:
    """The characters with which all names begin."""
    letters = zip(*names, strict=False)
    return "".join(one[0] for one in itertools.takewhile(lambda one: len({*one}) == 1, letters))
