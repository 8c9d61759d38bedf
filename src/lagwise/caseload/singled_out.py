"""How many people are singled out by k things somebody may know of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

DRAWS = 20_000
FEWEST, MOST = 20, 500
"""Draws in all for one figure, and the fewest and most of one person."""
SEED = 20_240_101
_CELLS = 4_000_000
_WORD = 64


@dataclass(frozen=True)
class Share:
    """How many are singled out by k points: a mean over people, its Monte Carlo error, and who was looked at.

    `mean` is the chance that k points drawn at random of a person drawn at random fit nobody else. `mostly`
    is the share of people for whom more than half of the draws do. `error` is the standard error of `mean`
    from drawing, 0 when every set of k points was tried. `people` counts those who have k points;
    without any, `mean` and `mostly` are nan.
    """

    k: int
    mean: float
    mostly: float
    error: float
    people: int


def singled_out(
    points: pd.DataFrame, counts: Sequence[int], *, in_a_row: bool = False, seed: int = SEED
) -> list[Share]:
    """The share of people whom known points of theirs tell from everybody else, for each count of these.

    Parameters
    ----------
    points : DataFrame
        person; value (anything that can be compared); place (whole number, such as weeks since the person's
        first). A person fits what is known when, moved along by some one number of places, their points hold
        all of the known ones. With place 0 throughout, a point is its value and nothing moves.
    counts : sequence of int
        How many points are known.
    in_a_row : bool
        Known are points of adjacent places instead of any.
    seed : int
        Of the draws; every set of points is tried instead where there are few.
    """
    who, people = pd.factorize(points["person"], sort=True)
    value = pd.factorize(points["value"], sort=True)[0]
    place = points["place"].to_numpy(dtype=np.int64)
    rows = np.lexsort((value, place, who))
    who, value, place = who[rows], value[rows], place[rows]
    new = np.ones(len(who), dtype=bool)
    new[1:] = (np.diff(who) != 0) | (np.diff(value) != 0) | (np.diff(place) != 0)
    who, value, place = who[new], value[new], place[new]
    size = int(value.max()) + 1 if len(value) else 0
    holders = (
        np.bincount(np.unique(who * size + value) % size, minlength=size) if size else np.zeros(0, dtype=int)
    )
    return [_share(who, value, place, holders, len(people), k, in_a_row, seed) for k in counts]


def _share(
    who: np.ndarray,
    value: np.ndarray,
    place: np.ndarray,
    holders: np.ndarray,
    people: int,
    k: int,
    in_a_row: bool,
    seed: int,
) -> Share:
    drawn, of, exact = _drawn(who, place, people, k, in_a_row, np.random.default_rng(seed))
    if not len(drawn):
        return Share(k, math.nan, math.nan, 0.0, 0)
    alone = (holders[value[drawn]] == 1).any(axis=1)
    open_draws = np.flatnonzero(~alone)
    if len(open_draws):
        alone[open_draws] = _fitting(who, value, place, holders, people, drawn[open_draws]) == 1
    size = np.bincount(of, minlength=people)
    has = size > 0
    chance = np.bincount(of, alone, minlength=people)[has] / size[has]
    varying = np.where(exact[has], 0.0, chance * (1 - chance) / size[has])
    mean, mostly = float(chance.mean()), float((chance > 0.5).mean())
    return Share(k, mean, mostly, math.sqrt(float(varying.sum())) / len(chance), len(chance))


def _drawn(
    who: np.ndarray, place: np.ndarray, people: int, k: int, in_a_row: bool, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Positions of the points of each draw (draws, k), whose draw it is,
    and per person whether all sets were tried."""
    each = int(np.clip(DRAWS // max(people, 1), FEWEST, MOST))
    starts = np.searchsorted(who, np.arange(people + 1)) if people else np.zeros(1, dtype=int)
    out, of, exact = [], [], np.ones(people, dtype=bool)
    for person in range(people):
        at = np.arange(starts[person], starts[person + 1])
        if len(at) < k:
            continue
        if in_a_row:
            first = at[: len(at) - k + 1]
            first = first[place[first + k - 1] - place[first] == k - 1]
            sets = first[:, None] + np.arange(k)
        elif k == 1 or math.comb(len(at), k) <= each:
            sets = np.array(list(combinations(at, k)))
        else:
            sets = at[_subsets(len(at), k, each, rng)]
            exact[person] = False
        out.append(sets)
        of.append(np.full(len(sets), person))
    if not out:
        return np.empty((0, k), dtype=int), np.empty(0, dtype=int), exact
    return np.concatenate(out), np.concatenate(of), exact


def _subsets(count: int, k: int, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Sets of k different whole numbers below count, (draws, k), each as likely as any other."""
    sets = rng.integers(count, size=(draws, k))
    while (again := (np.diff(np.sort(sets, axis=1), axis=1) == 0).any(axis=1)).any():
        sets[again] = rng.integers(count, size=(int(again.sum()), k))
    return sets


def _fitting(
    who: np.ndarray, value: np.ndarray, place: np.ndarray, holders: np.ndarray, people: int, drawn: np.ndarray
) -> np.ndarray:
    """How many people fit each draw, the person drawn from included.

    For every shared value and person the places are bits of a row of words; shifted by how far each known
    point lies after the first one, and taken together, a bit is left where all of them fit.
    """
    start = np.full(people, np.iinfo(np.int64).max)
    np.minimum.at(start, who, place)
    at = place - start[who]
    words = int(at.max()) // _WORD + 1
    shared = holders > 1
    row = np.cumsum(shared) - 1
    keep = shared[value]
    where = place[drawn]
    ahead = where - where.min(axis=1, keepdims=True)
    count = np.zeros(len(drawn), dtype=np.int64)
    block = max(1, _CELLS * 5 // max(1, int(shared.sum()) * 3 * words))
    for low in range(0, people, block):
        here = keep & (who >= low) & (who < low + block)
        bits = np.zeros((int(shared.sum()), min(block, people - low), 2 * words + 1), dtype=np.uint64)
        np.bitwise_or.at(
            bits,
            (row[value[here]], who[here] - low, at[here] // _WORD),
            np.uint64(1) << (at[here] % _WORD).astype(np.uint64),
        )
        rows = max(1, _CELLS // (bits.shape[1] * words))
        for first in range(0, len(drawn), rows):
            some = slice(first, first + rows)
            left = np.ones((1, 1, 1), dtype=np.uint64) * np.iinfo(np.uint64).max
            for j in range(drawn.shape[1]):
                left = left & _shifted(bits, row[value[drawn[some, j]]], ahead[some, j], words)
            count[some] += (left != 0).any(axis=2).sum(axis=1)
    return count


def _shifted(bits: np.ndarray, rows: np.ndarray, by: np.ndarray, words: int) -> np.ndarray:
    """The places of some values, (draws, people, words), moved down by so many places each."""
    if not by.any():
        return bits[rows, :, :words]
    whole, rest = by // _WORD, (by % _WORD).astype(np.uint64)[:, None, None]
    index = whole[:, None] + np.arange(words)
    low = bits[rows[:, None], :, index].transpose(0, 2, 1) >> rest
    high = bits[rows[:, None], :, index + 1].transpose(0, 2, 1)
    return low | np.where(rest > 0, high << (np.uint64(_WORD) - np.maximum(rest, np.uint64(1))), np.uint64(0))
