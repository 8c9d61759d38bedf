"""A caseload folder read as far as it goes: every problem of every table, and what is left without them.

Where `read` stops at its first question, this goes on: a key of the plan that cannot be used, a column in
question and a table that cannot be read are left out. Beside it the folder is read as it would be with the
edits that the problems propose, which tells what they would bring.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from lagwise.caseload.check_edits import Edit, applied, asks_for_words, edits_in
from lagwise.caseload.check_plan import Plan, columns_named, read_plan, without
from lagwise.caseload.places import Place, find_tables, folder_of, hash_files, shared_sheets
from lagwise.caseload.reading import assembled, beside, refuse_incomplete, unused
from lagwise.caseload.study_file import study_from
from lagwise.caseload.table import TableRead, read_table
from lagwise.caseload.workbook_archive import open_book
from lagwise.core import columns
from lagwise.core.errors import CaseloadError, LagwiseError, StudyError
from lagwise.core.results import Caseload
from lagwise.core.study import Study

MOST_TRIES = 30
"""Questions of one table that are looked for."""
_COLUMN = re.compile(r", columns? (?:for )?(\w+)$")
_NAMED_FOR = re.compile(r"there is no column '(.*)', named for (\w+) in study\.toml")


@dataclass(frozen=True)
class Problem:
    """What stops the reading: said as `read` would say it, the table and column it concerns, the edits that
    may mend it (likeliest first), and what the table would then hold: rows, people, and values of the
    column."""

    what: str
    where: str
    mend: str
    table: str = ""
    column: str = ""
    edits: tuple[Edit, ...] = ()
    brings: tuple[int, int, int] = (0, 0, 0)

    @classmethod
    def of(cls, error: LagwiseError, table: str = "", column: str = "") -> Problem:
        """The problem that an error of the reading tells of."""
        return cls(error.what, error.where, error.mend, table, column, tuple(edits_in(error.mend)))

    @property
    def of_the_plan(self) -> bool:
        """Whether study.toml is what has to be changed."""
        return bool(self.edits) or self.where.startswith("study.toml") or asks_for_words(self.mend)


@dataclass(frozen=True)
class Reading:
    """A folder as far as it can be read. `caseload` is what is left without what is in question, None where
    that is no caseload; `would` is read with the proposed edits, None where they change nothing or are not
    enough."""

    plan: Plan
    problems: tuple[Problem, ...]
    caseload: Caseload | None
    would: Caseload | None


def read_as_far(folder: str | Path) -> Reading:
    """Read a caseload folder as far as it goes.

    Raises
    ------
    CaseloadError, StudyError
        When there is no folder, no study.toml, or nothing of it can be read.
    """
    plan = read_plan(folder)
    root = folder_of(folder)
    problems = [Problem.of(error) for error in plan.problems]
    tables: dict[str, _Table] = {}
    unfound = set()
    for name in columns.TABLES:
        try:
            found = find_tables(root, plan.study, open_book, (name,))
        except LagwiseError as error:
            unfound.add(name)
            if all((p.what, p.where) != (error.what, error.where) for p in problems):
                problems.append(Problem.of(error, name))
        else:
            tables |= {table: _Table(root, place, plan) for table, place in found.items()}
    places = shared_sheets({name: table.place for name, table in tables.items()})
    for name, place in places.items():
        tables[name].place = place
    for table in tables.values():
        table.read(places)
        problems += table.problems
    stands = {name: table.stands for name, table in tables.items() if table.stands is not None}
    would = stands | {name: table.hopes for name, table in tables.items() if table.hopes is not None}
    try:
        refuse_incomplete(unfound | set(places), str(folder))
    except CaseloadError as error:
        problems.append(Problem.of(error))
        for held in (stands, would):
            if held.keys() & {"checkins", "sessions"}:
                held.pop("weeks", None)
    values = plan.values
    for table in tables.values():
        values = applied_all(values, table.assumed)
    more, whole = unused(root, places), hash_files(places.values())
    unheld: list[CaseloadError] = []

    def made(reads: dict[str, TableRead], study: Study) -> Caseload | None:
        unheld.clear()
        return assembled(places, study, reads, more, whole, str(root), unheld.append) if reads else None

    caseload = made(stands, plan.study)
    changed = any(table.hopes is not None for table in tables.values())
    other = made(would, study_from(values)) if changed else None
    problems += map(Problem.of, unheld)
    return Reading(plan, tuple(problems), caseload, other)


def with_the_rest(error: LagwiseError, folder: str | Path) -> LagwiseError:
    """The error at which reading stopped, with how many more a check of the folder names."""
    try:
        reading = read_as_far(folder)
    except (LagwiseError, OSError):
        return error
    more = len(reading.problems) - reading.plan.study.reviewed
    if more < 1:
        return error
    one = "There is 1 more such problem" if more == 1 else f"There are {more} more such problems"
    mend = f"{error.mend} {one}; `lagwise check` names them all at once.".strip()
    return type(error)(error.what, where=error.where, mend=mend)


def applied_all(values: Mapping[str, Any], edits: list[Edit]) -> Mapping[str, Any]:
    """The values of a study.toml with edits made."""
    for edit in edits:
        values = applied(values, edit)
    return values


@dataclass
class _Table:
    """One table on its way: what is left of it as the plan stands, and what it would be with edits
    assumed."""

    root: Path
    place: Place
    plan: Plan
    problems: list[Problem] = field(default_factory=list)
    assumed: list[Edit] = field(default_factory=list)
    stands: TableRead | None = None
    hopes: TableRead | None = None
    heard: set[str] = field(default_factory=set)

    def read(self, places: Mapping[str, Place]) -> None:
        """Read it, stepping past each question."""
        values: Mapping[str, Any] = self.plan.values
        left: set[str] = set()
        open_: set[str] = set()
        """Columns of ours in question, '' for the table."""
        for _ in range(MOST_TRIES):
            try:
                read = self._read(values, frozenset(left), places)
                break
            except LagwiseError as error:
                stepped = self._step(error, values, left, open_)
                if stepped is None:
                    return
                values = stepped
        else:
            return
        required = {c.name for c in columns.tables(self.plan.study)[self.place.table] if c.required} | {""}
        if not open_ & required:
            self.stands = read
            if self.assumed:
                self.hopes = read
                self.stands = self._try(self.plan.values, frozenset(left | open_), places)
        else:
            self.hopes = read
        self.problems = [replace(p, brings=_brings(read, p.column)) for p in self.problems]

    def _read(
        self, values: Mapping[str, Any], left: frozenset[str], places: Mapping[str, Place]
    ) -> TableRead:
        study, place = self.plan.study, self.place
        if values is not self.plan.values:
            study = study_from(values)
            found = find_tables(self.root, study, open_book, (place.table,))[place.table]
            place = replace(found, shared=place.shared)
        return read_table(place, study, partial(beside, dict(places), place.table, study), left)

    def _try(
        self, values: Mapping[str, Any], left: frozenset[str], places: Mapping[str, Place]
    ) -> TableRead | None:
        try:
            return self._read(values, left, places)
        except LagwiseError:
            return None

    def _step(
        self, error: LagwiseError, values: Mapping[str, Any], left: set[str], open_: set[str]
    ) -> Mapping[str, Any] | None:
        """The values under which reading goes on past an error, which is noted; None where there are none."""
        table = self.place.table
        named, at = _NAMED_FOR.search(error.what), _COLUMN.search(error.where)
        column = named[2] if named else at[1] if at else _absent(error.what)
        edits = tuple(edits_in(error.mend))
        again = next((i for i, p in enumerate(self.problems) if column and p.column == column), None)
        if again is None:
            self.problems.append(Problem.of(error, table, column))
        elif not self.problems[again].edits:
            first = self.problems[again]
            mend = f"{first.mend} {error.mend}" if error.mend not in first.mend else first.mend
            self.problems[again] = replace(first, mend=mend, edits=edits)
        elif any(edit in self.assumed for edit in edits) or str(error) in self.heard:
            return None
        self.heard.add(str(error))
        for edit in edits:
            new = applied(values, edit)
            if edit not in self.assumed and _usable(new):
                self.assumed.append(edit)
                open_.add(column)
                return new
        if named:
            kept = values
            for path in columns_named(values, table, named[2]):
                if named[1] in (path[-1], _at(values, path)):
                    kept = without(kept, path)
            if kept is not values and _usable(kept):
                return kept
        optional = {c.name for c in columns.tables(self.plan.study)[table] if not c.required}
        if column in optional - left:
            left.add(column)
            return values
        return None


def _absent(what: str) -> str:
    found = re.match(r"there is no column '(\w+)'", what)
    return found[1] if found else ""


def _at(values: Mapping[str, Any], path: tuple[str, ...]) -> Any:
    inner: Any = values
    for key in path:
        inner = inner[key]
    return inner


def _usable(values: Mapping[str, Any]) -> bool:
    try:
        study_from(values)
    except StudyError:
        return False
    return True


def _brings(read: TableRead, column: str) -> tuple[int, int, int]:
    """Rows and people of a table that was read, and values of a column; without one, no values."""
    frame = read.frame
    return (
        len(frame),
        int(frame["person"].nunique()),
        int(frame[column].notna().sum()) if column in frame else 0,
    )
