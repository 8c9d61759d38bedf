"""Checks on the order of things in time."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.caseload.remarks import Finding, places
from lagwise.core.results import Caseload

FAR_DAYS = 180
SILENT_DAYS = 28


def far_dates(caseload: Caseload) -> list[Finding]:
    """One or two dates of a person more than 180 days away from all the others: often a mistyped year."""
    out = []
    for table, column in (("sessions", "date"), ("checkins", "date"), ("weeks", "week")):
        far = far_rows(getattr(caseload, table), column)
        if len(far):
            far = far.assign(said=far[column].dt.strftime("%Y-%m-%d")).sort_values("row")
            out.append(
                Finding(
                    "far_date", table, f"Dates more than {FAR_DAYS} days away from the person's other dates",
                    places(far, "said"), len(far),
                    "The steps in between count as not recorded, and step numbers of the person shift",
                    "Check the year.",
                )
            )  # fmt: skip
    return out


def far_rows(table: pd.DataFrame, column: str) -> pd.DataFrame:
    """Person, date and row of one or two dates of a person more than 180 days away from all the others."""
    days = (
        table[["person", column, "row"]].drop_duplicates(["person", column]).sort_values(["person", column])
    )
    gap = days.groupby("person")[column].diff().dt.days.gt(FAR_DAYS)
    block = gap.groupby(days["person"]).cumsum()
    sizes = days.assign(block=block).groupby(["person", "block"]).size().rename("size").reset_index()
    sizes["all"] = sizes.groupby("person")["size"].transform("sum")
    alone = sizes[(sizes["size"] <= 2) & (sizes["size"] <= 0.1 * sizes["all"])]
    return days.assign(block=block).merge(alone, on=["person", "block"])[["person", column, "row"]]


def after_last_checkin(caseload: Caseload) -> list[Finding]:
    """Sessions more than 28 days after the person's last check-in: a session after drop-out,
    or lost check-ins."""
    sessions = caseload.sessions
    if sessions.empty or caseload.checkins.empty:
        return []
    last = caseload.checkins.groupby("person")["date"].max()
    late = sessions[(sessions["date"] - sessions["person"].map(last)).dt.days > SILENT_DAYS].sort_values(
        "row"
    )
    if late.empty:
        return []
    who = late["person"].nunique()
    return [
        Finding(
            "after_last_checkin", "sessions",
            f"Sessions of {who} {'person' if who == 1 else 'people'} more than {SILENT_DAYS} days after "
            f"the last check-in",
            places(late.assign(said=late["date"].dt.strftime("%Y-%m-%d")), "said"), len(late),
            "Load without ratings cannot answer the question; people may have stopped rating because "
            "of how they were",
            "Look for check-ins that were not exported, or for a wrong date or code.",
        )
    ]  # fmt: skip


def in_a_break(caseload: Caseload) -> list[Finding]:
    """Sessions after a recorded break whose next recorded change of load is load_resumed, and before that."""
    marks = caseload.events[caseload.events["kind"].isin(["break", "load_reduced", "load_resumed"])]
    marks = marks.sort_values("date", kind="stable")[["person", "date", "kind"]]
    if marks.empty or caseload.sessions.empty:
        return []
    sessions = caseload.sessions[["person", "date", "row"]].sort_values("date", kind="stable")
    last = pd.merge_asof(sessions, marks, on="date", by="person", allow_exact_matches=False)["kind"]
    following = pd.merge_asof(
        sessions, marks, on="date", by="person", direction="forward", allow_exact_matches=False
    )
    resumes_today = sessions.merge(marks.assign(today=True).drop_duplicates(["person", "date"]), how="left")[
        "today"
    ]
    inside = sessions[
        (last.eq("break") & following["kind"].eq("load_resumed") & resumes_today.isna()).to_numpy()
    ].sort_values("row")
    if inside.empty:
        return []
    return [
        Finding(
            "session_in_break", "sessions", "Sessions between a recorded break and the return to load",
            places(inside.assign(said=inside["date"].dt.strftime("%Y-%m-%d")), "said"), len(inside),
            "Either the break or the session has a wrong date, and load would be placed in the wrong step",
            "Correct the date of the break, the return or the session.",
        )
    ]  # fmt: skip


def resumed_without_stop(caseload: Caseload) -> list[Finding]:
    """load_resumed without an earlier break, load_reduced, illness or injury of the same person."""
    events = caseload.events.sort_values(["person", "date"], kind="stable")
    stops = events["kind"].isin(["break", "load_reduced", "illness", "injury_elsewhere", "exercise_removed"])
    before = stops.astype(int).groupby(events["person"]).cumsum()
    odd = events[events["kind"].eq("load_resumed") & np.equal(before, 0)].sort_values("row")
    if odd.empty:
        return []
    return [
        Finding(
            "resumed_without_stop", "events", "Load resumed although nothing before says that it was reduced",
            places(odd), len(odd), "Event pictures would start from the wrong day",
            "Add the earlier event, or correct it.",
        )
    ]  # fmt: skip
