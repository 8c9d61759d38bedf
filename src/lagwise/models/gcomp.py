"""From log-odds to pain points and probabilities: predictions averaged over the observed person-steps."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numba
import numpy as np

from lagwise.models.design import Design

HAIR = 1e-9


@dataclass(frozen=True)
class Threshold:
    """The rise asked about, per row: the event is Y above `category`, or in it with weight `share`.

    `rows` are those at risk, whose pain is known and below usual_pain + flare_rise.
    """

    category: np.ndarray
    share: np.ndarray
    rows: np.ndarray


def flare_threshold(design: Design, rise: float) -> Threshold:
    """Where pain_next >= usual_pain + rise begins on the rounded scale.

    Whole-number ratings: the smallest category at or above the limit, whole. Otherwise (means of several ratings) a category
    covers half a point either way, and the one that holds the limit counts with the part of it that lies above.
    """
    frame = design.frame
    limit = (frame["usual_pain"] + rise).to_numpy(dtype=float)
    rows = np.flatnonzero(frame["at_risk"].eq(1).to_numpy() & ~np.isnan(limit))
    limit = np.where(np.isnan(limit), 0.0, limit)
    if np.all(design.y == np.floor(design.y)):
        category = np.ceil(limit - HAIR)
        share = np.ones(len(limit))
    else:
        category = np.floor(limit + 0.5)
        share = category + 0.5 - limit
    return Threshold(np.clip(category, 0, 11).astype(np.int64), share, rows)


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _averages(eta, per, group, amount, cutpoints, rows, category, share, at_risk, out):  # pragma: no cover - compiled
    draws, K = eta.shape[0], cutpoints.shape[1] + 1
    odds = np.empty(K - 1)
    for s in range(draws):
        for k in range(K - 1):
            odds[k] = math.exp(cutpoints[s, k])
        points = 0.0
        zero = 0.0
        rise = 0.0
        risky = 0
        for r in rows:
            E = math.exp(eta[s, r] + per[s, group[r]] * amount[r])
            total = 0.0
            for k in range(K - 1):
                total += E / (E + odds[k])
            points += total
            zero += odds[0] / (E + odds[0])
            if at_risk[r]:
                risky += 1
                c = category[r]
                above = E / (E + odds[c]) if c < K - 1 else 0.0
                upto = 1.0 if c == 0 else (E / (E + odds[c - 1]) if c < K else 0.0)
                rise += above + share[r] * (upto - above)
        n = rows.shape[0]
        out[s, 0] = points / n
        out[s, 1] = zero / n
        out[s, 2] = rise / risky if risky > 0 else np.nan


@dataclass(frozen=True)
class Move:
    """What is added to a linear predictor: per[draw, group[row]] * amount[row]; `per` is (draws, groups)."""

    per: np.ndarray
    group: np.ndarray
    amount: np.ndarray


def averages(eta: np.ndarray, move: Move, cutpoints: np.ndarray, rows: np.ndarray, threshold: Threshold) -> np.ndarray:
    """Population-averaged prediction of every draw.

    Parameters
    ----------
    eta : (draws, n) linear predictor at the observed values, person effects included
    move : what the compared values add to it
    cutpoints : (draws, K - 1)
    rows : rows averaged over
    threshold : Threshold

    Returns
    -------
    (draws, 3): mean of Y in points, probability of Y = 0, and among the rows at risk the probability of the rise (NaN when
    none of `rows` is at risk).
    """
    at_risk = np.zeros(eta.shape[1], dtype=np.bool_)
    at_risk[threshold.rows] = True
    out = np.empty((len(eta), 3))
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
        out,
    )
    return out
