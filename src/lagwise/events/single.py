"""One person's record in phases: how the level, and where asked the trend, differs from the phase before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import brentq, minimize_scalar
from scipy.special import stdtr, stdtrit

from lagwise.core.errors import ModelError
from lagwise.core.study import INTERVAL
from lagwise.events.autoregressive import LIMIT, gaps, whitened
from lagwise.models.estimable import ROUNDING
from lagwise.models.rows import spread

LEAST = 3
"""Steps with a value that a phase needs."""
NODES = 96
"""Values of rho the interval averages over."""


@dataclass(frozen=True)
class Phases:
    """One person's steps with a value, in order: `step`, `gap` (steps since the one before), `value` and
    `phase` (0, 1, ...), each (n,), and `starts`, the first step of each phase after the first."""

    step: np.ndarray
    gap: np.ndarray
    value: np.ndarray
    phase: np.ndarray
    starts: tuple[int, ...]


@dataclass(frozen=True)
class Changes:
    """What differs between one person's phases.

    `rows` has one row per phase after the first: `phase` (1, 2, ...), `start` (its first step), `estimate`
    (of the difference of the two levels), `std_error`, `df`, `low`, `high`, and `std_error_given`, the
    standard error if rho were known to be its estimate. `rho` and `sigma` are the REML estimates of the
    correlation of neighbouring steps and of the SD of the errors; `counts` the steps with a value per phase.
    """

    rows: pd.DataFrame
    rho: float
    sigma: float
    counts: tuple[int, ...]


def phases(step: Sequence[int], value: Sequence[float], starts: Sequence[int]) -> Phases:
    """One person's record, cut at the steps at which something changed.

    Parameters
    ----------
    step : (n,) whole numbers, in any order, each once
    value : (n,) outcome; missing values are left out, and their steps are gaps
    starts : first step of each phase after the first, rising

    Raises
    ------
    ModelError
        When steps are no whole numbers or occur twice, a value is infinite, starts do not rise, a phase has
        fewer than 3 steps with a value, or all values are equal.
    """
    at, y, cuts = (np.asarray(given, dtype=float) for given in (step, value, starts))
    if at.ndim != 1 or at.shape != y.shape:
        raise ModelError("steps and values do not fit together")
    if not len(cuts) or (cuts != np.round(cuts)).any() or (np.diff(cuts) <= 0).any():
        raise ModelError("phases need a whole first step each, one after the other")
    if np.isinf(y).any():
        raise ModelError("a value is infinite")
    order = np.argsort(at)
    order = order[~np.isnan(y[order])]
    at, y = at[order], y[order]
    gap = gaps(at)
    phase = np.searchsorted(cuts, at, side="right")
    counts = np.bincount(phase, minlength=len(cuts) + 1)
    if counts.min() < LEAST:
        few = int(counts.argmin())
        raise ModelError(
            f"phase {few + 1} of {len(counts)} has {counts[few]} steps with a value; {LEAST} are needed",
            mend="Choose phases with more rated steps.",
        )
    if np.ptp(y) == 0:
        raise ModelError(f"all {len(y)} values are {y[0]:g}: nothing differs")
    return Phases(at.astype(int), gap, y, phase, tuple(int(c) for c in cuts))


def phase_changes(step: Sequence[int], value: Sequence[float], starts: Sequence[int]) -> Changes:
    """Difference of each phase from the one before it, with autoregressive errors.

    value = level of the phase + error, errors d steps apart correlated rho^d (Huitema & McKean 2000,
    doi:10.1177/00131640021970358). Estimates are generalised least squares at the REML rho.

    Given rho, (estimate - truth) / standard error has a t distribution with n - columns degrees of freedom.
    A short record hardly tells rho, and a standard error that takes the estimate for the truth is too small.
    So the t distributions are averaged over rho, weighted with its restricted likelihood and Jeffreys' prior
    1 / sqrt(1 - rho^2), which Chebyshev nodes carry: `std_error` is the root of the mean of squared standard
    error plus squared move of the estimate, `df` makes the t quantile reach the limits between which the
    average holds 95 %, and is infinite where the normal's already does. In 1,000 simulated records a cell of
    8 + 8, 12 + 12 and 6 + 20 steps 95 % intervals of a level held the truth in 93 to 97 of 100 at rho 0, .3
    and .6, and in 91 to 93 at .8; with Satterthwaite's df in 91 to 95, and 90 to 91.

    Parameters
    ----------
    step, value, starts
        As for `phases`.

    Raises
    ------
    ModelError
        As for `phases`, and when the phases leave no residual variance.
    """
    p = phases(step, value, starts)
    X = (p.phase[:, None] == np.arange(len(p.starts) + 1)).astype(float)
    y, gap = p.value, p.gap
    free = len(y) - X.shape[1]
    rest = y - X @ np.linalg.lstsq(X, y)[0]
    if np.linalg.norm(rest) <= ROUNDING * np.linalg.norm(y - y.mean()):
        raise ModelError("the phases leave no residual variance", mend="Choose phases with more rated steps.")
    nodes = np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
    deviance = _given(X, y, gap, nodes)[0]
    best = int(np.argmin(np.where(np.abs(nodes) < LIMIT, deviance, np.inf)))
    ends = nodes[min(best + 1, NODES - 1)], nodes[max(best - 1, 0)]
    found = minimize_scalar(
        lambda r: _given(X, y, gap, np.array([r]))[0][0],
        bounds=np.clip(ends, -LIMIT, LIMIT),
        method="bounded",
        options={"xatol": 1e-9},
    )
    rho = np.append(nodes, found.x)
    deviance, beta, cov, s2 = _given(X, y, gap, rho)
    weight = np.exp((deviance.min() - deviance[:-1]) / 2)
    weight /= weight.sum()
    rows = []
    for phase, w in enumerate(np.diff(np.eye(X.shape[1]), axis=0), 1):
        each, error = beta @ w, np.sqrt(np.einsum("i,bij,j->b", w, cov, w))
        told = spread(float(each[-1]), *_averaged(each[:-1] - each[-1], error[:-1], weight, free))
        where = {"phase": phase, "start": p.starts[phase - 1]}
        rows.append(where | told | {"std_error_given": float(error[-1])})
    counts = tuple(int(c) for c in np.bincount(p.phase))
    return Changes(pd.DataFrame(rows), float(found.x), float(np.sqrt(s2[-1])), counts)


def _given(X: np.ndarray, y: np.ndarray, gap: np.ndarray, rho: np.ndarray) -> tuple[np.ndarray, ...]:
    """At each rho (B,): restricted deviance up to a constant, coefficients, their covariance, variance of
    the errors."""
    both, size = whitened(np.column_stack([X, y]), gap, rho)
    A, b = both[..., :-1], both[..., -1]
    XtX = np.swapaxes(A, 1, 2) @ A
    bread = np.linalg.inv(XtX)
    beta = (bread @ (np.swapaxes(A, 1, 2) @ b[..., None]))[..., 0]
    rss = ((b - (A @ beta[..., None])[..., 0]) ** 2).sum(axis=1)
    free = len(y) - X.shape[1]
    deviance = size + np.linalg.slogdet(XtX)[1] + free * np.log(rss)
    return deviance, beta, bread * (rss / free)[:, None, None], rss / free


def _averaged(move: np.ndarray, error: np.ndarray, weight: np.ndarray, free: int) -> tuple[float, float]:
    """Standard error and df of t distributions about `move` with scale `error`, averaged with `weight`."""
    total = float(np.sqrt(weight @ (error**2 + move**2)))

    def outside(half: float) -> float:
        return float(weight @ (stdtr(free, (move - half) / error) + stdtr(free, (-move - half) / error)))

    far = total
    while outside(far) > 1 - INTERVAL:
        far *= 2
    ratio = brentq(lambda half: outside(half) - (1 - INTERVAL), 0, far) / total
    tail = 0.5 + INTERVAL / 2
    if ratio <= stdtrit(np.inf, tail) * (1 + 1e-6):
        return total, np.inf
    return total, float(brentq(lambda df: stdtrit(df, tail) - ratio, 0.5, 1e7))
