"""Checks on the order of things in time, and of rows in the file."""

from __future__ import annotations

from bisect import bisect_right

import numpy as np
import pandas as pd

from lagwise.caseload.remarks import Finding, found
from lagwise.core.columns import WHEN
from lagwise.core.results import Caseload

FAR_DAYS = 180
SILENT_DAYS = 28
FEW = 0.05
MIN_ROWS = 20
DATED = tuple((table, WHEN[table]) for table in ("sessions", "checkins", "weeks"))


def far_dates(caseload: Caseload) -> list[Finding]:
    """One or two dates of a person more than 180 days away from all the others: often a mistyped year."""
    out = []
    for table, column in DATED:
        far = _far_rows(getattr(caseload, table), column).sort_values("row")
        out += found(far, "far_date", table, column, days=FAR_DAYS)
    return out


def after_last_checkin(caseload: Caseload) -> list[Finding]:
    """Sessions over 28 days after the person's last check-in: training after drop-out, or lost check-ins."""
    sessions, last = caseload.sessions, caseload.checkins.groupby("person")["date"].max()
    if sessions.empty or last.empty:
        return []
    late = sessions[(sessions["date"] - sessions["person"].map(last)).dt.days > SILENT_DAYS]
    who, late = late["person"].nunique(), late.sort_values("row")
    return found(late, "after_last_checkin", "sessions", "date", who=who, days=SILENT_DAYS)


def in_a_break(caseload: Caseload) -> list[Finding]:
    """Sessions after a recorded break whose next recorded change of load is load_resumed, and before that."""
    marks = caseload.events[caseload.events["kind"].isin(["break", "load_reduced", "load_resumed"])]
    marks = marks.sort_values("date", kind="stable")[["person", "date", "kind"]]
    if marks.empty or caseload.sessions.empty:
        return []
    sessions = caseload.sessions[["person", "date", "row"]].sort_values("date", kind="stable")
    last, following = (
        pd.merge_asof(sessions, marks, on="date", by="person", direction=way, allow_exact_matches=False)[
            "kind"
        ]
        for way in ("backward", "forward")
    )
    days = pd.MultiIndex.from_frame(marks[["person", "date"]])
    today = pd.MultiIndex.from_frame(sessions[["person", "date"]]).isin(days)
    inside = sessions[(last.eq("break") & following.eq("load_resumed")).to_numpy() & ~today]
    return found(inside.sort_values("row"), "session_in_break", "sessions", "date")


def resumed_without_stop(caseload: Caseload) -> list[Finding]:
    """load_resumed without an earlier break, load_reduced, illness or injury of the same person."""
    events = caseload.events.sort_values(["person", "date"], kind="stable")
    stops = events["kind"].isin(["break", "load_reduced", "illness", "injury_elsewhere", "exercise_removed"])
    before = stops.astype(int).groupby(events["person"]).cumsum()
    odd = events[events["kind"].eq("load_resumed") & np.equal(before, 0)]
    return found(odd.sort_values("row"), "resumed_without_stop", "events")


def out_of_order(caseload: Caseload) -> list[Finding]:
    """A few dates (at most 5 % of the steps from row to row go back) that break the order of the file.

    Rows that repeat an earlier one, and dates far from all others, are named by other checks.
    """
    out = []
    for table, column in DATED:
        whole = getattr(caseload, table)
        if len(whole) < MIN_ROWS:
            continue
        frame = whole[~whole.duplicated([c for c in whole.columns if c != "row"])][["person", column, "row"]]
        frame = frame[~frame["row"].isin(_far_rows(whole, column)["row"])]
        frame = frame.sort_values(["person", "row"], kind="stable")
        back = frame[column].lt(frame[column].shift()) & frame["person"].eq(frame["person"].shift())
        if len(frame) < MIN_ROWS or not 0 < back.mean() <= FEW:
            continue
        some = frame[frame["person"].isin(frame.loc[back, "person"].unique())]
        odd = pd.concat([group[~_kept(group[column])] for _, group in some.groupby("person")])
        out += found(odd.sort_values("row"), "out_of_order", table, column)
    return out


def _far_rows(table: pd.DataFrame, column: str) -> pd.DataFrame:
    """Person, date and row of one or two dates of a person far away from all the others."""
    days = table[["person", column, "row"]].drop_duplicates(["person", column])
    if len(days) < 10:
        return days[:0]
    days = days.sort_values(["person", column])
    gap = days.groupby("person")[column].diff().dt.days.gt(FAR_DAYS)
    block = gap.groupby(days["person"]).cumsum()
    size = days.groupby(["person", block])["row"].transform("size")
    every = days.groupby("person")["row"].transform("size")
    return days[(size <= 2) & (size <= 0.1 * every)]


def _kept(dates: pd.Series) -> np.ndarray:
    """True on a longest run of rows, not necessarily adjacent, whose dates never go back."""
    days = dates.to_numpy().astype("int64").tolist()
    ends: list[int] = []
    at: list[int] = []
    before = [-1] * len(days)
    for i, day in enumerate(days):
        spot = bisect_right(ends, day)
        before[i] = at[spot - 1] if spot else -1
        ends[spot : spot + 1] = [day]
        at[spot : spot + 1] = [i]
    kept = np.zeros(len(days), dtype=bool)
    i = at[-1] if at else -1
    while i >= 0:
        kept[i] = True
        i = before[i]
    return kept
