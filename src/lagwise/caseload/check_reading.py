"""A caseload folder read as far as it goes: every problem of every table, and what is left beyond them.

Where `read` stops at its first question, this goes on with the likeliest edit that the question proposes.
Without one, a key of the plan, a column or a table that cannot be used is left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from lagwise.caseload.check_edits import applied
from lagwise.caseload.check_plan import Plan, read_plan
from lagwise.caseload.check_table import Problem, Table
from lagwise.caseload.places import Place, find_tables, folder_of, hash_files, shared_sheets, unused_files
from lagwise.caseload.reading import assembled, refuse_incomplete, unused
from lagwise.caseload.remarks import listed
from lagwise.caseload.study_file import study_from
from lagwise.caseload.table import load_grid
from lagwise.caseload.workbook_archive import opening_once
from lagwise.core import columns
from lagwise.core.claim import said
from lagwise.core.errors import CaseloadError, LagwiseError
from lagwise.core.results import Caseload
from lagwise.core.study import Study


@dataclass(frozen=True)
class Reading:
    """A folder as far as it can be read: its plan, all problems, the caseload under the likeliest edits that
    they propose (None where no table can be read), and the values of study.toml with these edits."""

    plan: Plan
    problems: tuple[Problem, ...]
    caseload: Caseload | None
    values: Mapping[str, Any]

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
    tables: dict[str, Table] = {}
    opened = opening_once()
    unfound = set()
    for name in columns.TABLES:
        try:
            found = find_tables(root, plan.study, opened, (name,))
            tables |= {table: Table(root, place, plan, opened) for table, place in found.items()}
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
        problems.append(_with_files(Problem.of(error), root, places))
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
    if all(problem.column != study.analysis.outcome for problem in problems):
        problems += map(Problem.of, unheld)
    if caseload is not None:
        caseload = replace(caseload, quarantine=with_headers(caseload.quarantine, places, study))
    return Reading(plan, tuple(problems), caseload, values)


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


def _with_files(problem: Problem, root: Path, places: Mapping[str, Place]) -> Problem:
    """The problem of a folder without tables, with the files that could be some and the way to a draft."""
    files = [] if places else unused_files(root, [])
    if not files:
        return problem
    given = " ".join(f'"{root.name}/{name}"' for name in files[:3]) + (" ..." if len(files) > 3 else "")
    mend = said("mend.draft", files=listed(files), given=given, mend=problem.mend)
    return replace(problem, mend=mend)


def with_the_rest(error: LagwiseError, folder: str | Path) -> LagwiseError:
    """The error at which reading stopped, with how many more a check of the folder names."""
    try:
        reading = read_as_far(folder)
    except (LagwiseError, OSError):
        return error
    more = len(reading.problems) - reading.plan.study.reviewed
    if more < 1:
        return error
    return type(error)(error.what, where=error.where, mend=said("mend.more", mend=error.mend, more=more))
