"""Columns of tables as arrays, what was set aside of them, and their sums per row of the grid.

Rows of the grid without anything known come out missing, never 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.results import Caseload


def evenly(n: int, most: int) -> np.ndarray:
    """Positions of `most` of `n`, evenly from the first to the last; all where they are no more."""
    return np.unique(np.linspace(0, n - 1, min(n, most)).astype(int))


def spread(words: Sequence[str] | np.ndarray, codes: np.ndarray) -> pd.Series:
    """A text column from (n,) codes into a few words."""
    return pd.Series(pd.array(list(words), dtype="str").take(codes))


def coded(words: pd.Series) -> tuple[np.ndarray, list[str]]:
    """(n,) place of each text in the list of those there are, -1 where missing."""
    if isinstance(words.dtype, pd.CategoricalDtype):
        return words.cat.codes.to_numpy(), [str(word) for word in words.cat.categories]
    codes, found = pd.factorize(words.astype("str"))
    return codes, list(found)


def people_of(frame: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """The codes of the people of a frame, sorted, and (n,) the place of each row's person among them."""
    at, found = pd.factorize(frame["person"].to_numpy(dtype=object))
    people, place = np.unique(found.astype(str), return_inverse=True)
    return people, place[at]


def day_numbers(dates: pd.Series) -> np.ndarray:
    """Days since 1970-01-01 of a column of dates."""
    return pd.to_datetime(dates).to_numpy().astype("datetime64[D]").astype("int64")


def numbers(table: pd.DataFrame, column: str) -> np.ndarray:
    """A column as float64 with NaN where it is missing, absent or empty."""
    if column not in table.columns:
        return np.full(len(table), np.nan)
    values: Any = table[column]
    if values.dtype == "float64":
        return values.to_numpy()
    if pd.api.types.is_object_dtype(values.dtype) or pd.api.types.is_bool_dtype(values.dtype):
        values = pd.to_numeric(values)
    return values.to_numpy(dtype="float64", na_value=np.nan)


def minutes_of_day(table: pd.DataFrame) -> np.ndarray:
    """Minutes after midnight of the `time` column (HH:MM text or a time of day); NaN where not recorded."""
    if "time" not in table.columns or not table["time"].notna().any():
        return np.full(len(table), np.nan)
    codes, found = coded(table["time"])
    parts = pd.Series(found, dtype="str").str.extract(r"^(\d{1,2}):(\d{2})").astype("float64")
    minutes = (parts[0] * 60 + parts[1]).to_numpy()
    return np.append(minutes, np.nan)[codes]


def lost_of(caseload: Caseload, table: str, used: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Whole rows, and single cells of used rows, that were set aside of a table: row, person, date, column.

    Only what can be placed is given: rows without a readable person or date, and people of whom nothing else
    in `used` (any frame with their codes in `person`) is known, are left out.
    """
    names = ["row", "person", "date", "column"]
    if not len(caseload.lost):
        return (pd.DataFrame(columns=names, dtype="object"),) * 2
    lost = caseload.lost
    lost = lost[
        (lost["table"] == table) & lost["date"].notna() & lost["person"].isin(used["person"].unique())
    ]
    whole = (lost["column"] == "").to_numpy(dtype=bool)
    return lost[whole], lost[~whole]


def marks(table: pd.DataFrame, cells: pd.DataFrame) -> np.ndarray:
    """(n,) True for the rows of a table, by row and date, that any of these cells was set aside from."""
    if not len(cells):
        return np.zeros(len(table), dtype=bool)
    # The row number alone is not enough: a form with one column per day gives several records of one row.
    held = pd.MultiIndex.from_frame(table[["row", "date"]])
    return held.isin(pd.MultiIndex.from_frame(cells[["row", "date"]]))


def count(row: np.ndarray, size: int, where: np.ndarray | None = None) -> np.ndarray:
    """(size,) int64: records in each grid row, of those where `where` holds."""
    picked = row if where is None else row[where]
    return np.bincount(picked, minlength=size).astype("int64")


def total(row: np.ndarray, values: np.ndarray, size: int) -> np.ndarray:
    """(size,) sum of the known values; 0 where there are none."""
    known = ~np.isnan(values)
    return np.bincount(row[known], weights=values[known], minlength=size)


def share(top: np.ndarray, bottom: np.ndarray) -> np.ndarray:
    """top / bottom, missing where bottom is 0."""
    return np.divide(top, bottom, out=np.full(len(top), np.nan), where=bottom > 0)


def mean(row: np.ndarray, values: np.ndarray, size: int) -> np.ndarray:
    """(size,) mean of the known values, missing where none is known."""
    return share(total(row, values, size), count(row, size, ~np.isnan(values)))


def highest(row: np.ndarray, values: np.ndarray, size: int) -> np.ndarray:
    """(size,) highest known value, missing where none is known."""
    out = np.full(size, np.nan)
    known = ~np.isnan(values)
    np.fmax.at(out, row[known], values[known])
    return out


def last(row: np.ndarray, values: np.ndarray, size: int) -> np.ndarray:
    """(size,) last known value in the order given, missing where none is known."""
    out = np.full(size, np.nan)
    known = np.flatnonzero(~np.isnan(values))
    order = known[np.argsort(row[known], kind="stable")]
    ends = np.flatnonzero(np.diff(row[order], append=-1) != 0)
    out[row[order[ends]]] = values[order[ends]]
    return out
