"""Rows that are there twice, columns that number their rows, and tables and columns that are
not there at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd

from lagwise.caseload.check_edits import Edit, whole
from lagwise.caseload.convert import DTYPES
from lagwise.caseload.places import Place
from lagwise.caseload.remarks import Remark, at_rows, remark
from lagwise.caseload.sift import Faults
from lagwise.core import columns
from lagwise.core.claim import said
from lagwise.core.columns import WHEN, Column
from lagwise.core.legal import WEEKDAYS
from lagwise.core.study import Clock, Study
from lagwise.core.words import step_name

FEW, MANY = 10, 0.1
"""Rows, and their share of a table, beyond which several in one step are a question about the step,
not rows to set aside."""


def find(place: Place, frame: pd.DataFrame, study: Study, faults: Faults) -> None:
    """Note repeated rows of check-ins, people, weeks and events among the rows without a fault.

    A row that repeats an earlier one in every column, no cell of it set aside, is `duplicate_row`; in people
    and weeks, a second and different row of the same person (and week) is `person_twice`. Two check-ins of
    one day that differ are two ratings and stay; so do identical session rows, which may be two bouts of the
    same sets. Raises CaseloadError when weeks are mostly closer
    together than the study's steps.
    """
    table = place.table
    if table == "sessions":
        return
    good = frame.loc[~faults.rows]
    key = _key(table, good, study)
    content = good.drop(columns=["row", *([WHEN[table]] if table == "weeks" else [])])
    whole = content.assign(key=key) if key is not None else content
    unsure = pd.Series(faults.cells()[good.index], index=good.index)
    same = (whole[~unsure].duplicated(keep="first").reindex(good.index, fill_value=False)).to_numpy(
        dtype=bool
    )
    faults.add(good.index[same].to_numpy(), "", None, "duplicate_row", said("mend.duplicate", table=table))
    if key is not None:
        again = key.loc[~same].duplicated(keep="first")
        if table == "weeks":
            _refuse_more_often(place, good, again, study)
        step = study.step if study.clock.step_days % 7 else step_name(7)
        what = "person" if table == "people" else f"person and {step}"
        faults.add(
            again.index[again].to_numpy(), "person", frame["person"], "person_twice",
            said("mend.twice", what=what),
        )  # fmt: skip


def _refuse_more_often(place: Place, weeks: pd.DataFrame, again: pd.Series, study: Study) -> None:
    """Raise when several dates lie within a step in more than a few places: then a step is another length."""
    rows = weeks.loc[again.index[again]]
    days = weeks[WHEN["weeks"]].groupby(weeks["person"]).diff().dt.days.abs()
    usual = days[days > 0].median()
    if len(rows) <= max(FEW, MANY * len(weeks)) or not usual < study.clock.step_days:
        return
    edits = (Edit(("clock",), {"step_days": whole(usual)}),)
    raise place.error(
        f"{len(rows)} of {len(weeks)} rows fall into a {study.step} of the same person as an earlier row, "
        f"on another date; rows of a person are mostly {usual:g} {'day' if usual == 1 else 'days'} apart",
        said("mend.more_often", edits=edits, step=study.step),
    )


def identical_sessions(used: pd.DataFrame, cells: pd.DataFrame, named: Sequence[str] = ()) -> list[Remark]:
    """A remark when session rows repeat an earlier one exactly, in every cell of the file; they are kept.

    `cells` are the same rows with all their cells, those that are not used included (the number of the set,
    say). In a log with one row per set, equal rows that follow each other within a day are ordinary
    sets and no remark.
    """
    same = further(used)
    if same.any():
        same = same & cells.duplicated(keep="first").to_numpy()
    if not same.any():
        return []
    sets, rows = int(used.loc[same, "sets"].sum()), int(same.sum())
    where = at_rows(used.loc[same, "row"].tolist(), parts=named)
    return [remark("repeated_sessions", "sessions", "", rows, where, rows=rows, sets=sets)]


def contradicting(sessions: pd.DataFrame) -> pd.DataFrame:
    """Rows whose effort and reps in reserve are further than 1 apart; `said` tells both."""
    odd = sessions[(sessions["effort"] - (10 - sessions["reps_in_reserve"]).clip(lower=0)).abs() > 1]
    both = zip(odd["effort"], odd["reps_in_reserve"], strict=True)
    return odd.assign(said=[f"effort {e:g}, {r:g} in reserve" for e, r in both])


def further(sessions: pd.DataFrame) -> np.ndarray:
    """(n,) True where a row repeats an earlier one in a way that sets done one after the other do not.

    In a log with one row per set (no sets recorded, or never more than 1), equal rows within one stretch of
    rows of a person's day are its sets. A repeat from before another person's or day's rows is a
    repeat in any log.
    """
    told = [name for name in sessions.columns if name != "row" and sessions[name].notna().any()]
    same = sessions.duplicated(told, keep="first").to_numpy()
    if not same.any() or (sessions["sets"] > 1).any():
        return same
    ordered = sessions.sort_values("row", kind="stable")
    stretch = ordered[["person", "date"]].ne(ordered[["person", "date"]].shift()).any(axis=1).cumsum()
    before = stretch.groupby([ordered[name] for name in told], dropna=False).shift()
    return same & (stretch.ne(before) & before.notna()).reindex(sessions.index).to_numpy()


def _key(table: str, frame: pd.DataFrame, study: Study) -> pd.Series | None:
    if table == "people":
        return frame["person"]
    if table != "weeks":
        return None
    clock = study.clock
    week = clock if clock.step_days % 7 else replace(clock, step_days=7)
    return frame["person"] + " " + step_of(frame["person"], frame[WHEN[table]], week).astype("str")


def step_of(person: pd.Series, day: pd.Series, clock: Clock, *, calendar: bool = False) -> pd.Series:
    """The number of the step in which each day lies, as the panel counts: from the person's first day, where
    steps are whole weeks from the `week_starts` before it; with `calendar` such steps are those of all
    people."""
    first, since = day.groupby(person).transform("min"), pd.Timestamp(1970, 1, 1)
    if clock.step_days % 7 == 0:
        since += pd.Timedelta(days=(WEEKDAYS.index(clock.week_starts) - since.weekday()) % 7)
        ahead = (first - since).dt.days
        first -= pd.to_timedelta(ahead if calendar else ahead % 7, unit="D")
    return (day - first).dt.days // clock.step_days


def nothing(column: Column, count: int) -> pd.Series:
    """A column that is not recorded: missing on every row, in the column's type."""
    return pd.Series(None, index=pd.RangeIndex(count), dtype=DTYPES[column.kind])


