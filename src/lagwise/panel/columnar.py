"""Panels from session files too large to hold as a frame: rows are summed a batch at a time, the rest is as
always."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from lagwise.core.columns import SESSIONS
from lagwise.core.errors import PanelError
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.panel.build import panel_from_blocks
from lagwise.panel.clock import Grid, Records, lay_grid
from lagwise.panel.ratings import before_first, in_order, rating_steps
from lagwise.panel.steps import TrainingSteps

LIMITS = {c.name: (c.low, c.high) for c in SESSIONS if c.low is not None and c.high is not None}
_READ = "Read the folder with lagwise.read, which sets such rows aside."


def panel_from_parquet(sessions: str | Path, study: Study, checkins: pd.DataFrame | None = None) -> Panel:
    """The panel that `build_panel` gives, from a Parquet file of session rows that is never held in memory.

    Parameters
    ----------
    sessions : path
        Parquet with the contract's session columns and units (person text, date a date or timestamp, time
        HH:MM). Columns that are not there count as not recorded.
    study : Study
    checkins : DataFrame, optional
        Check-in rows as in `Caseload.checkins`.

    Returns
    -------
    Panel
        Equal to `build_panel` on the same rows up to the rounding of sums.

    Raises
    ------
    PanelError
        When the file cannot be read, lacks person or date, or holds rows that `lagwise.read` would set aside.
    """
    import pyarrow as pa

    ratings = _no_checkins() if checkins is None else in_order(checkins)
    try:
        grid, rated_at, training = _gather(Path(sessions), study, ratings)
    except (pa.ArrowException, OSError) as error:
        reason = (str(error) or type(error).__name__).splitlines()[0]
        raise PanelError(
            f"cannot be read as session rows ({reason})",
            where=str(sessions),
            mend="Give a Parquet file of sessions.",
        ) from None
    columns = training.columns() | rating_steps(ratings, rated_at.row, grid.size, study)
    columns |= before_first(training.first_sessions(), ratings, rated_at, grid, study)
    del training
    return panel_from_blocks(
        grid.frame(columns, source="logs" if columns["n_sessions"].any() else "checkins"), study
    )


def _gather(path: Path, study: Study, ratings: pd.DataFrame) -> tuple[Grid, Records, TrainingSteps]:
    """The grid, where the ratings stand in it, and what was trained."""
    from lagwise.panel.batches import NO_DAY, SessionFile, spans

    file, where = SessionFile(path), str(path)
    if not {"person", "date"} <= set(file.columns):
        raise PanelError(
            "has no person or no date column", where=where, mend="Name the columns person and date."
        )
    met, code, day = file.people()
    if (code < 0).any() or (day == NO_DAY).any():
        raise PanelError("has rows without person or date", where=where, mend=_READ)
    low, high = spans(code, day, len(met))
    people = pd.Series(met, dtype="str")
    grid, (bounds, _, rated_at) = lay_grid(
        study.clock,
        [(people, _dates(low)), (people, _dates(high)), (ratings["person"], ratings["date"])],
    )
    training = TrainingSteps(grid, study)
    for at, table in file.tables(tuple(LIMITS), ("time", "exercise") if study.groups else ("time",)):
        _check_values(table, where)
        training.add(table, bounds.person[code[at]], day[at])
    return grid, rated_at, training


def _check_values(table: pd.DataFrame, where: str) -> None:
    for name, (least, most) in LIMITS.items():
        values = table[name].to_numpy() if name in table else np.empty(0)
        if ((values < least) | (values > most)).any():
            raise PanelError(f"has values of {name} outside {least:g} to {most:g}", where=where, mend=_READ)


def _dates(days: np.ndarray) -> pd.Series:
    return pd.Series(days.astype("datetime64[D]").astype("datetime64[us]"))


def _no_checkins() -> pd.DataFrame:
    return pd.DataFrame({"person": pd.Series(dtype="str"), "date": pd.Series(dtype="datetime64[us]"), "row": pd.Series(dtype="int64")})  # fmt: skip
