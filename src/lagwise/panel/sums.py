"""Sums, means and shares per row of the grid; rows without anything known come out missing, never 0."""

from __future__ import annotations

import numpy as np


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
