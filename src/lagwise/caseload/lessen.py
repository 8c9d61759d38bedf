"""What can be told more coarsely in a copy, beyond codes, dates and the people table,
so that fewer people are singled out."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping

import numpy as np
import pandas as pd

from lagwise.core import columns
from lagwise.core.errors import CaseloadError, meant
from lagwise.core.study import Study

_KEPT = frozenset(c.name for table in columns.TABLES.values() for c in table if c.required)
"""Columns without which a table cannot be read."""


def coarser_loads(frames: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Weights to the nearest 10 kg, those under 10 kg to the nearest 5, never to 0;
    loads of weeks to two figures."""
    s, w = frames["sessions"], frames["weeks"]
    load = s["load_kg"]
    unit = np.where(load < 10, 5.0, 10.0)
    near = np.floor(load / unit + 0.5) * unit
    near = near.mask((near < 5) & (load > 0), 5.0)
    size = 10.0 ** (np.floor(np.log10(w["load"].where(w["load"] > 0))) - 1)
    weeks = (w["load"] / size).round().mul(size).fillna(w["load"])
    return {**frames, "sessions": s.assign(load_kg=near), "weeks": w.assign(load=weeks)}


def rounded_ratings(frames: Mapping[str, pd.DataFrame], study: Study) -> dict[str, pd.DataFrame]:
    """Ratings from 0 to 10 to the nearest of 0, 2, 4, ... 10 (halves to 0, 4 or 8), those on other scales to
    fifths of the scale or steps of 2, whichever is more; hours of sleep to whole hours,
    efforts to whole points.

    Two check-ins of one person at one moment that then say the same become one.
    """
    out = dict(frames)
    for table in ("checkins", "weeks", "sessions"):
        frame = frames[table]
        for column in columns.tables(study)[table]:
            if column.name in ("effort", "reps_in_reserve", "sleep_hours"):
                frame = frame.assign(**{column.name: frame[column.name].round()})
            elif column.rated and column.low is not None and column.high is not None:
                frame = frame.assign(**{column.name: _nearest(frame[column.name], column.low, column.high)})
        out[table] = frame
    same = [name for name in out["checkins"].columns if name != "row"]
    out["checkins"] = out["checkins"].drop_duplicates(same).reset_index(drop=True)
    return out


def _nearest(values: pd.Series, low: float, high: float) -> pd.Series:
    step = max((high - low) / 5, min(2.0, (high - low) / 2))
    return (((values - low) / step).round() * step + low).clip(upper=high)


def dropped(frames: Mapping[str, pd.DataFrame], names: Iterable[str]) -> dict[str, pd.DataFrame]:
    """Tables without what some columns say, each named as COLUMN (in every table) or TABLE.COLUMN.

    Raises
    ------
    CaseloadError
        When there is no such column, or a table cannot be read without it.
    """
    out = dict(frames)
    for name in names:
        table, _, column = name.strip().rpartition(".")
        tables = [table] if table else out
        hit = [t for t in tables if t in out and column in out[t] and column != "row"]
        if not hit:
            there = sorted({c for frame in out.values() for c in frame.columns if c != "row"} - _KEPT)
            near = difflib.get_close_matches(column, there, n=1)
            hint = meant(name, near[0]) if near else f"Columns: {', '.join(there)}."
            raise CaseloadError(
                f"there is no column '{name[:60]}' to leave out", where="deidentify", mend=hint
            )
        if column in _KEPT:
            raise CaseloadError(
                f"a table cannot be read without '{column}'",
                where="deidentify",
                mend="Leave another column out.",
            )
        for t in hit:
            also = ["reps_in_reserve"] if (t, column) == ("sessions", "effort") else []
            out[t] = out[t].assign(**{n: out[t][n].mask(out[t][n].notna()) for n in [column, *also]})
    return out
