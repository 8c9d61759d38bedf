"""Check-in rows -> how the person was in each step, and the last ratings before its first session."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from lagwise.core.study import Study
from lagwise.core.variable import PAIN
from lagwise.panel.arrays import count, day_numbers, highest, last, mean, minutes_of_day, numbers
from lagwise.panel.clock import Grid, Records


class FirstSessions(NamedTuple):
    """Of every grid row: `day` number of its first session (of its start where there is none), the earliest
    `minute` of the day known of that day's sessions, and whether there is a session at all (`there`)."""

    day: np.ndarray
    minute: np.ndarray
    there: np.ndarray


def in_order(checkins: pd.DataFrame) -> pd.DataFrame:
    """Check-ins by person, date, time (those without one first) and file row."""
    keys = pd.DataFrame(
        {
            "person": checkins["person"].astype("str"),
            "day": day_numbers(checkins["date"]),
            "time": np.nan_to_num(minutes_of_day(checkins), nan=-1.0),
            "row": checkins["row"] if "row" in checkins.columns else np.arange(len(checkins)),
        }
    )
    return checkins.loc[keys.sort_values(list(keys.columns), kind="stable").index]


def rated(study: Study) -> tuple[str, ...]:
    """The ratings of a study, its own among them, whose step's value is the mean: all but pain."""
    return tuple(v.name for v in study.variables.values() if v.rated and not v.flares)


def rating_steps(checkins: pd.DataFrame, row: np.ndarray, size: int, study: Study) -> dict[str, np.ndarray]:
    """Columns of the blocks that come from ratings, one value per grid row; `checkins` as `in_order` gives
    them.

    Returns
    -------
    dict
        Means of the ratings but pain, n_checkins, n_ratings, pain_mean, pain_worst, pain_last,
        flare_reported.
    """
    pain = numbers(checkins, PAIN)
    worst = _worst(study)[0]
    out = {name: mean(row, numbers(checkins, name), size) for name in rated(study)}
    return out | {
        "n_checkins": count(row, size),
        "n_ratings": count(row, size, ~np.isnan(pain)),
        "pain_mean": mean(row, pain, size),
        "pain_worst": worst * highest(row, worst * pain, size),
        "pain_last": last(row, pain, size),
        "flare_reported": highest(row, numbers(checkins, "flare"), size),
    }


def _worst(study: Study) -> tuple[float, float]:
    """1 and the highest legal pain, or -1 and the lowest with its sign turned where low is the worse end."""
    pain = study.variables[PAIN]
    low, high = pain.low, pain.high
    if pain.worse == "low":
        return -1.0, np.inf if low is None else -low
    return 1.0, np.inf if high is None else high


def without_lost(
    columns: Mapping[str, Any],
    checkins: pd.DataFrame,
    rated_at: Records,
    lost: pd.Series,
    lost_at: Records,
    study: Study,
) -> dict[str, np.ndarray]:
    """The columns of `rating_steps` that ratings set aside while reading leave open; means keep what is
    known.

    `lost` names the column set aside at each of `lost_at`, "" for a whole check-in. With a pain rating lost
    the worst is known only where it is the worse end of the scale, and the last only where a known rating
    follows on a later day; with a flare-up's yes or no lost the step's is known only where another says yes.
    """
    pain_lost, flare_lost = (lost_at.row[lost.isin(("", name)).to_numpy()] for name in (PAIN, "flare"))
    lost_day = lost_at.day[lost.isin(("", PAIN)).to_numpy()].astype("float64")
    worst, latest, flare = (columns[name].copy() for name in ("pain_worst", "pain_last", "flare_reported"))
    sign, most = _worst(study)
    worst[pain_lost[sign * worst[pain_lost] < most]] = np.nan
    told = np.where(np.isnan(numbers(checkins, PAIN)), np.nan, rated_at.day)
    known_until = highest(rated_at.row, told, len(worst))
    latest[pain_lost[known_until[pain_lost] <= lost_day]] = np.nan
    flare[flare_lost[flare[flare_lost] != 1]] = np.nan
    return {"pain_worst": worst, "pain_last": latest, "flare_reported": flare}


def before_first(
    opening: FirstSessions, checkins: pd.DataFrame, rated_at: Records, grid: Grid, study: Study
) -> dict[str, np.ndarray]:
    """<rating>_before of pain and of every other rating that anybody gave: its last value before each step's
    first session.

    It is at most `step_days` days older than that session. On the day of the first session a rating counts
    when `checkin_time` is 'morning', or when its time and the session's are known and it is earlier. In a
    step without session rows: the last rating before the step starts and at most `step_days` days old.
    `checkins` as `in_order` gives them.
    """
    clock, minute = study.clock, minutes_of_day(checkins)
    days = np.concatenate([rated_at.day, grid.anchor, grid.start_day + grid.step_days])
    origin = int(days.min()) - grid.step_days - 1
    span = int(days.max()) - origin + 2
    by_day = rated_at.person * span + (rated_at.day - origin)
    first = grid.person * span + (opening.day - origin)
    morning = clock.checkin_time == "morning"
    by_minute = not morning and not np.isnan(opening.minute).all()
    out = {}
    for name in (PAIN, *rated(study)):
        values = numbers(checkins, name)
        known = ~np.isnan(values)
        if name != PAIN and not known.any():
            continue
        upto = first + (opening.there & morning)
        found = _latest(by_day[known], values[known], upto, first - clock.step_days)
        timed = known & ~np.isnan(minute)
        if by_minute and timed.any():
            keys = by_day[timed] * 1441 + minute[timed]
            at = first * 1441.0 + np.nan_to_num(opening.minute, nan=0.0)
            same_day = _latest(keys, values[timed], at, first * 1441.0)
            found = np.where(np.isnan(same_day), found, same_day)
        out[f"{name}_before"] = found
    return out


def _latest(keys: np.ndarray, values: np.ndarray, before: np.ndarray, from_: np.ndarray) -> np.ndarray:
    """The last value whose key is below `before` and at least `from_`; `keys` ascend."""
    if not len(keys):
        return np.full(len(before), np.nan)
    at = np.searchsorted(keys, before, side="left") - 1
    found = (at >= 0) & (keys[np.maximum(at, 0)] >= from_)
    return np.where(found, values[np.maximum(at, 0)], np.nan)
