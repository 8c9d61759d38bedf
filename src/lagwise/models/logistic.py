"""Logistic regression with normal person intercepts by adaptive Gauss-Hermite quadrature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numba
import numpy as np
from scipy.special import expit

from lagwise.core.errors import ModelError

NODES = 15
FARTHEST = 9.0
"""A coefficient per SD of its column beyond this means that the column separates events from the rest."""
FLAT = 0.01
"""Information per SD below this (a standard error above 10) means the same: the likelihood only flattens
out."""
SHARE = 0.3
"""Part of a flat direction from which a column counts as one of those that separate."""
_STEPS = 60


class Separated(ModelError):
    """Some mixture of columns tells events from non-events without error, so that no finite estimate exists;
    `columns` names them."""

    def __init__(self, what: str, *, columns: tuple[str, ...] = ()) -> None:
        super().__init__(what)
        self.columns = columns


def log_f(beta: np.ndarray, m: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Log density of log-F(m, m) penalties, its slope and minus its curvature, per coefficient; m = 0 for
    none."""
    q = expit(beta)
    return float(np.sum(m * (beta / 2 - np.logaddexp(0, beta)))), m * (0.5 - q), m * q * (1 - q)


@dataclass(frozen=True)
class LogisticFit:
    """Estimates of logit P(y = 1) = X beta + tau u_i, u_i ~ N(0, 1).

    `beta` (p,), `tau` >= 0 the person SD on the log-odds scale, `cov` (p + 1, p + 1) of (beta, tau), its last
    row and column 0 where tau is 0. `penalty` is the m of the log-F(m, m) penalty on each coefficient per SD
    of its column; 0 is plain maximum likelihood.
    """

    beta: np.ndarray
    tau: float
    cov: np.ndarray
    log_likelihood: float
    penalty: float

    def std_error(self, at: int) -> float:
        """Standard error of one coefficient."""
        return float(np.sqrt(self.cov[at, at]))


def fit_logistic(
    y: np.ndarray,
    X: np.ndarray,
    person: np.ndarray,
    *,
    penalty: float = 0.0,
    only: Sequence[int] | None = None,
    nodes: int = NODES,
) -> LogisticFit:
    """Maximise the marginal (penalised) likelihood by Newton's method.

    Parameters
    ----------
    y : (n,) of 0 and 1
    X : (n, p), constant 1 first
    person : (n,) codes 0..m-1, rows of a person together
    penalty : m of the log-F(m, m) penalty, which adds m/2 'events' and m/2 'non-events' per column
        (Greenland & Mansournia 2015, doi:10.1002/sim.6537)
    only : positions of the columns that the penalty holds; all but the first by default
    nodes : quadrature points per person, placed around the person's own mode

    Raises
    ------
    Separated
        When an estimate that no penalty holds runs away; `columns` holds positions as text.
    ModelError
        When the search does not converge.
    """
    shift, scale = X.mean(axis=0), X.std(axis=0)
    shift[0], scale[0] = 0.0, 1.0
    held = np.full(X.shape[1], penalty if only is None else 0.0)
    held[[] if only is None else list(only)] = penalty
    held[0] = 0.0
    problem = _Problem(
        y.astype(float), np.ascontiguousarray((X - shift) / scale),
        np.append(np.flatnonzero(np.diff(person, prepend=-1)), len(y)), held, nodes,
    )  # fmt: skip
    start = np.zeros(X.shape[1] + 1)
    rate = np.clip(y.mean(), 1e-3, 1 - 1e-3)
    start[0] = np.log(rate / (1 - rate))
    pooled, low, low_hessian = _newton(problem, start, fixed=True)
    mixed, high, hessian = pooled, low, low_hessian
    if problem.people_differ(pooled[:-1]):
        mixed, high, hessian = _newton(problem, np.append(pooled[:-1], 0.5), fixed=False)
    k = X.shape[1]
    free = k + (mixed[-1] != 0)
    cov = np.zeros((k + 1, k + 1))
    cov[:free, :free] = np.linalg.inv(-hessian[:free, :free])
    back = np.zeros((k + 1, k + 1))
    back[np.arange(k), np.arange(k)] = 1 / scale
    back[0, 1:k] = -shift[1:] / scale[1:]
    back[k, k] = 1.0
    values = back @ mixed
    return LogisticFit(values[:k], float(abs(values[k])), back @ cov @ back.T, float(high), penalty)


