"""From log-odds to pain points and probabilities: predictions averaged over the observed person-steps."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numba
import numpy as np

from lagwise.core.question import Outcome
from lagwise.models.design import Design

HAIR = 1e-9
BETWEEN = 512
"""Predictors, evenly from the lowest to the highest of a draw, between which its mean is interpolated."""
MOST, FEWEST = 11, 3
"""Levels of a rating in the ordinal model: a scale of as many whole points keeps them, any other has
`MOST`."""


@dataclass(frozen=True)
class Levels:
    """The ordered ratings of the ordinal model: `count` values from `low` on, `step` apart."""

    low: float = 0.0
    step: float = 1.0
    count: int = MOST

    @property
    def values(self) -> np.ndarray:
        """(count,) ratings; whole numbers where they are."""
        values = self.low + self.step * np.arange(self.count)
        return values.astype("int64") if np.all(values == np.floor(values)) else values

    @property
    def plain(self) -> bool:
        """True where a level's place is its value."""
        return self.low == 0 and self.step == 1

    def place(self, ratings: np.ndarray) -> np.ndarray:
        """Ratings in steps from the lowest level, as given: 2.5 lies half way between the third and the
        fourth."""
        return (np.asarray(ratings, dtype=float) - self.low) / self.step

    def nearest(self, ratings: np.ndarray) -> np.ndarray:
        """Place of the nearest level, half up."""
        return np.clip(np.floor(self.place(ratings) + 0.5), 0, self.count - 1).astype(np.int64)

    def of(self, places: np.ndarray) -> np.ndarray:
        """Ratings at places."""
        return places if self.plain else self.values[places]


def levels_of(outcome: Outcome) -> Levels:
    """The levels of an outcome's scale: its whole points where they are 3 to 11, else 11 from end to end."""
    low, width = float(outcome.variable.low or 0.0), outcome.variable.width
    if width == int(width) and FEWEST <= width + 1 <= MOST:
        return Levels(low, 1.0, int(width) + 1)
    return Levels(low, width / (MOST - 1), MOST)


@dataclass(frozen=True)
class Threshold:
    """The rise asked about, per row: the event is Y above the level at `category`, or in it with weight
    `share`.

    `rows` are those at risk of a flare-up in the next step. Where it `falls`, the event is a fall: all other
    levels.
    """

    category: np.ndarray
    share: np.ndarray
    rows: np.ndarray
    levels: Levels = Levels()
    falls: bool = False


