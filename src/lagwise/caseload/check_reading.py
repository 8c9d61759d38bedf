"""A caseload folder read as far as it goes: every problem of every table, and what is left beyond them.

Where `read` stops at its first question, this goes on with the likeliest edit that the question proposes.
Without one, a key of the plan, a column or a table that cannot be used is left out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from lagwise.caseload.check_edits import Edit, applied, edits_in
from lagwise.caseload.check_plan import NEAR, Plan, at_path, columns_named, read_plan, without
from lagwise.caseload.places import Place, find_tables, folder_of, hash_files, shared_sheets
from lagwise.caseload.reading import assembled, beside, refuse_incomplete, unused
from lagwise.caseload.repeats import step_of
from lagwise.caseload.study_file import study_from
from lagwise.caseload.table import TableRead, load_grid, read_table
from lagwise.caseload.workbook_archive import open_book
from lagwise.core import columns
from lagwise.core.errors import CaseloadError, LagwiseError, StudyError
from lagwise.core.results import Caseload
from lagwise.core.study import Study

MOST_TRIES = 30
"""Questions of one table that are looked for."""
_COLUMN = re.compile(r", columns? (?:for )?(\w+)$")
_HEADERS = re.compile(r"'([^']+)'(?=[,)])")
_NAMED_FOR = re.compile(r"there is no column '(.*)', named for (\w+) in study\.toml")


@dataclass(frozen=True)
class Problem:
    """What stops the reading: said as `read` would say it, the table and column it concerns, the edits that
    may mend it (likeliest first), and what the table would then hold: rows, people, values of the column, and
    steps of people; of a line of study.toml its number, and how it would be written."""

    what: str
    where: str
    mend: str
    table: str = ""
    column: str = ""
    edits: tuple[Edit, ...] = ()
    line: int = 0
    instead: str = ""
    brings: tuple[int, int, int, int] = (0, 0, 0, 0)

    @classmethod
    def of(cls, error: LagwiseError, table: str = "", column: str = "") -> Problem:
        """The problem that an error of the reading tells of."""
        return cls(error.what, error.where, error.mend, table, column, tuple(edits_in(error.mend)))

    def is_optional(self, study: Study) -> bool:
        """Whether it is about a column without which its table can be read."""
        return any(
            c.name == self.column and not c.required for c in columns.tables(study).get(self.table, ())
        )


@dataclass(frozen=True)
class Reading:
    """A folder as far as it can be read: its plan, all problems, the caseload under the likeliest edits that
    they propose (None where no table can be read), the values of study.toml with these edits, and the names
    of the files or sheets of a table that lies in several."""

    plan: Plan
    problems: tuple[Problem, ...]
    caseload: Caseload | None
    values: Mapping[str, Any]
    named: Mapping[str, tuple[str, ...]]

    @property
    def assumes(self) -> bool:
        """Whether the caseload is read under edits that are not made yet."""
        return self.values != self.plan.values


def read_as_far(folder: str | Path) -> Reading:
    """Read a caseload folder as far as it goes.

    Raises
    ------
    CaseloadError, StudyError
        When there is no folder, no study.toml, or nothing of it can be read.
    """
    plan = read_plan(folder)
    root = folder_of(folder)
    problems = [
        replace(Problem.of(fault.error), line=fault.line, instead=fault.instead) for fault in plan.problems
    ]
    tables: dict[str, _Table] = {}
    unfound = set()
    for name in columns.TABLES:
        try:
            found = find_tables(root, plan.study, open_book, (name,))
            tables |= {table: _Table(root, place, plan) for table, place in found.items()}
        except LagwiseError as error:
            unfound.add(name)
            if all((p.what, p.where) != (error.what, error.where) for p in problems):
                problems.append(Problem.of(error, name))
    places = shared_sheets({name: table.place for name, table in tables.items()})
    for name, place in places.items():
        tables[name].place = place
    for table in tables.values():
        table.read(places)
        problems += table.problems
    reads = {name: table.found for name, table in tables.items() if table.found is not None}
    try:
        refuse_incomplete(unfound | set(places), str(folder))
    except CaseloadError as error:
        problems.append(Problem.of(error))
        if reads.keys() & {"checkins", "sessions"}:
            reads.pop("weeks", None)
    values = plan.values
    for edit in (edit for table in tables.values() for edit in table.assumed):
        values = applied(values, edit)
    more, whole = [], hash_files(places.values())
    with suppress(CaseloadError):  # of a workbook whose sheet is in question nothing is told
        more = unused(root, places)
    unheld: list[CaseloadError] = []
    study = study_from(values)
    caseload = assembled(places, study, reads, more, whole, str(root), unheld.append) if reads else None
    problems += map(Problem.of, unheld)
    if caseload is not None:
        caseload = replace(caseload, quarantine=with_headers(caseload.quarantine, places, study))
    named = {name: place.named for name, place in places.items()}
    return Reading(plan, tuple(problems), caseload, values, named)


def with_headers(aside: pd.DataFrame, places: Mapping[str, Place], study: Study) -> pd.DataFrame:
    """What was set aside, of forms with one column per day with the `header` of each cell; else ''."""
    headers = pd.Series("", index=aside.index, dtype="str")
    for table, place in places.items():
        source = study.tables.get(table, place.source)
        mine = aside[(aside["table"] == table) & aside["column"].isin(list(source.wide))]
        if mine.empty or place.named:
            continue
        grid = load_grid(place, study)
        frame = grid.frame.astype("str").set_axis(grid.rows)
        taken: set[tuple[int, str]] = set()
        for at, row, column, value in mine[["row", "column", "value"]].itertuples():
            days = [" ".join(header.split()) for header in source.wide[column]]
            found = [h for h in days if h in frame and str(frame.loc[row, h]).strip() == str(value).strip()]
            free = [h for h in found if (row, h) not in taken][:1]
            taken |= {(row, h) for h in free}
            headers[at] = "".join(free)
    return aside.assign(header=headers)


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


@dataclass
class _Table:
    """One table on its way: what is in question, the edits assumed, and what is read in the end."""

    root: Path
    place: Place
    plan: Plan
    problems: list[Problem] = field(default_factory=list)
    assumed: list[Edit] = field(default_factory=list)
    found: TableRead | None = None
    heard: set[str] = field(default_factory=set)
    stood_in: set[str] = field(default_factory=set)

    def read(self, places: Mapping[str, Place]) -> None:
        """Read it, stepping past each question."""
        values: Mapping[str, Any] = self.plan.values
        left: set[str] = set()
        for _ in range(MOST_TRIES):
            try:
                self.found = self._read(values, frozenset(left), places)
                break
            except LagwiseError as error:
                stepped = self._step(error, values, left)
                if stepped is None:
                    return
                values = stepped
        if self.stood_in:
            self.found = None
        if self.found is not None:
            brought = [_brings(self.found, p.column, self.plan.study) for p in self.problems]
            self.problems = [replace(p, brings=b) for p, b in zip(self.problems, brought, strict=True)]

    def _read(
        self, values: Mapping[str, Any], left: frozenset[str], places: Mapping[str, Place]
    ) -> TableRead:
        study, place = self.plan.study, self.place
        if values is not self.plan.values:
            study = study_from(values)
            found = find_tables(self.root, study, open_book, (place.table,))[place.table]
            place = replace(found, shared=place.shared)
        return read_table(place, study, partial(beside, dict(places), place.table, study), left)

    def _step(
        self, error: LagwiseError, values: Mapping[str, Any], left: set[str]
    ) -> Mapping[str, Any] | None:
        """The values under which reading goes on past an error, which is noted; None where there are none."""
        table = self.place.table
        named, at = _NAMED_FOR.search(error.what), _COLUMN.search(error.where)
        column = named[2] if named else at[1] if at else _absent(error.what)
        edits = tuple(edits_in(error.mend))
        if named and (near := NEAR.search(error.mend)):
            edits = tuple(
                Edit(path[:-1], {path[-1]: near[1]})
                for path in columns_named(values, table, named[2])
                if named[1] == at_path(values, path)
            )
        if self.stood_in and error.what.startswith("none of its"):
            return None
        again = next((i for i, p in enumerate(self.problems) if column and p.column == column), None)
        if again is None:
            self.problems.append(replace(Problem.of(error, table, column), edits=edits))
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
                return new
        if named:
            kept = values
            for path in columns_named(values, table, named[2]):
                if named[1] in (path[-1], at_path(values, path)):
                    kept = without(kept, path)
            if kept is not values and _usable(kept):
                return kept
        optional = {c.name for c in columns.tables(self.plan.study)[table] if not c.required}
        if column in optional - left:
            left.add(column)
            return values
        return self._with_stand_in(error, values, column)

    def _with_stand_in(
        self, error: LagwiseError, values: Mapping[str, Any], column: str
    ) -> Mapping[str, Any] | None:
        """The values with any header in the place of a required one that is not there and has no likeness, so
        that what else is in question is found; the table is not used then."""
        held = at_path(values, ("tables", self.place.table, "columns"), {})
        other = next((h for h in _HEADERS.findall(error.mend) if h not in held.values()), None)
        if other is None or not error.what.startswith("there is no column") or column in self.stood_in:
            return None
        self.stood_in.add(column)
        new = applied(values, Edit(("tables", self.place.table, "columns"), {column: other}))
        return new if _usable(new) else None


def _absent(what: str) -> str:
    found = re.match(r"there is no column '(\w+)'", what)
    return found[1] if found else ""


def _usable(values: Mapping[str, Any]) -> bool:
    try:
        study_from(values)
    except StudyError:
        return False
    return True


def _brings(read: TableRead, column: str, study: Study) -> tuple[int, int, int, int]:
    """Rows and people of a table that was read, values of a column, and steps with a row (with a value of
    it); none without people."""
    frame = read.frame
    if column in frame and column not in columns.PLACING:
        frame = frame[frame[column].notna()]
    people, when = frame["person"], next((name for name in ("date", "week") if name in frame), None)
    steps = pd.DataFrame({"p": people, "s": step_of(people, frame[when], study.clock)}) if when else None
    said = 0 if steps is None else len(steps.drop_duplicates())
    return len(read.frame), int(people.nunique()), len(frame), said