@dataclass(frozen=True)
class _Problem:
    """Outcomes and standardised columns of people whose first rows are `ends`, the number of rows last."""

    y: np.ndarray
    X: np.ndarray
    ends: np.ndarray
    penalty: np.ndarray
    nodes: int

    def evaluate(self, g: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        """Log-likelihood with penalty, its gradient and Hessian in (beta, tau), by Louis' identity at the
        quadrature points."""
        beta, tau = g[:-1], g[-1]
        fixed = self.X @ beta
        u, log_weight = self._points(fixed, tau)
        k, n = len(g), len(fixed)
        score, post, each = np.empty((*u.shape, k)), np.empty(u.shape), np.empty(len(u))
        w = np.empty((3, n))
        _at_points(self.ends, self.y, self.X, fixed, tau, u, log_weight, score, post, each, w)
        mean = (post[:, None] @ score)[:, 0]
        flat = score.reshape(-1, k)
        H = flat.T @ (post.reshape(-1, 1) * flat) - mean.T @ mean
        H[:-1, :-1] -= self.X.T @ (w[0][:, None] * self.X)
        H[:-1, -1] -= self.X.T @ w[1]
        H[-1, :-1] -= self.X.T @ w[1]
        H[-1, -1] -= w[2].sum()
        value, gradient = float(each.sum()), mean.sum(axis=0)
        if self.penalty.any():
            prior, pull, weight = log_f(beta, self.penalty)
            value += prior
            gradient[:-1] += pull
            H[np.arange(k - 1), np.arange(k - 1)] -= weight
        return value, gradient, H

    def people_differ(self, beta: np.ndarray) -> bool:
        """Whether the likelihood rises as tau leaves 0: its second derivative there, sum of (person's
        residual sum)^2 - p(1 - p), is positive."""
        p = expit(self.X @ beta)
        sums = np.add.reduceat(self.y - p, self.ends[:-1])
        return bool(np.sum(sums**2) > np.sum(p * (1 - p)))

    def _points(self, fixed: np.ndarray, tau: float) -> tuple[np.ndarray, np.ndarray]:
        """Quadrature points (m, K) around each person's mode of u, and log weights that include the normal
        density."""
        m = len(self.ends) - 1
        x, w = _hermite(1 if tau == 0 else self.nodes)
        mode, curve = np.zeros(m), np.ones(m)
        if tau:
            _modes(self.ends, self.y, fixed, tau, mode, curve)
        spread = np.sqrt(2 / curve)
        u = mode[:, None] + spread[:, None] * x
        return u, np.log(w) + x**2 + np.log(spread)[:, None] - u**2 / 2 - 0.5 * np.log(2 * np.pi)


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _modes(
    ends: np.ndarray, y: np.ndarray, fixed: np.ndarray, tau: float, mode: np.ndarray, curve: np.ndarray
) -> None:
    """Fill each person's mode of u and the curvature there by Newton's method, from the modes given."""
    for i in range(len(ends) - 1):
        for _ in range(30):
            slope, bend = 0.0, 0.0
            for t in range(ends[i], ends[i + 1]):
                p = 1 / (1 + np.exp(-fixed[t] - tau * mode[i]))
                slope += y[t] - p
                bend += p * (1 - p)
            curve[i] = 1 + tau * tau * bend
            step = (tau * slope - mode[i]) / curve[i]
            mode[i] += min(2.0, max(-2.0, step))
            if abs(step) < 1e-9:
                break


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _at_points(
    ends: np.ndarray,
    y: np.ndarray,
    X: np.ndarray,
    fixed: np.ndarray,
    tau: float,
    u: np.ndarray,
    log_weight: np.ndarray,
    score: np.ndarray,
    post: np.ndarray,
    each: np.ndarray,
    w: np.ndarray,
) -> None:
    """Fill, person by person, what the quadrature points give.

    Parameters
    ----------
    ends : (m + 1,) first row of every person, and the number of rows
    u, log_weight : (m, K) points and their log weights
    score : (m, K, p + 1) slope of the person's log-likelihood in (beta, tau) at each point, overwritten
    post, each : (m, K) share of each point in the person's likelihood, and (m,) its log, overwritten
    w : (3, n) every row's variance averaged over the points, alone, times u and times u squared, overwritten
    """
    K, k = u.shape[1], X.shape[1]
    score[:] = 0.0
    w[:] = 0.0
    spread = np.empty((len(y), K))
    for i in range(len(ends) - 1):
        for j in range(K):
            total, product, left, own = log_weight[i, j], 1.0, 0.0, score[i, j]
            for t in range(ends[i], ends[i + 1]):
                eta = fixed[t] + tau * u[i, j]
                small = np.exp(-abs(eta))
                total += y[t] * eta - max(eta, 0.0)
                product *= 1 + small
                if product > 1e200:
                    total -= np.log(product)
                    product = 1.0
                p = (1.0 if eta >= 0 else small) / (1 + small)
                r = y[t] - p
                spread[t, j] = p * (1 - p)
                left += r
                for c in range(k):
                    own[c] += r * X[t, c]
            own[k] = u[i, j] * left
            post[i, j] = total - np.log(product)
        top = post[i].max()
        each[i] = top + np.log(np.exp(post[i] - top).sum())
        for j in range(K):
            post[i, j] = np.exp(post[i, j] - each[i])
            for t in range(ends[i], ends[i + 1]):
                v = spread[t, j] * post[i, j]
                w[0, t] += v
                w[1, t] += v * u[i, j]
                w[2, t] += v * u[i, j] ** 2


@cache
def _hermite(nodes: int) -> tuple[np.ndarray, np.ndarray]:
    return np.polynomial.hermite.hermgauss(nodes)


def _newton(problem: _Problem, start: np.ndarray, *, fixed: bool) -> tuple[np.ndarray, float, np.ndarray]:
    """Newton with step halving; `fixed` holds tau at 0."""
    free = slice(0, -1) if fixed else slice(None)
    free_of = (problem.penalty == 0) & (np.arange(len(start) - 1) > 0)
    g = start.copy()
    value, gradient, H = problem.evaluate(g)
    for _ in range(_STEPS):
        values, vectors = np.linalg.eigh(-H[free, free])
        size = np.maximum(np.abs(values), 1e-6)
        along = vectors.T @ gradient[free]
        step = vectors @ (along / size)
        decrement = float(np.sum(along**2 / size))
        if fixed and values[0] < FLAT and (flat := free_of & (np.abs(vectors[:, 0]) > SHARE)).any():
            break
        if decrement < 1e-9:
            return g, value, H
        step *= min(1.0, 2.0 / np.abs(step).max())
        for _ in range(30):
            trial = g.copy()
            trial[free] += step
            new = problem.evaluate(trial)
            if new[0] >= value - 1e-8 * (1 + abs(value)):  # the quadrature's own rounding
                break
            step = step / 2
        g, (value, gradient, H) = trial, new
        if (flat := free_of & (np.abs(g[:-1]) > FARTHEST)).any():
            break
    else:
        raise ModelError("the search for the onset model did not converge")
    columns = tuple(str(i) for i in np.flatnonzero(flat))
    raise Separated("a mixture of columns separates flare onsets from other steps", columns=columns)
