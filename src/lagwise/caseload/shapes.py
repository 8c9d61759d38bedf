"""Shapes that tables have in practices, as study.toml declares them: codes written once above their rows,
forms without a date, two tables in one sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.caseload.cells import TOTALS
from lagwise.caseload.grid import Grid, folded
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import PART, at_rows, remark
from lagwise.caseload.suggest import fits
from lagwise.core import columns
from lagwise.core.study import Study


def when(table: str) -> columns.Column:
    """The column that says of when a row is."""
    return next(c for c in columns.TABLES[table] if c.kind == "date" and c.required)


def dated(grid: Grid, place: Place, study: Study) -> tuple[Grid, Place]:
    """A form whose only dates are its headers, with the study's first day as the date of every row.

    A form with a column that could hold dates is left as it is, and so is one whose days lie within a week.
    """
    date = when(place.table)
    wide = {" ".join(h.split()) for days in place.source.wide.values() for h in days}
    plain = [h for h in grid.frame.columns if h not in wide]
    span = [n for days in place.source.wide.values() for n in days.values()]
    if (
        date.name in place.source.columns
        or any(folded(str(h)) == date.name or fits(date, grid.frame[h]) for h in plain)
        or max(span) - min(span) < 7
    ):
        return grid, place
    start = pd.Series(study.clock.start.isoformat(), index=grid.frame.index, dtype="str")
    told = remark("days_from_headers", place.table, date.name, len(grid.rows), start=study.clock.study_start)
    source = replace(place.source, date_format="%Y-%m-%d")
    return (
        replace(grid, frame=grid.frame.assign(**{date.name: start}), remarks=(*grid.remarks, told)),
        replace(place, source=source),
    )


def refuse_undated(place: Place, grid: Grid, person: str) -> None:
    """Raise where a form without dates has several rows of one person."""
    rows = (
        pd.DataFrame({"person": grid.frame[person].to_numpy(), "row": grid.rows}).dropna().drop_duplicates()
    )
    again = rows[rows["person"].duplicated(keep=False)]
    if len(again):
        raise place.error(
            f"has no column of dates, and several rows of {again['person'].iloc[0]} "
            f"({at_rows(again['row'].tolist()[:2], parts=place.named)})",
            f'Name the column that says when with {when(place.table).name} = "..." under '
            f"[tables.{place.table}.columns].",
        )


def filled_down(grid: Grid, theirs: Mapping[str, str], place: Place) -> Grid:
    """The cells of columns that are written once, above the rows they hold for.

    Nothing but the code itself goes beyond the rows of a person, and nothing beyond a sum or another file.
    """
    frame, remarks = grid.frame.copy(), list(grid.remarks)
    part = pd.Series(grid.rows // PART, index=frame.index)
    names = [n for n in ("person", *place.source.fill_down) if n in place.source.fill_down and n in theirs]
    for name in dict.fromkeys(names):
        header = theirs[name]
        block = [part]
        if name != "person" and "person" in place.source.fill_down and "person" in theirs:
            person = frame[theirs["person"]]
            block.append(person.ne(person.shift()).cumsum())
        own = frame[header]
        down = own.groupby(block).ffill()
        stop = down.astype("str").str.strip().str.rstrip(":").str.lower().isin({*TOTALS, header.lower()})
        new = (own.isna() & down.notna() & ~stop.fillna(False)).to_numpy(dtype=bool)
        frame[header] = own.where(~new, down)
        where = at_rows(grid.rows[new].tolist(), frame[header][new].tolist(), place.named)
        remarks.append(remark("filled_down", place.table, name, int(new.sum()), where))
    return replace(grid, frame=frame, remarks=tuple(remarks))


def own_rows(grid: Grid, theirs: Mapping[str, str], place: Place) -> np.ndarray:
    """(n,) True for the rows of a sheet of several tables that say something of this one.

    What an earlier row of the same person and day says in the same words is said once; sessions keep all.
    """
    placing = [theirs[name] for name in columns.PLACING if name in theirs]
    own = [h for name, h in theirs.items() if name not in columns.PLACING]
    says = grid.frame[own].notna().any(axis=1)
    if place.table == "people":
        placing = [theirs["person"]]
    elif place.table == "sessions" or not own:
        return says.to_numpy(dtype=bool)
    return (says & ~grid.frame[[*placing, *own]].duplicated()).to_numpy(dtype=bool)


def only(grid: Grid, keep: np.ndarray, place: Place) -> Grid:
    """The grid with some of its rows, which is remarked on."""
    if keep.all():
        return grid
    at = np.flatnonzero(keep)
    where = {old: new for new, old in enumerate(at.tolist())}
    told = remark("rows_of_another_table", place.table, "", int((~keep).sum()))
    return replace(
        grid,
        frame=grid.frame.iloc[at].reset_index(drop=True),
        rows=grid.rows[at],
        ragged={where[i]: text for i, text in grid.ragged.items() if i in where},
        remarks=(*grid.remarks, told),
    )
