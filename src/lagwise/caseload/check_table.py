"""One table read as far as it goes: past each question with the likeliest edit, or without the column."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from lagwise.caseload.check_edits import Edit, applied, edits_of, mending, written
from lagwise.caseload.check_plan import Plan, at_path, columns_named, without
from lagwise.caseload.places import Place, find_tables
from lagwise.caseload.reading import beside
from lagwise.caseload.repeats import step_of
from lagwise.caseload.study_file import study_from
from lagwise.caseload.table import TableRead, load_grid, read_table
from lagwise.caseload.workbook_archive import Book
from lagwise.core import columns
from lagwise.core.claim import told
from lagwise.core.errors import LagwiseError, StudyError
from lagwise.core.study import Study

MOST_TRIES = 30
"""Questions of one table that are looked for."""
FEW_HEADERS, LAST_HEADER, MOST_SHEETS = 3, 12, 3
"""Columns that a header names at least, the last row in which it is looked for, and sheets that are
proposed."""


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
        return cls(error.what, error.where, error.mend, table, column, edits_of(error.mend))

    def is_optional(self, study: Study) -> bool:
        """Whether it is about a column without which its table can be read."""
        return any(
            c.name == self.column and not c.required for c in columns.tables(study).get(self.table, ())
        )


@dataclass
class Table:
    """One table on its way: what is in question, the edits assumed, and what is read in the end."""

    root: Path
    place: Place
    plan: Plan
    opened: Callable[[bytes, str], Book]
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
        place, study = self._under(values)
        return read_table(place, study, partial(beside, dict(places), place.table, study), left)

    def _under(self, values: Mapping[str, Any]) -> tuple[Place, Study]:
        """Where the table is under these values of study.toml, and the plan that they make."""
        if values is self.plan.values:
            return self.place, self.plan.study
        study = study_from(values)
        found = find_tables(self.root, study, self.opened, (self.place.table,))[self.place.table]
        return replace(found, shared=self.place.shared), study

    def _step(
        self, error: LagwiseError, values: Mapping[str, Any], left: set[str]
    ) -> Mapping[str, Any] | None:
        """The values under which reading goes on past an error, which is noted; None where there are none."""
        table = self.place.table
        if moved := self._elsewhere(error, values):
            return moved
        absent = told(error.what).numbers if told(error.what).reason == "no_column" else {}
        column = absent.get("column") or told(error.where).numbers.get("column", "")
        theirs, edits = absent.get("theirs", column), edits_of(error.mend)
        named = theirs != column
        if named and (near := told(error.mend).numbers.get("near")):
            edits = tuple(
                Edit(path[:-1], {path[-1]: near})
                for path in columns_named(values, table, column)
                if theirs == at_path(values, path)
            )
        if self.stood_in and told(error.what).reason == "no_row":
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
            for path in columns_named(values, table, column):
                if theirs in (path[-1], at_path(values, path)):
                    kept = without(kept, path)
            if kept is not values and _usable(kept):
                return kept
        optional = {c.name for c in columns.tables(self.plan.study)[table] if not c.required}
        if column in optional - left:
            left.add(column)
            return values
        return self._with_stand_in(error, values, column)

    def _elsewhere(self, error: LagwiseError, values: Mapping[str, Any]) -> Mapping[str, Any] | None:
        """The values under which the header, or the sheet, is looked for elsewhere, where it is not where it
        was looked for; noted once each."""
        here, found = ("tables", self.place.table), told(error.what)
        if found.reason == "no_column" and "header" not in self.heard:
            self.heard.add("header")
            now, row, most = self._most_headers(values)
            if row and now < FEW_HEADERS:
                edit = Edit(here, {"header_row": row})
                what = f"row 1 names {now} column{'' if now == 1 else 's'}, and row {row} has {most}"
                mend = mending(f"Write {written(edit)}.", edit, beyond="")
                self.problems.append(Problem(what, self.place.shown, mend, here[1], edits=(edit,)))
                self.assumed.append(edit)
                return applied(values, edit)
        if found.reason == "no_sheet" and "sheet" not in self.heard:
            self.heard.add("sheet")
            edits = [Edit(here, {"sheet": name}) for name in found["sheets"]]
            fits = [edit for edit in edits if self._most_headers(applied(values, edit))[2] >= FEW_HEADERS]
            if fits:
                self.problems.append(replace(Problem.of(error, here[1]), edits=tuple(fits[:MOST_SHEETS])))
                self.assumed.append(fits[0])
                return applied(values, fits[0])
        return None

    def _most_headers(self, values: Mapping[str, Any]) -> tuple[int, int, int]:
        """How many columns the first row names; the row below it that names most (0 where none names more),
        and how many that is, or the first row's."""
        counts = []
        for row in range(1, LAST_HEADER + 1):
            try:
                new = applied(values, Edit(("tables", self.place.table), {"header_row": row}))
                counts.append(load_grid(*self._under(new)).frame.shape[1])
            except LagwiseError:
                counts.append(0)
        most = max(counts)
        return counts[0], (counts.index(most) + 1 if most > counts[0] else 0), most

    def _with_stand_in(
        self, error: LagwiseError, values: Mapping[str, Any], column: str
    ) -> Mapping[str, Any] | None:
        """The values with any header in the place of a required one that is not there and has no likeness, so
        that what else is in question is found; the table is not used then."""
        held = at_path(values, ("tables", self.place.table, "columns"), {})
        headers = told(error.what).numbers.get("headers", ())
        other = next((h for h in headers if h not in held.values()), None)
        if other is None or column in self.stood_in:
            return None
        self.stood_in.add(column)
        new = applied(values, Edit(("tables", self.place.table, "columns"), {column: other}))
        return new if _usable(new) else None


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
    people, when = frame["person"], next((name for name in columns.WHEN.values() if name in frame), None)
    steps = pd.DataFrame({"p": people, "s": step_of(people, frame[when], study.clock)}) if when else None
    said = 0 if steps is None else len(steps.drop_duplicates())
    return len(read.frame), int(people.nunique()), len(frame), said
