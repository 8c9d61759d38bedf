"""The weeks table -> the same blocks as sessions and check-ins give."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.study import Study
from lagwise.panel.clock import lay_grid, numbers
from lagwise.panel.ratings import in_order, rating_steps
from lagwise.panel.sums import count, mean, total
from lagwise.panel.training import state_column


def week_blocks(weeks: pd.DataFrame, study: Study) -> pd.DataFrame:
    """Blocks from rows already summed per week.

    The `trained` column gives the state; blank means trained when load is above 0, rest when it is 0, else unknown.
    A step longer than a week sums its weeks' loads and averages their effort.
    """
    rows = in_order(weeks.rename(columns={"week": "date"}))
    grid, (at,) = lay_grid(study.clock, [(rows["person"], rows["date"])])
    load, state = numbers(rows, "load"), _states(rows)
    known = np.where(state == "rest", 0.0, np.where(state == "unknown", np.nan, load))
    trained = count(at.row, grid.size, state == "trained") > 0
    rest = count(at.row, grid.size, state == "rest") > 0
    unclear = count(at.row, grid.size, np.isnan(known)) > 0
    whole = np.where(unclear, np.nan, total(at.row, known, grid.size))
    columns: dict[str, np.ndarray | pd.Series] = {
        "recorded": state_column(trained, rest),
        "n_sessions": np.zeros(grid.size, dtype="int64"),
        f"load_{study.load.measure}": np.where(trained, whole, np.where(rest, 0.0, np.nan)),
        "effort": mean(at.row, numbers(rows, "effort"), grid.size),
        "near_failure_share": np.full(grid.size, np.nan),
    }
    columns |= rating_steps(rows, at.row, grid.size)
    return grid.frame(columns, source="weeks")


def _states(rows: pd.DataFrame) -> np.ndarray:
    load = numbers(rows, "load")
    read = np.where(load > 0, "trained", np.where(load == 0, "rest", "unknown"))
    if "trained" not in rows.columns:
        return read
    said = rows["trained"].astype(object)
    return np.where(said.notna(), said.astype(str), read)