def flare_threshold(design: Design, rise: float) -> Threshold:
    """Where a rating of the next step at or beyond the usual one by `rise` begins on the levels of the model.

    Ratings that are levels: the smallest one at or above the limit, whole (of a fall the largest at or below
    it). Otherwise (means of several ratings) a level covers half a step either way, and the one that holds
    the limit counts with the part of it that lies beyond. Nobody is at risk where the plan asks about the
    same step.
    """
    frame, asked = design.frame, design.asked
    levels, falls = levels_of(asked), asked.variable.worse == "low"
    usual = frame[asked.usual].to_numpy(dtype=float)
    limit = levels.place(usual - rise if falls else usual + rise)
    rows = np.flatnonzero(frame["at_risk"].eq(1).to_numpy() & ~np.isnan(limit) & bool(asked.lag))
    limit = np.where(np.isnan(limit), 0.0, limit)
    places = levels.place(design.y)
    if np.all(places == np.floor(places)):
        category = np.floor(limit + HAIR) + 1 if falls else np.ceil(limit - HAIR)
        share = np.ones(len(limit))
    else:
        category = np.floor(limit + 0.5)
        share = category + 0.5 - limit
    return Threshold(np.clip(category, 0, levels.count).astype(np.int64), share, rows, levels, falls)


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _means(eta, odds, value, slope):  # pragma: no cover - compiled
    """Fill in the mean place at evenly spaced predictors from the lowest of `eta` to its highest, and its
    slope per step of them; the lowest, and steps per unit."""
    low, high = eta.min(), eta.max()
    step = max(high - low, HAIR) / (len(value) - 1)
    for i in range(len(value)):
        E = math.exp(low + i * step)
        value[i], slope[i] = 0.0, 0.0
        for k in range(len(odds)):
            above = E / (E + odds[k])
            value[i] += above
            slope[i] += above * (1.0 - above) * step
    return low, 1.0 / step


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _averages(
    eta, per, group, amount, cutpoints, rows, category, share, at_risk, all_told, out
):  # pragma: no cover - compiled
    draws, K, n = eta.shape[0], cutpoints.shape[1] + 1, rows.shape[0]
    odds, moved = np.empty(K - 1), np.empty(n)
    value, slope = np.empty(BETWEEN), np.empty(BETWEEN)
    for s in range(draws):
        for k in range(K - 1):
            odds[k] = math.exp(cutpoints[s, k])
        for j in range(n):
            r = rows[j]
            moved[j] = eta[s, r] + per[s, group[r]] * amount[r]
        low, each = _means(moved, odds, value, slope)
        points = 0.0
        for j in range(n):
            at = (moved[j] - low) * each
            i = max(0, min(int(at), BETWEEN - 2))  # a missing predictor has no place
            u = at - i
            rise = value[i + 1] - value[i]
            bend = slope[i] + slope[i + 1] - 2.0 * rise
            points += value[i] + u * (slope[i] + u * (rise - slope[i] - bend + u * bend))
        out[s, 0] = points / n
        if not all_told:
            continue
        zero, rise, risky = 0.0, 0.0, 0
        for j in range(n):
            r = rows[j]
            E = math.exp(moved[j])
            zero += odds[0] / (E + odds[0])
            if at_risk[r]:
                risky += 1
                c = category[r]
                above = E / (E + odds[c]) if c < K - 1 else 0.0
                upto = 1.0 if c == 0 else (E / (E + odds[c - 1]) if c < K else 0.0)
                rise += above + share[r] * (upto - above)
        out[s, 1] = zero / n
        out[s, 2] = rise / risky if risky > 0 else np.nan


@dataclass(frozen=True)
class Move:
    """What is added to a linear predictor: per[draw, group[row]] * amount[row]; `per` is (draws, groups)."""

    per: np.ndarray
    group: np.ndarray
    amount: np.ndarray


def averages(
    eta: np.ndarray,
    move: Move,
    cutpoints: np.ndarray,
    rows: np.ndarray,
    threshold: Threshold,
    *,
    all_told: bool = True,
) -> np.ndarray:
    """Population-averaged prediction of every draw.

    Parameters
    ----------
    eta : (draws, n) linear predictor at the observed values, person effects included
    move : what the compared values add to it
    cutpoints : (draws, K - 1)
    rows : rows averaged over
    threshold : Threshold
    all_told : without it the mean alone is worked out, and the probabilities are NaN

    Returns
    -------
    (draws, 3): mean of Y in points (by cubic interpolation between `BETWEEN` values of a draw, to some 1e-8
    of a level where its predictors span 20 log-odds, 1e-6 where 60), probability of the lowest level, and
    among the rows at risk the probability of the rise or fall (NaN when none of `rows` is at risk).
    """
    at_risk = np.zeros(eta.shape[1], dtype=np.bool_)
    at_risk[threshold.rows] = True
    out = np.full((len(eta), 3), np.nan)
    _averages(
        np.ascontiguousarray(eta),
        np.ascontiguousarray(move.per),
        np.asarray(move.group, dtype=np.int64),
        np.asarray(move.amount, dtype=float),
        np.ascontiguousarray(cutpoints),
        np.asarray(rows, dtype=np.int64),
        threshold.category,
        threshold.share,
        at_risk,
        all_told,
        out,
    )
    out[:, 0] = threshold.levels.low + threshold.levels.step * out[:, 0]
    if threshold.falls:
        out[:, 2] = 1 - out[:, 2]
    return out
