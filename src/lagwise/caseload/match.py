"""Which header of a file is which column of the contract, and what is left over."""

from __future__ import annotations

import pandas as pd

from lagwise.caseload.check_edits import Edit, mending, written
from lagwise.caseload.grid import folded
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark, remark, shown
from lagwise.caseload.repairs import on
from lagwise.caseload.study_text import toml_value
from lagwise.caseload.suggest import Others, no_column
from lagwise.core import columns
from lagwise.core.study import Study


def wanted_headers(place: Place, study: Study) -> tuple[str, ...]:
    """Headers, lower-cased, without which a row cannot be this table's header."""
    named = place.source.columns
    required = (
        c.name
        for c in columns.tables(study)[place.table]
        if c.required and not (c.name == "person" and place.source.person_from)
    )
    return tuple(" ".join(named.get(name, name).split()).lower() for name in required)


def used_headers(place: Place, study: Study) -> tuple[str, ...]:
    """Headers, lower-cased, whose values may be read."""
    named = place.source.columns
    names = [c.name for c in columns.tables(study)[place.table]]
    wide = [header for days in place.source.wide.values() for header in days]
    return tuple(h.strip().lower() for h in (*names, *named.values(), *wide))


def match(
    place: Place, frame: pd.DataFrame, study: Study, others: Others = tuple
) -> tuple[dict[str, str], list[str], list[Remark]]:
    """Which header is which column of the contract, headers that mean nothing to us, and remarks; raises
    CaseloadError when a required or declared one is missing.

    `others` gives the folder's other tables as they lie in their files,
    to tell codes of people by their being shared.
    """
    unwanted = {folded(header) for header in place.source.ignore}
    if unwanted:
        frame = frame[[h for h in frame.columns if folded(str(h)) not in unwanted]]
    headers = list(frame.columns)
    own = columns.tables(study)[place.table]
    by_name = {column.name: column for column in own}
    declared = {ours: " ".join(theirs.split()) for ours, theirs in place.source.columns.items()}
    theirs: dict[str, str] = {}
    remarks: list[Remark] = []
    for ours, header in declared.items():
        if header not in headers:
            raise no_column(place, by_name[ours], header, frame, [*declared.values()], others)
        theirs[ours] = header
    taken = set(theirs.values())
    for column in own:
        if column.name not in theirs and column.name in headers and column.name not in taken:
            theirs[column.name] = column.name
    taken = set(theirs.values())
    for column in own:
        if column.name in theirs:
            continue
        alike = [h for h in headers if h not in taken and folded(h) == column.name]
        if alike and on(study.repair, "column_names"):
            one = alike[0]
            edits = [Edit(("tables", place.table, "columns"), {column.name: header}) for header in alike]
            if len(alike) > 1:
                raise place.error(
                    f"'{one}' and '{alike[1]}' could both be {column.name}",
                    mending(
                        f"Write {column.name} = {toml_value(one)} or {written(edits[1])}.",
                        *edits[:2],
                        beyond="",
                    ),
                )
            theirs[column.name] = one
            where = f"'{shown(one)}'"
            remarks.append(
                remark("repair_column_names", place.table, column.name, 1, where, edits=tuple(edits[:1]))
            )
        elif column.required:
            raise no_column(place, column, column.name, frame, [*theirs.values()], others)
    return theirs, [h for h in headers if h not in theirs.values()], remarks
