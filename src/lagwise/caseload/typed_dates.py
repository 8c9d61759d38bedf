"""Date columns that the file stores as timestamps (Parquet), read by the same rules as dates in text."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from lagwise.caseload.convert import Converted
from lagwise.caseload.dates import FIRST, LAST, ZONE_MEND
from lagwise.caseload.repairs import on

OUTSIDE, CLOCK, ZONE = range(3)
PROBLEMS = (
    ("out_of_range", f"Give a date from {FIRST.year} to {LAST.year}."),
    ("bad_date", "Write a calendar date as YYYY-MM-DD."),
    ("bad_date", ZONE_MEND),
)
CLOCKS = pd.Series([None] + [f"{minute // 60:02d}:{minute % 60:02d}" for minute in range(1, 1440)], dtype="str")
"""The clock of every minute of a day; none for midnight."""


def typed_dates(raw: pd.Series, repair: Mapping[str, bool]) -> Converted:
    """Days of a column of timestamps, and the clock beside them as HH:MM in `extra`.

    Day and clock are those of the column's own time zone, which is how they were written. Midnight stands for
    'no time'. With `date_times` or `time_zones` switched off, the rows they would mend have a problem instead.
    """
    wall = raw.dt.tz_localize(None) if raw.dt.tz is not None else raw
    days = wall.dt.floor("D").astype("datetime64[us]")
    given = days.notna().to_numpy()
    outside = given & ~days.between(pd.Timestamp(FIRST), pd.Timestamp(LAST)).to_numpy()
    timed = given & (wall - days >= pd.Timedelta(minutes=1)).to_numpy() & ~outside
    untidy = given & (wall != days).to_numpy() & ~outside
    zoned = given & ~outside & (raw.dt.tz is not None)
    problem = np.full(len(raw), -1)
    if not on(repair, "date_times"):
        problem[untidy] = CLOCK
    if not on(repair, "time_zones"):
        problem[zoned] = ZONE
    problem[outside] = OUTSIDE
    good = problem < 0
    touched = {"date_times": np.flatnonzero(untidy & good), "time_zones": np.flatnonzero(zoned & good)}
    extra = None
    if (timed & good).any():
        minute = (wall - days).dt.total_seconds().fillna(0).floordiv(60).astype("int64").to_numpy()
        extra = CLOCKS.take(np.where(timed & good, minute, 0)).set_axis(raw.index)
    return Converted(
        days.mask(~good), problem, PROBLEMS, raw, given, {name: at for name, at in touched.items() if len(at)}, extra
    )
