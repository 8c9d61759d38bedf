"""Panels from session files too large to hold as a frame: the row work is done by DuckDB, the rest as always."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.columns import LOAD_MEASURES, SESSIONS
from lagwise.core.errors import PanelError
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.panel.build import panel_from_blocks
from lagwise.panel.clock import Grid, Records, lay_grid
from lagwise.panel.query import LACKS, MINUTES, REST, TRAINED, UNNAMED, Facts, highest_number, step_sums, value_checks
from lagwise.panel.ratings import FirstSessions, in_order, pain_before_first, rating_steps
from lagwise.panel.sums import share
from lagwise.panel.training import state_column

NUMBERS = {c.name: (c.low, c.high) for c in SESSIONS if c.kind in ("number", "count")}
_READ = "Read the folder with lagwise.read, which sets such rows aside."


def panel_from_parquet(
    sessions: str | Path, study: Study, checkins: pd.DataFrame | None = None, *, threads: int = 2
) -> Panel:
    """The panel that `build_panel` gives, from a Parquet file of session rows that is never held in memory.

    Parameters
    ----------
    sessions : path
        Parquet with the contract's session columns and units (person text, date a date or timestamp, time HH:MM).
        Columns that are not there count as not recorded.
    study : Study
    checkins : DataFrame, optional
        Check-in rows as in `Caseload.checkins`.
    threads : int
        Cores that DuckDB may use.

    Returns
    -------
    Panel
        Equal to `build_panel` on the same rows up to the rounding of sums.

    Raises
    ------
    PanelError
        When the file cannot be read, lacks person or date, or holds rows that `lagwise.read` would set aside.
    """
    import duckdb

    ratings = _no_checkins() if checkins is None else in_order(checkins)
    with duckdb.connect() as con:
        con.execute(f"SET threads = {int(threads)}")
        con.execute("SET preserve_insertion_order = false")
        # The statistics of Parquet files leave NaN out; left on, this optimizer takes 'is it NaN' for always false.
        con.execute("SET disabled_optimizers = 'statistics_propagation'")
        try:
            grid, rated_at, sums = _sums(con, Path(sessions), study, ratings)
        except (duckdb.IOException, duckdb.InvalidInputException, duckdb.ConversionException) as error:
            reason = str(error).splitlines()[0]
            raise PanelError(
                f"cannot be read as session rows ({reason})",
                where=str(sessions),
                mend="Give a Parquet file of sessions.",
            ) from None
    columns = _training(sums, grid, study)
    opening = columns.pop("first")
    columns |= rating_steps(ratings, rated_at.row, grid.size)
    columns["pain_before"] = pain_before_first(opening, ratings, rated_at, grid, study.clock)
    return panel_from_blocks(grid.frame(columns, source="logs" if columns["n_sessions"].any() else "checkins"), study)


def _sums(con: Any, path: Path, study: Study, ratings: pd.DataFrame) -> tuple[Grid, Records, dict[str, Any]]:
    """The grid, where the ratings stand in it, and the columns of `_query`'s answer."""
    source = con.from_parquet(str(path))
    there = source.columns
    if not {"person", "date"} <= set(there):
        raise PanelError("has no person or no date column", where=str(path), mend="Name the columns person and date.")
    source.create_view("given")
    span = con.execute(
        "SELECT person::VARCHAR AS person, min(date)::DATE AS low, max(date)::DATE AS high, count(*) - count(date) AS lost "
        "FROM given GROUP BY person"
    ).df()
    if span["person"].isna().any() or span["lost"].sum():
        raise PanelError("has rows without person or date", where=str(path), mend=_READ)
    grid, (*_, rated_at) = lay_grid(
        study.clock,
        [(span["person"], span["low"]), (span["person"], span["high"]), (ratings["person"], ratings["date"])],
    )
    con.register("people", pd.DataFrame({"person": grid.people, "anchor": grid.anchor, "first_row": grid.first}))
    groups = _short(study)
    con.register("members", _members(groups))
    facts = _check_values(con, [n for n in NUMBERS if n in there], str(path))
    found = con.sql(step_sums(there, facts, grid.step_days, study.load, tuple(groups))).to_arrow_table()
    return grid, rated_at, {name: found.column(name) for name in found.column_names}