def empty_frame(table: str, study: Study | None = None) -> pd.DataFrame:
    """A table without rows, with the columns of the contract, or of a plan, in order, and `row`."""
    return _empty((columns.TABLES if study is None else columns.tables(study))[table]).copy()


@cache
def _empty(own: tuple[Column, ...]) -> pd.DataFrame:
    return pd.DataFrame({c.name: nothing(c, 0) for c in own}).assign(row=pd.Series(dtype="int64"))


EXERCISES = 3
"""Exercises of a day with several rows that must count up, so that chance is out of the question."""
NEARLY_ALL = 0.95


def refuse_set_numbers(place: Place, frame: pd.DataFrame, header: str) -> None:
    """Raise CaseloadError when `sets` counts up 1, 2, 3 within each person's exercise and day.

    With `sets = "count"` under units the study says that it is how many, and nothing is asked.
    """
    rows = frame[frame["sets"].notna() & frame["person"].notna() & frame["date"].notna()]
    if place.source.units.get("sets") or len(rows) < 2 * EXERCISES:
        return
    by = rows.groupby(["person", "date", "exercise"], dropna=False, sort=False)["sets"]
    counts_up = rows["sets"] == by.cumcount() + 1
    several = by.transform("size") > 1
    if (
        counts_up.mean() < NEARLY_ALL
        or several.mean() < 0.5
        or (counts_up & several & (rows["sets"] == 1)).sum() < EXERCISES
    ):
        return
    one = Edit(("tables", "sessions"), {"constant": {"sets": 1}})
    many = Edit(("tables", "sessions", "units"), {"sets": "count"})
    raise place.error(
        "it counts up 1, 2, 3 within each exercise of a day; is this the number of the set, "
        "and not how many there were?",
        said(
            "mend.set_numbers",
            header=header if place.source.columns.get("sets") else "",
            edits=(one, many),
        ),
        "sets",
    )
