"""Check-in rows -> how the person was in each step, and the last pain before its first session."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.columns import RATINGS
from lagwise.core.study import Clock
from lagwise.panel.clock import Grid, Records, day_numbers, minutes_of_day, numbers
from lagwise.panel.sums import count, highest, last, mean

PAIN_SUMMARIES = ("mean", "worst", "last")


def in_order(checkins: pd.DataFrame) -> pd.DataFrame:
    """Check-ins by person, date, time (those without one first) and file row; the caller's frame is left alone."""
    keys = pd.DataFrame(
        {
            "person": checkins["person"].astype("str"),
            "day": day_numbers(checkins["date"]),
            "time": np.nan_to_num(minutes_of_day(checkins), nan=-1.0),
            "row": checkins["row"] if "row" in checkins.columns else np.arange(len(checkins)),
        }
    )
    return checkins.loc[keys.sort_values(list(keys.columns), kind="stable").index]


def rating_steps(checkins: pd.DataFrame, row: np.ndarray, size: int) -> dict[str, np.ndarray]:
    """Columns of the blocks that come from ratings, one value per grid row; `checkins` as `in_order` gives them.

    Returns
    -------
    dict
        Means of the ratings but pain, n_checkins, n_ratings, pain_mean, pain_worst, pain_last, flare_reported.
    """
    pain = numbers(checkins, "pain")
    out = {name: mean(row, numbers(checkins, name), size) for name in RATINGS if name != "pain"}
    return out | {
        "n_checkins": count(row, size),
        "n_ratings": count(row, size, ~np.isnan(pain)),
        "pain_mean": mean(row, pain, size),
        "pain_worst": highest(row, pain, size),
        "pain_last": last(row, pain, size),
        "flare_reported": highest(row, numbers(checkins, "flare"), size),
    }


def pain_before(
    sessions: pd.DataFrame, trained_at: Records, checkins: pd.DataFrame, rated_at: Records, grid: Grid, clock: Clock
) -> np.ndarray:
    """(size,) last pain rating before each step's first session, at most `step_days` days older than it.

    On the day of the first session a rating counts when `checkin_time` is 'morning', or when its time and the
    session's are known and it is earlier. In a step without session rows: the last rating before the step starts
    and at most `step_days` days old. `checkins` as `in_order` gives them.
    """
    pain = numbers(checkins, "pain")
    known = np.flatnonzero(~np.isnan(pain))
    pain, person, day = pain[known], rated_at.person[known], rated_at.day[known]
    minute = minutes_of_day(checkins)[known]
    first_day, first_minute, has_session = _first_sessions(sessions, trained_at, grid)
    origin = min(day.min(initial=0), grid.anchor.min()) - 1
    span = max(day.max(initial=0), int(grid.start_day.max()) + grid.step_days) - origin + 2
    by_day = person * span + (day - origin)
    until = first_day + (has_session & (clock.checkin_time == "morning"))
    out = _latest(
        by_day, pain, grid.person * span + (until - origin), grid.person * span + (first_day - origin) - clock.step_days
    )
    timed = ~np.isnan(minute)
    same_day = _latest(
        by_day[timed] * 1441 + minute[timed],
        pain[timed],
        (grid.person * span + (first_day - origin)) * 1441.0 + np.nan_to_num(first_minute, nan=0.0),
        (grid.person * span + (first_day - origin)) * 1441.0,
    )
    use = ~np.isnan(first_minute) & ~np.isnan(same_day) & (clock.checkin_time != "morning")
    return np.where(use, same_day, out)


def _latest(keys: np.ndarray, values: np.ndarray, before: np.ndarray, from_: np.ndarray) -> np.ndarray:
    """The last value whose key is below `before` and at least `from_`; `keys` ascend."""
    if not len(keys):
        return np.full(len(before), np.nan)
    at = np.searchsorted(keys, before, side="left") - 1
    found = (at >= 0) & (keys[np.maximum(at, 0)] >= from_)
    return np.where(found, values[np.maximum(at, 0)], np.nan)


def _first_sessions(sessions: pd.DataFrame, at: Records, grid: Grid) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Day of each step's first session (its start where there is none), earliest known time on it, is there one."""
    none = np.iinfo(np.int64).max
    first_day = np.full(grid.size, none)
    np.minimum.at(first_day, at.row, at.day)
    first_minute = np.full(grid.size, np.nan)
    on_first = at.day == first_day[at.row]
    np.fmin.at(first_minute, at.row[on_first], minutes_of_day(sessions)[on_first])
    has_session = first_day != none
    return np.where(has_session, first_day, grid.start_day), first_minute, has_session