def _check_values(con: Any, there: list[str], where: str) -> Facts:
    """What the query may rely on; refuses values outside the contract's ranges."""
    if not there:
        return Facts(frozenset(), frozenset(), False)
    *told, rows = con.execute(value_checks(there)).fetchall()[0]
    low, high, known = (dict(zip(there, told[k::3], strict=True)) for k in range(3))
    with_nan = {name for name in there if high[name] is not None and np.isnan(high[name])}
    for name in there:
        least, most = NUMBERS[name]
        top = con.execute(highest_number(name)).fetchall()[0][0] if name in with_nan else high[name]
        if top is not None and (low[name] < least or top > most):
            raise PanelError(f"has values of {name} outside {least:g} to {most:g}", where=where, mend=_READ)
    full = frozenset(name for name in there if known[name] == rows and name not in with_nan)
    return Facts(frozenset(with_nan), full, "sets" in full and rows > 0 and low["sets"] > 0)


def _training(sums: dict[str, Any], grid: Grid, study: Study) -> dict[str, Any]:
    """What `training_steps` gives, and under 'first' what `first_sessions` does. Empties `sums` as it goes."""
    at = sums.pop("grid_row").to_numpy()

    def full(name: str, empty: float | int = 0, kind: str = "float64") -> np.ndarray:
        out = np.full(grid.size, empty, dtype=kind)
        out[at] = sums.pop(name).to_numpy()
        return out

    flags = full("flags", 0, "int64")
    trained, rest = (flags & TRAINED) > 0, (flags & REST) > 0
    days = flags & (1 << LACKS) - 1
    has_session = days > 0
    day = np.frexp((days & -days).astype(float))[1].astype("int64") - 1
    minute = np.full(grid.size, np.nan)
    if "opening" in sums:
        minute = (full("opening", 0, "int64") % (MINUTES + 1)).astype(float)
        minute[~has_session | (minute == MINUTES)] = np.nan
    out: dict[str, Any] = {
        "first": FirstSessions(
            grid.start_day + np.where(has_session, day, 0),
            minute,
            has_session,
        ),
        "recorded": state_column(trained, rest),
        "n_sessions": np.bitwise_count(days).astype("int64"),
    }
    near = np.zeros(grid.size)
    group_flags = {short: full(f"{short}_flags", 0, "int64") for short in _short(study)}
    for m, measure in enumerate(LOAD_MEASURES):
        summed = measure in sums
        known = full(measure) if summed else np.zeros(grid.size)
        near = known.copy() if measure == "near_failure_sets" else near
        lacks = (flags & 1 << m + LACKS) > 0 if summed else trained
        out[f"load_{measure}"] = _load(known, lacks, trained, rest)
        for short, group in zip(group_flags, study.groups, strict=True):
            unclear = (group_flags[short] & 1 << m + LACKS) + (flags & UNNAMED) > 0
            out[f"load_{measure}__{group}"] = _load(full(f"{short}_{measure}"), unclear, trained, rest)
    weight = full("weight")
    out["effort"] = share(full("weighted"), weight)
    out["near_failure_share"] = share(near, full("rated") if "rated" in sums else weight)
    return out


def _short(study: Study) -> dict[str, tuple[str, ...]]:
    """The study's groups under names that are safe in a query."""
    return {f"g{i}": tuple(names) for i, names in enumerate(study.groups.values())}


def _load(summed: np.ndarray, unclear: np.ndarray, trained: np.ndarray, rest: np.ndarray) -> np.ndarray:
    summed[unclear & trained] = np.nan
    summed[~trained] = np.nan
    summed[rest & ~trained] = 0.0
    return summed


def _members(groups: dict[str, tuple[str, ...]]) -> pd.DataFrame:
    rows = [(short, name.strip().lower()) for short, names in groups.items() for name in names]
    return pd.DataFrame(rows, columns=["member", "exercise"], dtype="str")


def _no_checkins() -> pd.DataFrame:
    return pd.DataFrame({"person": pd.Series(dtype="str"), "date": pd.Series(dtype="datetime64[us]"), "row": pd.Series(dtype="int64")})  # fmt: skip
