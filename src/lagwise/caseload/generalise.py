"""Ways of telling a column of the people table more and more coarsely,
and the search for the ways that lose least."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

OTHER = "other"
MOST_NODES = 60_000
TRIED = 12
_AGES = re.compile(
    r"(\d{1,3})\s*(?:-|–|to|bis)\s*(\d{1,3})|"
    r"(\d{1,3})\s*(?:\+|and over|und älter)|(?:<|under|unter)\s*(\d{1,3})"
)


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
    named = {
        text: _age_name([bands[t] for t in group]) if len(group) > 1 else text
        for group in groups
        for text in group
    }
    return values.map(named).astype("str").where(values.notna())


def edges_merged(values: pd.Series, edges: np.ndarray, least: int) -> np.ndarray:
    """Edges of bands of a number, neighbours put together until each band that is used
    holds `least` people."""
    known = np.clip(values.dropna().to_numpy(), edges[0], edges[-1])
    counts = np.histogram(known, edges)[0]
    kept, held = [edges[0]], 0
    for i, count in enumerate(counts):
        held += int(count)
        if held >= least:
            kept.append(edges[i + 1])
            held = 0
    if len(kept) == 1:
        return np.array([edges[0], edges[-1]])
    kept[-1] = edges[-1]
    return np.array(kept)


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
    low = min(band[0] for band in bands if band)
    high = max(band[1] for band in bands if band)
    if high == 999:
        return f"{low}+"
    return f"under {high + 1}" if low == 0 else f"{low}-{high}"
