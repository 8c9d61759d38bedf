"""The people table made coarse, until every combination of what it says is shared by at least k people.

Each column can be told in several ways, more and more coarsely; of their combinations those are tried that
lose least.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pandas as pd

BANDS: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {"months_with_pain": (0, 3, 12, 36, 120, 1200), "training_years": (0, 1, 3, 10, 100)}
)
"""Edges of the bands of numeric columns; a value is replaced by the middle of its band,
in the last band by its edge."""

SCORE_BANDS = 4
OTHER = "other"
MOST_NODES = 60_000
TRIED = 12
_AGES = re.compile(
    r"(\d{1,3})\s*(?:-|–|to|bis)\s*(\d{1,3})|"
    r"(\d{1,3})\s*(?:\+|and over|und älter)|(?:<|under|unter)\s*(\d{1,3})"
)


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
        own = BANDS.get(name)
        edges = np.linspace(*scores[name], SCORE_BANDS + 1) if own is None else np.asarray(own, dtype=float)
        every = [edges, *(edges_merged(values, edges, least) for least in (k, 2 * k, half))]
        return ways(name, [_banded(values, e, open_end=name in BANDS) for e in every])
    if name == "site":
        names = {site: f"S{i + 1}" for i, site in enumerate(values.dropna().unique())}
        values = values.map(names).astype("str").where(values.notna())
    merge = ages_merged if name == "age_band" else rare_merged
    return ways(name, [values, *(merge(values, least) for least in (k, 2 * k, half))])


def smallest_cell(people: pd.DataFrame) -> int:
    """The fewest people who share one combination of everything the people table says; 0 without people."""
    told = [name for name in people.columns if name not in ("person", "row")]
    return int(people.groupby(told, dropna=False).size().min()) if told and len(people) else len(people)


def _banded(values: pd.Series, edges: np.ndarray, *, open_end: bool) -> pd.Series:
    middle = (edges[:-1] + edges[1:]) / 2
    if open_end:
        middle[-1] = edges[-2]
    at = np.clip(np.searchsorted(edges, values.fillna(edges[0]), side="right") - 1, 0, len(middle) - 1)
    return pd.Series(middle[at], index=values.index).where(values.notna())


def _empty_small_cells(out: pd.DataFrame, told: list[str], k: int) -> None:
    """Empty cells, in place, until every combination is held by at least k people or everything is empty."""
    if not told or out.empty:
        return
    codes = np.column_stack([pd.factorize(out[name])[0] for name in told])  # -1 where nothing is told
    while (small := (size := _sizes(codes)) < k).any():
        filled = np.flatnonzero((codes[small] >= 0).any(axis=0))
        if len(filled):
            tried = [np.where(np.outer(small, np.arange(len(told)) == at), -1, codes) for at in filled]
            codes = min(tried, key=lambda emptied: int((_sizes(emptied) < k).sum()))
            continue
        rest = (codes >= 0).any(axis=1)
        if not rest.any():
            break
        codes[rest & (size == size[rest].min())] = -1
    for name, now in zip(told, codes.T, strict=True):
        gone = (now < 0) & out[name].notna()
        if gone.any():
            out[name] = out[name].mask(gone)


def _sizes(codes: np.ndarray) -> np.ndarray:
    """(n,) how many rows are the same as each row."""
    _, at, counts = np.unique(codes, axis=0, return_inverse=True, return_counts=True)
    return counts[at.ravel()]


@dataclass(frozen=True)
class Ways:
    """One column told in several ways, the finest first and the empty one last;
    `told` is the share of information kept."""

    name: str
    values: tuple[pd.Series, ...]
    told: tuple[float, ...]

    def codes(self, way: int) -> np.ndarray:
        """Whole numbers for the values told in one way; missing is a value."""
        return pd.factorize(self.values[way], use_na_sentinel=False)[0]


def ways(name: str, values: Sequence[pd.Series]) -> Ways:
    """The distinct ways among these, with the empty one; information is entropy relative to the first way.

    A way that says one thing of everybody, where the first says more, says nothing and is left out.
    """
    finest = _entropy(values[0])
    kept: list[pd.Series] = []
    for one in [one for one in values if not finest or _entropy(one) > 0]:
        if not any(
            (one.isna() == other.isna()).all() and (one.dropna() == other.dropna()).all() for other in kept
        ):
            kept.append(one)
    told = [_entropy(one) / finest if finest else float(one.notna().any()) for one in kept]
    if kept[-1].notna().any():
        kept.append(kept[0].mask(kept[0].notna()))
        told.append(0.0)
    return Ways(name, tuple(kept), tuple(told))


def fewer_ways(columns: Sequence[Ways]) -> list[Ways]:
    """Columns with the second finest way of the longest ones left out until their combinations
    can all be tried."""
    out = list(columns)
    while np.prod([len(c.values) for c in out], dtype=float) > MOST_NODES:
        at = max(range(len(out)), key=lambda i: len(out[i].values))
        one = out[at]
        out[at] = Ways(one.name, (one.values[0], *one.values[2:]), (one.told[0], *one.told[2:]))
        if len(one.values) <= 2:
            out[at] = Ways(one.name, one.values[-1:], one.told[-1:])
    return out


def best_ways(columns: Sequence[Ways], k: int) -> list[tuple[int, ...]]:
    """The dozen combinations of ways, one per column, that tell most when the people of cells under k
    are left out whole."""
    codes = [[c.codes(i) for i in range(len(c.values))] for c in columns]
    sizes = [[int(one.max()) + 1 for one in each] for each in codes]
    found: list[tuple[float, tuple[int, ...]]] = []

    def descend(at: int, labels: np.ndarray, space: int, told: float, chosen: tuple[int, ...]) -> None:
        if at == len(columns):
            counts = np.bincount(labels)
            left_out = counts[(counts > 0) & (counts < k)].sum()
            found.append((told * (1 - left_out / len(labels)), chosen))
            return
        for way, one in enumerate(codes[at]):
            wider = labels * sizes[at][way] + one
            wide = space * sizes[at][way]
            if wide > 4 * len(labels) + 64:
                wider = np.unique(wider, return_inverse=True)[1]
                wide = int(wider.max()) + 1
            descend(at + 1, wider, wide, told + columns[at].told[way], (*chosen, way))

    descend(0, np.zeros(len(columns[0].values[0]), dtype=np.int64), 1, 0.0, ())
    found.sort(key=lambda one: (-one[0], one[1]))
    return [chosen for _, chosen in found[:TRIED]]


def rare_merged(values: pd.Series, k: int) -> pd.Series:
    """Texts held by fewer than k people as 'other', with the next rarest until it holds k;
    emptied where it never does."""
    counts = values.value_counts().sort_values(kind="stable")
    rare = list(counts.index[counts < k])
    if not rare:
        return values
    merged = int(counts[rare].sum())
    for name in counts.index[counts >= k]:
        if merged >= k:
            break
        rare.append(name)
        merged += int(counts[name])
    return values.mask(values.isin(rare), OTHER if merged >= k else None)


def ages_merged(values: pd.Series, least: int) -> pd.Series:
    """Age bands put together with their neighbours until each holds `least` people;
    '30-39' and '40-49' are '30-49'."""
    counts = values.value_counts()
    bands = {text: _ages(text) for text in counts.index}
    if any(band is None for band in bands.values()) or not bands:
        return rare_merged(values, least)
    order = sorted(bands, key=lambda text: bands[text] or (0, 0))
    groups: list[list[str]] = [[]]
    for text in order:
        groups[-1].append(text)
        if counts[groups[-1]].sum() >= least:
            groups.append([])
    if not groups[-1]:
        groups.pop()
    elif len(groups) > 1:
        groups[-2:] = [groups[-2] + groups[-1]]
    name = [_age_name([bands[t] for t in group]) if len(group) > 1 else "".join(group) for group in groups]
    named = {text: told for group, told in zip(groups, name, strict=True) for text in group}
    return values.map(named).astype("str").where(values.notna())


def edges_merged(values: pd.Series, edges: np.ndarray, least: int) -> np.ndarray:
    """Edges of bands of a number, neighbours put together until each band that is used
    holds `least` people."""
    known = np.clip(values.dropna().to_numpy(), edges[0], edges[-1])
    kept, held = [edges[0]], 0
    for edge, count in zip(edges[1:], np.histogram(known, edges)[0], strict=True):
        held += int(count)
        if held >= least:
            kept.append(edge)
            held = 0
    return np.array([*(kept[:-1] or kept), edges[-1]])


def _entropy(values: pd.Series) -> float:
    share = values.value_counts(normalize=True, dropna=False).to_numpy()
    return float(-(share * np.log(share)).sum()) + 0.0


def _ages(text: str) -> tuple[int, int] | None:
    found = _AGES.fullmatch(str(text).strip().lower())
    if not found:
        return None
    if found[4]:
        return 0, int(found[4]) - 1
    return (int(found[1]), int(found[2])) if found[1] else (int(found[3]), 999)


def _age_name(bands: Sequence[tuple[int, int] | None]) -> str:
    low, high = min(band[0] for band in bands if band), max(band[1] for band in bands if band)
    return f"{low}+" if high == 999 else f"under {high + 1}" if low == 0 else f"{low}-{high}"
