"""The weeks table -> the same blocks as sessions and check-ins give."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.results import Caseload
from lagwise.core.study import Study
from lagwise.core.variable import PAIN, WEEK
from lagwise.panel.arrays import count, lost_of, marks, mean, numbers, total
from lagwise.panel.clock import lay_grid
from lagwise.panel.events import placed_events
from lagwise.panel.ratings import in_order, rating_steps, without_lost
from lagwise.panel.steps import state_column


def week_blocks(caseload: Caseload, study: Study) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Blocks from rows already summed per week, and the events on their calendar.

    The `trained` column gives the state; blank means trained when load is above 0 or was set aside while
    reading, rest when it is 0, else unknown. A step longer than a week sums its weeks' loads and averages
    their effort; its load is missing when that of one of its weeks is, or when it has fewer weeks than most
    steps have.
    """
    rows = in_order(caseload.weeks.rename(columns={WEEK: "date"}))
    aside, cells = lost_of(caseload, "weeks", rows)
    unrated = pd.concat([aside, cells[cells["column"].isin((PAIN, "flare"))]])
    tables = (rows, aside, unrated)
    grid, (at, aside_at, unrated_at) = lay_grid(study.clock, [(t["person"], t["date"]) for t in tables])
    load, state = numbers(rows, "load"), _states(rows, marks(rows, cells[cells["column"] == "load"]))
    known = np.where(state == "rest", 0.0, np.where(state == "unknown", np.nan, load))
    weeks = count(at.row, grid.size)
    short = weeks < (np.bincount(weeks[weeks > 0]).argmax() if study.clock.step_days > 7 else 1)
    unclear = (count(at.row, grid.size, np.isnan(known)) + count(aside_at.row, grid.size) > 0) | short
    trained = count(at.row, grid.size, state == "trained") + count(aside_at.row, grid.size) > 0
    rest = (count(at.row, grid.size, state == "rest") > 0) & ~unclear
    columns: dict[str, np.ndarray | pd.Series] = {
        "recorded": state_column(trained, rest),
        "n_sessions": np.zeros(grid.size, dtype="int64"),
        f"load_{study.load.measure}": np.where(
            trained & ~unclear, total(at.row, known, grid.size), np.where(rest & ~trained, 0.0, np.nan)
        ),
        "effort": mean(at.row, numbers(rows, "effort"), grid.size),
        "near_failure_share": np.full(grid.size, np.nan),
    }
    columns |= rating_steps(rows, at.row, grid.size, study)
    columns |= without_lost(columns, rows, at, unrated["column"], unrated_at, study)
    return grid.frame(columns, source="weeks"), placed_events(caseload, study, grid)


def _states(rows: pd.DataFrame, lost: np.ndarray) -> np.ndarray:
    load = numbers(rows, "load")
    read = np.where((load > 0) | lost, "trained", np.where(load == 0, "rest", "unknown"))
    if "trained" not in rows.columns:
        return read
    said = rows["trained"].astype(object)
    return np.where(said.notna(), said.astype(str), read)
