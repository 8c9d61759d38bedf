"""Plain data frames -> Caseload, by the same rules as files."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pandas.api import types

from lagwise.caseload.grid import MAX_COLUMNS, Grid, once, refuse_many, refuse_wide
from lagwise.caseload.places import Place
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study, TableSource

_HOLDS = "pandas.DataFrame"


def frame_places(frames: Mapping[str, Any], plan: Study) -> dict[str, Place]:
    """Where each table that is given lies; CaseloadError when one is no DataFrame, or `plan` no Study."""
    places = {}
    if not isinstance(plan, Study):
        what = f"the plan is a {type(plan).__name__}, not a Study"
        raise CaseloadError(what, where="from_frames", mend='Give lw.Study("title").')
    for table, frame in frames.items():
        if frame is None:
            continue
        where = f"frame {table}"
        if not isinstance(frame, pd.DataFrame):
            what = f"is a {type(frame).__name__}, not a {_HOLDS}"
            raise CaseloadError(what, where=where, mend=f"Give a {_HOLDS}.")
        places[table] = Place(table, Path(table), where, plan.tables.get(table, TableSource()), frame=frame)
    return places


def frame_grid(place: Place) -> Grid:
    """The cells of a frame as text or typed columns, named index levels as columns,
    rows by their 0-based position.

    Raises CaseloadError when there are no columns, more rows or cells than are read,
    or a cell that holds more than one value.
    """
    given = place.frame
    assert given is not None
    levels = [
        (name, given.index.get_level_values(at).to_series())
        for at, name in enumerate(given.index.names)
        if name is not None and name not in given.columns
    ]
    columns = [*levels, *given.items()]
    if not columns:
        raise place.error("has no columns", "Leave it out where there is no such table.")
    if len(columns) > MAX_COLUMNS:
        refuse_wide(place)
    refuse_many(len(given), len(columns), place)
    headers, twice = once([" ".join(str(name).split()) for name, _ in columns])
    cells = {
        header: _plain(values.reset_index(drop=True), header, place)
        for header, (_, values) in zip(headers, columns, strict=True)
        if header
    }
    frame = pd.DataFrame(cells, index=range(len(given)))
    keep = np.flatnonzero(frame.notna().any(axis=1))
    return Grid(frame.iloc[keep].reset_index(drop=True), keep, twice=twice)


def _plain(values: pd.Series, header: str, place: Place) -> pd.Series:
    """One column as text, numbers, truth values or timestamps."""
    if isinstance(values.dtype, pd.CategoricalDtype):
        values = values.astype(values.cat.categories.dtype)
    if isinstance(values.dtype, pd.PeriodDtype):
        values = values.dt.to_timestamp()
    if isinstance(values.dtype, pd.ArrowDtype):
        values = values.convert_dtypes(dtype_backend="numpy_nullable")
    if types.is_bool_dtype(values.dtype) and values.dtype != object:
        return values.astype("boolean")
    if types.is_complex_dtype(values.dtype):
        values = values.astype(object)
    if types.is_numeric_dtype(values.dtype) or types.is_datetime64_any_dtype(values.dtype):
        return values
    if types.infer_dtype(values, skipna=True) in ("integer", "floating", "mixed-integer-float", "decimal"):
        return _numbers(values)
    said = [_text(value, at, header, place) for at, value in enumerate(values)]
    return pd.Series(said, dtype="str")


def _numbers(values: pd.Series) -> pd.Series:
    """Objects that are all numbers as numbers; whole ones stay whole: a code of many digits is no measure."""
    there = values.dropna()
    if all(isinstance(value, int | np.integer) and -(2**63) < value < 2**63 for value in there):
        return values.astype("Int64")
    return pd.Series([np.nan if pd.isna(value) else float(value) for value in values])


def _text(value: Any, at: int, header: str, place: Place) -> str | None:
    """What one cell says, as text; None where it is empty."""
    if isinstance(value, str):
        said = value.encode("utf-8", "replace").decode()
        return said if said and not said.isspace() else None
    if types.is_scalar(value) and pd.isna(value):
        return None
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float | np.floating):
        whole = float(value).is_integer()
        return str(int(value)) if whole else repr(float(value)).replace(".", place.source.decimal)
    if isinstance(value, datetime):
        return value.isoformat(sep=" ").removesuffix(" 00:00:00")
    if types.is_scalar(value) or hasattr(value, "isoformat"):
        return str(value)
    raise place.error(
        f"{place.at(at)}, column {header} holds a {type(value).__name__}, not one value",
        "Write one value into each cell, or leave the column out.",
    )
