"""The people table made coarse, until every combination of what it says is shared by at least k people."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
import pandas as pd

BANDS: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {"months_with_pain": (0, 3, 12, 36, 120, 1200), "training_years": (0, 1, 3, 10, 100)}
)
"""Edges of the bands of numeric columns; a value is replaced by the middle of its band, in the last band by its edge."""

SCORE_BANDS = 4
OTHER = "other"


def coarse_people(
    people: pd.DataFrame, k: int, scores: Mapping[str, tuple[float, float]] = MappingProxyType({})
) -> tuple[pd.DataFrame, int]:
    """Coarse people, and how many cells were emptied or merged.

    Numbers are banded; sites become S1, S2 ...; a text held by fewer than k people becomes 'other'. Then the cells of
    people whose combination is held by fewer than k are emptied, the column first that leaves fewest such people, until
    every combination (empty counts as a value) is held by at least k, or all of it is empty.
    """
    out = people.drop(columns=["row"], errors="ignore").reset_index(drop=True)
    told = [name for name in out.columns if name != "person"]
    for name in told:
        if name in BANDS:
            out[name] = _banded(out[name], np.asarray(BANDS[name], dtype=float), open_end=True)
        elif name in scores:
            out[name] = _banded(out[name], np.linspace(*scores[name], SCORE_BANDS + 1), open_end=False)
        elif name == "site":
            names = {site: f"S{i + 1}" for i, site in enumerate(out["site"].dropna().unique())}
            out[name] = out[name].map(names).astype("str")
    before = out[told].copy()
    for name in told:
        out[name] = _rare_merged(out[name], k)
    _empty_small_cells(out, told, k)
    changed = out[told].ne(before) & before.notna()
    return out, int(changed.to_numpy().sum())


def smallest_cell(people: pd.DataFrame) -> int:
    """The fewest people who share one combination of everything the people table says; 0 without people."""
    told = [name for name in people.columns if name not in ("person", "row")]
    if people.empty:
        return 0
    if not told:
        return len(people)
    return int(people.groupby(told, dropna=False).size().min())


def _banded(values: pd.Series, edges: np.ndarray, *, open_end: bool) -> pd.Series:
    middle = (edges[:-1] + edges[1:]) / 2
    if open_end:
        middle[-1] = edges[-2]
    at = np.clip(np.searchsorted(edges, values.fillna(edges[0]), side="right") - 1, 0, len(middle) - 1)
    return pd.Series(middle[at], index=values.index).where(values.notna())


def _rare_merged(values: pd.Series, k: int) -> pd.Series:
    """Rare values merged: texts into 'other' (with the next rarest until it holds k), numbers emptied."""
    counts = values.value_counts().sort_values(kind="stable")
    rare = list(counts.index[counts < k])
    if not rare:
        return values
    if values.dtype == "float64":
        return values.where(~values.isin(rare))
    merged = int(counts[rare].sum())
    for name in counts.index[counts >= k]:
        if merged >= k:
            break
        rare.append(name)
        merged += int(counts[name])
    return values.mask(values.isin(rare), OTHER if merged >= k else None)


def _empty_small_cells(out: pd.DataFrame, told: list[str], k: int) -> None:
    """Empty cells, in place, until every combination is held by at least k people or everything is empty."""
    while told and len(out):
        size = out.groupby(told, dropna=False)["person"].transform("size")
        small = size < k
        if not small.any():
            return
        filled = [name for name in told if out.loc[small, name].notna().any()]
        if filled:
            column = min(filled, key=lambda name: _left_small(out, told, name, small, k))
            out[column] = out[column].mask(small)
            continue
        rest = size[out[told].notna().any(axis=1)]
        if rest.empty:
            return
        next_cell = (size == rest.min()) & out[told].notna().any(axis=1)
        for name in told:
            out[name] = out[name].mask(next_cell)


def _left_small(out: pd.DataFrame, told: list[str], column: str, small: pd.Series, k: int) -> int:
    tried = out.assign(**{column: out[column].mask(small)})
    return int((tried.groupby(told, dropna=False)["person"].transform("size") < k).sum())
