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
from lagwise.panel.ratings import FirstSessions, in_order, pain_before_first, rating_steps
from lagwise.panel.sums import share
from lagwise.panel.training import OF_SETS, state_column

NUMBERS = {c.name: (c.low, c.high) for c in SESSIONS if c.kind in ("number", "count")}
_MINUTES = 1440
_READ = "Read the folder with lagwise.read, which sets such rows aside."
_UNTOLD = 1 << 30
"""Bit set where a row of the step does not name its exercise."""
_ILLEGAL = 1 << 29
_TRAINED, _REST = 1 << 28, 1 << 27


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
    columns = _training(sums, grid, study, str(sessions))
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
    found = con.sql(_query(there, grid.step_days, study, groups)).to_arrow_table()
    return grid, rated_at, {name: found.column(name) for name in found.column_names}


def _training(sums: dict[str, Any], grid: Grid, study: Study, where: str) -> dict[str, Any]:
    """What `training_steps` gives, and under 'first' what `first_sessions` does. Empties `sums` as it goes."""
    at = sums.pop("grid_row").to_numpy()

    def full(name: str, empty: float | int = 0, kind: str = "float64") -> np.ndarray:
        out = np.full(grid.size, empty, dtype=kind)
        out[at] = sums.pop(name).to_numpy()
        return out

    flags = full("flags", 0, "int64")
    if (flags & _ILLEGAL).any():
        raise PanelError("has values outside the legal range", where=where, mend=_READ)
    trained, rest = (flags & _TRAINED) > 0, (flags & _REST) > 0
    opening = full("opening", -1, "int64")
    day, minute = np.divmod(opening, _MINUTES + 1)
    has_session = opening >= 0
    out: dict[str, Any] = {
        "first": FirstSessions(
            grid.start_day + np.where(has_session, day, 0),
            np.where(has_session & (minute < _MINUTES), minute, np.nan),
            has_session,
        ),
        "recorded": state_column(trained, rest),
        "n_sessions": np.bitwise_count(full("days", 0, "int64")).astype("int64"),
    }
    group_flags = {short: full(f"{short}_flags", 0, "int64") for short in _short(study)}
    for m, measure in enumerate(LOAD_MEASURES):
        out[f"load_{measure}"] = _load(full(measure), (flags & 1 << m) > 0, trained, rest)
        for short, group in zip(group_flags, study.groups, strict=True):
            unclear = (group_flags[short] & 1 << m) + (flags & _UNTOLD) > 0
            out[f"load_{measure}__{group}"] = _load(full(f"{short}_{measure}"), unclear, trained, rest)
    out["effort"] = share(full("weighted"), full("weight"))
    out["near_failure_share"] = share(full("near"), full("rated"))
    return out


def _short(study: Study) -> dict[str, tuple[str, ...]]:
    """The study's groups under names that are safe in a query."""
    return {f"g{i}": tuple(names) for i, names in enumerate(study.groups.values())}


def _load(summed: np.ndarray, unclear: np.ndarray, trained: np.ndarray, rest: np.ndarray) -> np.ndarray:
    summed[unclear & trained] = np.nan
    summed[~trained] = np.nan
    summed[rest & ~trained] = 0.0
    return summed


_MINUTE = " + ".join(
    rf"try_cast(regexp_extract(s.time::VARCHAR, '^(\d{{1,2}}):(\d{{2}})', {part}) AS INTEGER) * {worth}"
    for part, worth in ((1, 60), (2, 1))
)


