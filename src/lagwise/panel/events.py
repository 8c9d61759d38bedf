"""Events on the calendar of the panel: in which step each falls, and which rating stands before it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Caseload
from lagwise.core.study import Study
from lagwise.panel.arrays import day_numbers
from lagwise.panel.clock import Grid, Records

GIVEN = ["person", "date", "kind", "until", "because", "row"]
COLUMNS = ("person", "kind", "date", "until", "because", "step", "until_step", "after")


def placed_events(
    caseload: Caseload, study: Study, grid: Grid, checked: Records | None = None
) -> pd.DataFrame:
    """Every event of the grid's people, by person and date.

    Parameters
    ----------
    checked : the check-ins' places on the grid; None where a table holds whole weeks

    Returns
    -------
    DataFrame
        person, kind, date, until, because ('' where not said); `step` (float, below 0 before the person's
        record, NaN without a date), `until_step`; and `after`, the last step whose rating stands before the
        event: its own step where at least half of that step's check-ins are dated on or before its day, or
        where a whole step's rating is made at its start, else the step before. The next step's rating is then
        the first one after it.
    """
    events = caseload.events.reindex(columns=GIVEN)
    code = pd.Index(grid.people).get_indexer(events["person"].astype("str"))
    events, code = events[code >= 0], code[code >= 0]
    order = np.lexsort((events["row"], events["date"], code))
    events, code = events.iloc[order], code[order]
    step, until = (_steps(events[c], grid, code) for c in ("date", "until"))
    found = events[["person", "kind", "date", "until"]].reset_index(drop=True)
    because = events["because"].astype("object").fillna("").astype("str").to_numpy()
    found = found.assign(because=because, step=step, until_step=until, after=_by_plan(step, study))
    if checked is None or grid.step_days == 1 or not len(events):
        return found
    inside = (step >= 0) & (step < grid.steps[code])
    row = grid.first[code] + np.where(inside, step, 0).astype("int64")
    own = inside & _mostly_before(row, day_numbers(events["date"]), checked)
    return found.assign(after=np.where(own, step, step - 1))


def replaced_events(events: pd.DataFrame, study: Study, source: str) -> pd.DataFrame:
    """Placed events under a plan that may rate at the other end of a step; `source` of the blocks."""
    if not len(events) or (source != "weeks" and study.clock.step_days > 1):
        return events
    return events.assign(after=_by_plan(events["step"].to_numpy(dtype=float), study))


def _by_plan(step: np.ndarray, study: Study) -> np.ndarray:
    return step if study.pain.rated == "start" else step - 1


def _steps(dates: pd.Series, grid: Grid, code: np.ndarray) -> np.ndarray:
    known = dates.notna().to_numpy()
    day = day_numbers(pd.to_datetime(dates).fillna(pd.Timestamp(0)))
    return np.where(known, (day - grid.anchor[code]) // grid.step_days, np.nan)


def _mostly_before(row: np.ndarray, day: np.ndarray, checked: Records) -> np.ndarray:
    """Whether at least half of the check-ins in each event's step are dated on or before its day."""
    order = np.lexsort((checked.day, checked.row))
    rows, days = checked.row[order], checked.day[order]
    first, end = np.searchsorted(rows, row), np.searchsorted(rows, row, side="right")
    by = np.array(
        [np.searchsorted(days[a:b], d, side="right") for a, b, d in zip(first, end, day, strict=True)]
    )
    return (end > first) & (2 * by >= end - first)
