"""Checks on the order of rows in the file, and on check-ins that say a thing twice."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np
import pandas as pd

from lagwise.caseload.check_sequence import far_rows
from lagwise.caseload.remarks import Finding, places
from lagwise.core.columns import ratings, scales_of_ten
from lagwise.core.results import Caseload

FEW = 0.05
MIN_ROWS = 20
RARE_DAYS = 5
SOON = pd.Timedelta(minutes=10)


def out_of_order(caseload: Caseload) -> list[Finding]:
    """A few dates (at most 5 % of the steps from row to row go back)
    that break the order the file otherwise keeps.

    Rows that repeat an earlier one, and dates far from all others,
    are named by other checks and left out here.
    """
    out = []
    for table, column in (("sessions", "date"), ("checkins", "date"), ("weeks", "week")):
        whole = getattr(caseload, table)
        frame = whole[~whole.duplicated([c for c in whole.columns if c != "row"])][["person", column, "row"]]
        frame = frame[~frame["row"].isin(far_rows(whole, column)["row"])]
        frame = frame.sort_values(["person", "row"], kind="stable")
        back = frame[column].lt(frame[column].shift()) & frame["person"].eq(frame["person"].shift())
        if len(frame) < MIN_ROWS or not 0 < back.mean() <= FEW:
            continue
        some = frame[frame["person"].isin(frame.loc[back, "person"].unique())]
        odd = pd.concat([group[~_kept(group[column])] for _, group in some.groupby("person")]).sort_values(
            "row"
        )
        out.append(
            Finding(
                "out_of_order", table, "Dates that break the order of dates which the file keeps otherwise",
                places(odd.assign(said=odd[column].dt.strftime("%Y-%m-%d")), "said"), len(odd),
                "A date may be mistyped or exchanged with another row's; "
                "the row would then count in the wrong step",
                "Compare these rows with the ones around them; nothing, "
                "if they were only written down later.",
            )
        )  # fmt: skip
    return out


def second_ratings(caseload: Caseload) -> list[Finding]:
    """A second check-in of one person within ten minutes, or on one day without times,
    that says something else."""
    again, same = _soon_again(caseload.checkins, ratings(caseload.study))
    odd = again[~same]
    if not 0 < len(odd) <= FEW * len(caseload.checkins):
        return []
    return [
        Finding(
            "second_ratings", "checkins", "A second check-in at the same moment says something else",
            places(odd.assign(said=odd["date"].dt.strftime("%Y-%m-%d")), "said"), len(odd),
            "Both count, as two ratings; if one corrects the other, "
            "the step's mean lies between right and wrong",
            "Nothing, if both count. If one corrects the other, "
            "leave the corrected one out of a copy of the file.",
        )
    ]  # fmt: skip


def sent_twice(caseload: Caseload) -> list[Finding]:
    """The same check-in again within ten minutes, or the next day where a person rates every five
    days or less often."""
    again, same = _soon_again(caseload.checkins, ratings(caseload.study))
    twice = pd.concat([again[same], _next_day(caseload.checkins, ratings(caseload.study))]).sort_values("row")
    if twice.empty:
        return []
    return [
        Finding(
            "sent_twice", "checkins", "The same check-in once more, minutes later or on the next day",
            places(twice.assign(said=twice["date"].dt.strftime("%Y-%m-%d")), "said"), len(twice),
            "One answer counts twice, and a step seems to have more ratings than were given",
            "Nothing, if the person did answer twice. If it was sent twice, "
            "leave the second one out of a copy of the file.",
        )
    ]  # fmt: skip


def straight_lines(caseload: Caseload) -> list[Finding]:
    """People of whose check-ins at least half, and four, give one number other than 0 on every one of
    three or more scales."""
    c = caseload.checkins
    given = c[scales_of_ten(caseload.study)]
    rated = given.notna().sum(axis=1) >= 3
    flat = rated & (given.max(axis=1) == given.min(axis=1)) & (given.max(axis=1) > 0)
    by = c.assign(flat=flat, rated=rated).groupby("person")[["flat", "rated"]].sum()
    who = by.index[(by["flat"] >= 4) & (by["flat"] >= 0.5 * by["rated"])]
    odd = c[flat & c["person"].isin(who)]
    if odd.empty:
        return []
    first = odd.drop_duplicates("person")
    return [
        Finding(
            "straight_lines", "checkins", "One number on every scale, in most check-ins of a person",
            places(first), len(odd),
            "Filled in without reading, they tie pain to stress and worry where nothing ties them",
            "Ask how these were filled in; nothing, if the person did answer so.",
        )
    ]  # fmt: skip


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


def _soon_again(checkins: pd.DataFrame, rated: Sequence[str]) -> tuple[pd.DataFrame, pd.Series]:
    """Check-ins within ten minutes of the person's last one, or of the same day without times;
    and which say the same."""
    c = checkins.dropna(subset=list(rated), how="all").sort_values(
        ["person", "date", "time", "row"], kind="stable"
    )
    clock = pd.to_timedelta(c["time"] + ":00")
    before = c.shift()
    beside = c["person"].eq(before["person"]) & c["date"].eq(before["date"])
    soon = beside & ((clock - clock.shift() <= SOON) | (clock.isna() & clock.shift().isna()))
    same = _alike(c, before, rated)
    return c[soon], same[soon]


def _next_day(checkins: pd.DataFrame, rated: Sequence[str]) -> pd.DataFrame:
    """Check-ins of at least three ratings that say the same as the day before, of people who rate seldom."""
    c = checkins.sort_values(["person", "date", "row"], kind="stable")
    gap = c.groupby("person")["date"].diff().dt.days
    usual = (
        gap[gap > 1]
        .groupby(c["person"])
        .transform("median")
        .groupby(c["person"])
        .first()
        .reindex(c["person"])
    )
    given = c[list(rated)]
    told = given.notna().sum(axis=1).ge(3) & given.fillna(0).gt(0).any(axis=1)
    return c[gap.eq(1) & told & _alike(c, c.shift(), rated) & (usual.to_numpy() >= RARE_DAYS)]


def _alike(one: pd.DataFrame, other: pd.DataFrame, rated: Sequence[str]) -> pd.Series:
    """Where two frames say the same in every rating."""
    told = [*rated, "flare"]
    return (
        (one[told] == other[told]).fillna(False).astype(bool) | (one[told].isna() & other[told].isna())
    ).all(axis=1)