def _query(there: list[str], step_days: int, study: Study, groups: dict[str, tuple[str, ...]]) -> str:
    """One row per grid row: sums by measure, and which rows lacked what as bits of `flags`."""
    given = {n: _number(n) if n in there else "NULL::DOUBLE" for n in NUMBERS}
    reserve = given["reps_in_reserve"]
    effort = f"coalesce({given['effort']}, CASE WHEN {reserve} > 10 THEN 0 ELSE 10 - {reserve} END)"
    minute = _MINUTE if "time" in there else "NULL::INTEGER"
    exercise = "lower(trim(s.exercise))" if "exercise" in there and groups else "NULL::VARCHAR"
    illegal = " OR ".join(
        f"{given[n]} NOT BETWEEN {low} AND {high}" for n, (low, high) in NUMBERS.items() if n in there
    )
    hard, near = study.load.hard_effort, study.load.near_failure_effort
    loads = {
        "sets": "sets",
        "reps": "sets * reps",
        "tonnage": "sets * reps * load_kg",
        "session_rpe": "effort * minutes",
        "hard_sets": f"CASE WHEN effort >= {hard} THEN sets WHEN effort IS NOT NULL THEN 0 * sets END",
        "near_failure_sets": f"CASE WHEN effort >= {near} THEN sets WHEN effort IS NOT NULL THEN 0 * sets END",
    }
    rows = ", ".join(
        f"CASE WHEN {'sets = 0' if m in OF_SETS else 'sets = 0 AND NOT trained'} THEN 0 ELSE {load} END AS l_{m}"
        for m, load in loads.items()
    )
    bits = " + ".join(f"(l_{m} IS NULL)::INTEGER * {1 << i}" for i, m in enumerate(loads))
    bits += f" + trained::INTEGER * {_TRAINED} + (sets = 0 AND NOT trained)::INTEGER * {_REST} + illegal::INTEGER * {_ILLEGAL}"
    if groups:
        bits += f" + (exercise IS NULL AND NOT (sets = 0 AND NOT trained))::INTEGER * {_UNTOLD}"
    sums = [f"coalesce(sum(l_{m}), 0) AS {m}" for m in loads]
    for g in groups:
        member = f"exercise IN (SELECT exercise FROM members WHERE member = '{g}')"
        sums += [f"coalesce(sum(l_{m}) FILTER (WHERE in_{g}), 0) AS {g}_{m}" for m in loads]
        lacks = " + ".join(f"(l_{m} IS NULL)::INTEGER * {1 << i}" for i, m in enumerate(loads))
        sums.append(f"coalesce(bit_or(({lacks})::INTEGER) FILTER (WHERE in_{g}), 0) AS {g}_flags")
        rows += f", coalesce({member}, false) AS in_{g}"
    days = "(s.date::DATE - DATE '1970-01-01' - p.anchor)::INTEGER"
    return f"""
    WITH placed AS (
      SELECT p.first_row + {days} // {step_days} AS grid_row, {days} % {step_days} AS day, {minute} AS minute,
        {given["sets"]} AS sets, {given["reps"]} AS reps, {given["load_kg"]} AS load_kg, {given["minutes"]} AS minutes,
        {effort} AS effort, {exercise} AS exercise, coalesce({illegal or "false"}, false) AS illegal,
        coalesce({given["sets"]} > 0, false) OR coalesce({given["minutes"]} > 0, false)
          OR coalesce({given["load_kg"]} > 0, false) AS trained
      FROM given s JOIN people p ON s.person::VARCHAR = p.person
    ), loaded AS (SELECT *, {rows} FROM placed)
    SELECT grid_row, bit_or(1 << day) AS days, min(day * {_MINUTES + 1} + coalesce(minute, {_MINUTES})) AS opening,
      bit_or(({bits.replace("(sets = 0 AND NOT trained)", "coalesce(sets = 0 AND NOT trained, false)")})::BIGINT) AS flags, {", ".join(sums)},
      coalesce(sum(coalesce(sets, 1) * effort), 0) AS weighted,
      coalesce(sum(CASE WHEN effort IS NOT NULL THEN coalesce(sets, 1) END), 0) AS weight,
      coalesce(sum(CASE WHEN effort >= {near} THEN sets END), 0) AS near,
      coalesce(sum(CASE WHEN effort IS NOT NULL THEN sets END), 0) AS rated
    FROM loaded GROUP BY grid_row"""


def _number(column: str) -> str:
    """A number with NaN as NULL."""
    return f"CASE WHEN isnan(s.{column}::DOUBLE) THEN NULL ELSE s.{column}::DOUBLE END"


def _members(groups: dict[str, tuple[str, ...]]) -> pd.DataFrame:
    rows = [(short, name.strip().lower()) for short, names in groups.items() for name in names]
    return pd.DataFrame(rows, columns=["member", "exercise"], dtype="str")


def _no_checkins() -> pd.DataFrame:
    return pd.DataFrame({"person": pd.Series(dtype="str"), "date": pd.Series(dtype="datetime64[us]"), "row": pd.Series(dtype="int64")})  # fmt: skip
