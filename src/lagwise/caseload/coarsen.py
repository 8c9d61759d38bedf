"""The people table made coarse, until every combination of what it says is shared by at least k people."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
import pandas as pd

from lagwise.caseload.generalise import (
    Ways,
    ages_merged,
    best_ways,
    edges_merged,
    fewer_ways,
    rare_merged,
    ways,
)

BANDS: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {"months_with_pain": (0, 3, 12, 36, 120, 1200), "training_years": (0, 1, 3, 10, 100)}
)
"""Edges of the bands of numeric columns; a value is replaced by the middle of its band,
in the last band by its edge."""

SCORE_BANDS = 4


def coarse_people(
    people: pd.DataFrame, k: int, scores: Mapping[str, tuple[float, float]] = MappingProxyType({})
) -> tuple[pd.DataFrame, int]:
    """Coarse people, and how many cells were emptied or told more coarsely than in the first bands.

    Numbers are banded; sites become S1, S2 ... Then every column may be told more coarsely: rare texts as
    'other', age bands and bands of numbers put together with their neighbours, or not at all. Of all
    combinations of these the ones that keep most information (entropy of each column relative to its first
    bands, times the share of people in cells of at least `k`) are tried; in each, cells of people whose
    combination is held by fewer than `k` are emptied, the column first that leaves fewest such people, until
    every combination (empty counts as a value) is held by at least `k`, or all of it is empty.
    The one that tells most in the end is taken.
    """
    out = people.drop(columns=["row"], errors="ignore").reset_index(drop=True)
    told = [name for name in out.columns if name != "person"]
    if not told or out.empty:
        return out, 0
    columns = fewer_ways([_ways(name, out[name], k, scores) for name in told])
    before = pd.DataFrame({c.name: _ways(c.name, out[c.name], k, scores).values[0] for c in columns})
    best, most = out, -1.0
    for chosen in best_ways(columns, k):
        tried = out.assign(**{c.name: c.values[way] for c, way in zip(columns, chosen, strict=True)})
        _empty_small_cells(tried, told, k)
        kept = sum(c.told[way] * tried[c.name].notna().mean() for c, way in zip(columns, chosen, strict=True))
        if kept > most:
            best, most = tried, kept
    changed = best[told].ne(before) & before.notna()
    return best, int(changed.to_numpy().sum())


def _ways(name: str, values: pd.Series, k: int, scores: Mapping[str, tuple[float, float]]) -> Ways:
    half = max(k, len(values) // 3)
    if name in BANDS or name in scores:
        edges = (
            np.asarray(BANDS[name], dtype=float)
            if name in BANDS
            else np.linspace(*scores[name], SCORE_BANDS + 1)
        )
        all_edges = [edges, *(edges_merged(values, edges, least) for least in (k, 2 * k, half))]
        return ways(name, [_banded(values, e, open_end=name in BANDS) for e in all_edges])
    if name == "site":
        names = {site: f"S{i + 1}" for i, site in enumerate(values.dropna().unique())}
        values = values.map(names).astype("str").where(values.notna())
    merge = ages_merged if name == "age_band" else rare_merged
    return ways(name, [values, *(merge(values, least) for least in (k, 2 * k, half))])


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
