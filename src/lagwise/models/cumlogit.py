"""Log density and gradient of the cumulative-logit model with person intercepts and slopes, written out by
hand.

P(Y <= k) = logistic(c_k - eta). A rating in category k touches only its own two cutpoints a = c_k - eta and
b = c_{k-1} - eta, since logistic(a) - logistic(b) = logistic(a) logistic(-b) (1 - exp(b - a)). The last
factor depends on the category alone, so that one exponential per row is left. Compiled in about two seconds
and kept on disk by numba.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numba
import numpy as np

BLOCK = 512
"""Rows of people that are worked on at a time."""
FLUSH = 1e100
"""The running product of (1 + ratio) terms is turned into a logarithm when it passes this."""


@dataclass(frozen=True)
class Layout:
    """Where each parameter stands in the unconstrained vector.

    In order: the anchor cutpoint, K - 2 log gaps between cutpoints, p rotated coefficients, log SD of the
    intercepts, m - 1 coordinates of the m standardised intercepts that sum to zero, and, when there are
    slopes, their log SD and m standardised slopes.
    """

    categories: int
    p: int
    people: int
    slopes: bool
    anchor: int

    @property
    def gaps(self) -> int:
        """Start of the log gaps."""
        return 1

    @property
    def theta(self) -> int:
        """Start of the coefficients."""
        return self.categories - 1

    @property
    def log_su(self) -> int:
        """Position of the intercepts' log SD."""
        return self.theta + self.p

    @property
    def zu(self) -> int:
        """Start of the intercepts' coordinates."""
        return self.log_su + 1

    @property
    def log_sv(self) -> int:
        """Position of the slopes' log SD, when there are slopes."""
        return self.zu + self.people - 1

    @property
    def zv(self) -> int:
        """Start of the standardised slopes."""
        return self.log_sv + 1

    @property
    def size(self) -> int:
        """Length of the vector."""
        return self.log_sv + (1 + self.people if self.slopes else 0)

    def cutpoints(self, x: np.ndarray) -> np.ndarray:
        """Ordered cutpoints (..., K - 1) of vectors (..., size)."""
        gaps = np.exp(x[..., self.gaps : self.theta])
        up = np.cumsum(gaps[..., self.anchor :], axis=-1)
        down = np.cumsum(gaps[..., : self.anchor][..., ::-1], axis=-1)[..., ::-1]
        zero = np.zeros((*x.shape[:-1], 1))
        return x[..., :1] + np.concatenate([-down, zero, up], axis=-1)

    def from_cutpoints(self, cutpoints: np.ndarray) -> np.ndarray:
        """The first K - 1 entries of the vector from ordered cutpoints."""
        return np.concatenate([cutpoints[self.anchor : self.anchor + 1], np.log(np.diff(cutpoints))])

    def sum_to_zero(self, x: np.ndarray) -> np.ndarray:
        """Standardised intercepts (..., m) with sum 0 and covariance I - 1/m from vectors (..., size)."""
        z = x[..., self.zu : self.log_sv]
        root = math.sqrt(self.people)
        total = z.sum(axis=-1, keepdims=True)
        return np.concatenate([z - total / (root + self.people), -total / root], axis=-1)


# No fast-math flags: sums keep their order, so that the same point always gives the same bits and the same
# seed the same draws.
@numba.njit(nogil=True, cache=True, error_model="numpy")
def _cut(x, K, anchor, c, D):  # pragma: no cover - compiled
    """Cutpoints c (K - 1,) of a point, and exp(-c) between 0 and 0 in D (K + 1,)."""
    c[anchor] = x[0]
    for k in range(anchor + 1, K - 1):
        c[k] = c[k - 1] + math.exp(x[k])
    for k in range(anchor - 1, -1, -1):
        c[k] = c[k + 1] - math.exp(x[k + 1])
    for k in range(K - 1):
        D[k + 1] = math.exp(-c[k])


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _summing_to_zero(x, su0, u):  # pragma: no cover - compiled
    """Standardised intercepts u (m,) of a point, which sum to zero."""
    m = len(u)
    root = math.sqrt(m)
    total = 0.0
    for i in range(m - 1):
        total += x[su0 + 1 + i]
    for i in range(m - 1):
        u[i] = x[su0 + 1 + i] - total / (root + m)
    u[m - 1] = -total / root


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _along(Q, g, first, last, t0, grad):  # pragma: no cover - compiled
    """Slopes along the coefficients from those along the predictors of some rows: eight sums side by side,
    always in the same order."""
    n = last - first
    eights = n - n % 8
    for j in range(Q.shape[0]):
        column = Q[j, first:last]
        s0, s1, s2, s3, s4, s5, s6, s7 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        for r in range(0, eights, 8):
            s0 += g[r] * column[r]
            s1 += g[r + 1] * column[r + 1]
            s2 += g[r + 2] * column[r + 2]
            s3 += g[r + 3] * column[r + 3]
            s4 += g[r + 4] * column[r + 4]
            s5 += g[r + 5] * column[r + 5]
            s6 += g[r + 6] * column[r + 6]
            s7 += g[r + 7] * column[r + 7]
        for r in range(eights, n):
            s0 += g[r] * column[r]
        grad[t0 + j] += ((s0 + s1) + (s2 + s3)) + ((s4 + s5) + (s6 + s7))


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _people(x, Q, jump, category, starts, D, su, u, sv, slopes, grad, gc, gu):  # pragma: no cover - compiled
    """What the ratings give: log likelihood but for the cutpoints' own part, and slopes along the SDs."""
    m = len(u)
    t0 = gc.shape[0] - 2
    sv0 = t0 + Q.shape[0] + m
    logp = 0.0
    product = 1.0
    gsu = 0.0
    gsv = 0.0
    longest = BLOCK
    for i in range(m):
        longest = max(longest, starts[i + 1] - starts[i])
    eta = np.empty(longest)
    above, to_above = D[1:], gc[1:]
    i = 0
    while i < m:  # some people at a time, whose columns stay near for both of their uses
        first, after = starts[i], i + 1
        while after < m and starts[after + 1] - first <= BLOCK:
            after += 1
        last = starts[after]
        for one in range(i, after):
            here = su * u[one]
            tilt = sv * x[sv0 + 1 + one] if slopes else 0.0
            mine, by = eta[starts[one] - first : starts[one + 1] - first], jump[starts[one] : starts[one + 1]]
            for r in range(len(by)):
                mine[r] = here + tilt * by[r]
        for j in range(Q.shape[0]):
            weight = x[t0 + j]
            column = Q[j, first:last]
            for r in range(len(column)):
                eta[r] += column[r] * weight
        for one in range(i, after):
            sum_g = 0.0
            sum_gj = 0.0
            mine, by = eta[starts[one] - first : starts[one + 1] - first], jump[starts[one] : starts[one + 1]]
            places = category[starts[one] : starts[one + 1]]
            for r in range(len(by)):
                k = places[r]
                E = math.exp(mine[r])
                high = E * above[k]
                low = E * D[k]
                product *= (1.0 + high) * (1.0 + low)
                if product > FLUSH:
                    logp -= math.log(product)
                    product = 1.0
                s_high = high / (1.0 + high)
                s_low = low / (1.0 + low)
                g = -s_high - s_low
                to_above[k] += s_high
                gc[k] += s_low
                if k > 0:
                    logp += mine[r]
                    g += 1.0
                sum_g += g
                sum_gj += g * by[r]
                mine[r] = g
            gu[one] = su * sum_g
            gsu += su * u[one] * sum_g
            if slopes:
                own = x[sv0 + 1 + one]
                grad[sv0 + 1 + one] = sv * sum_gj - own
                gsv += sv * own * sum_gj
                logp -= 0.5 * own**2
        _along(Q, eta, first, last, t0, grad)
        i = after
    logp -= math.log(product)
    return logp, gsu, gsv


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _categories(logp, counts, c, scale_c, gc):  # pragma: no cover - compiled
    """The log density with what each category owes to its own cutpoints, and their prior; gc is filled in."""
    K = counts.shape[0]
    # What each category owes to its own cutpoints, then the prior of the cutpoints.
    above = 0
    for k in range(K - 1, 0, -1):
        above += counts[k]
        logp -= counts[k] * c[k - 1]
        gc[k] -= counts[k]
    for k in range(1, K - 1):
        gap = c[k] - c[k - 1]
        logp += counts[k] * math.log(-math.expm1(-gap))
        pull = counts[k] / math.expm1(gap)
        gc[k + 1] += pull
        gc[k] -= pull
    for k in range(K - 1):
        a = abs(c[k]) / scale_c
        e = math.exp(-a)
        logp -= a + 2.0 * math.log1p(e)
        slope = (1.0 - e) / (1.0 + e) / scale_c
        gc[k + 1] -= slope if c[k] > 0 else -slope
    return logp


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _gaps(logp, x, c, anchor, gc, grad):  # pragma: no cover - compiled
    """The log density with the change from cutpoints to anchor and log gaps; the chain rule in grad."""
    K = len(c) + 1
    # Chain rule from cutpoints to anchor and log gaps.
    run = 0.0
    for k in range(K - 2, anchor, -1):
        run += gc[k + 1]
        grad[k] = run * (c[k] - c[k - 1]) + 1.0
        logp += x[k]
    grad[0] = run + gc[anchor + 1]
    run = 0.0
    for k in range(anchor):
        run += gc[k + 1]
        grad[k + 1] = -run * (c[k + 1] - c[k]) + 1.0
        logp += x[k + 1]
    grad[0] += run
    return logp


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _coefficients(logp, x, precision, t0, grad):  # pragma: no cover - compiled
    """The log density with the prior of the coefficients; its slope in grad."""
    p = precision.shape[0]
    # Coefficients, then the scales and the sum-to-zero map.
    for j in range(p):
        pull = 0.0
        for other in range(p):
            pull += precision[j, other] * x[t0 + other]
        grad[t0 + j] -= pull
        logp -= 0.5 * pull * x[t0 + j]
    return logp


@numba.njit(nogil=True, cache=True, error_model="numpy")
def log_density(
    x, Q, jump, category, starts, counts, anchor, precision, scale_u, scale_v, scale_c, slopes, grad
):  # pragma: no cover - compiled
    """Log posterior density at `x` up to a constant; its gradient is written into `grad`.

    Parameters
    ----------
    x : (size,) unconstrained parameters, see `Layout`
    Q : (p, n) columns of the linear predictor after rotation, one after the other
    jump : (n,) column whose slope differs between people
    category : (n,) category 0..K-1 of each row, without a sign: a place that may be negative costs a branch;
        rows of one person stand together
    starts : (m + 1,) first row of each person, then n
    counts : (K,) rows per category
    anchor : index of the anchor cutpoint
    precision : (p, p) prior precision of the rotated coefficients
    scale_u, scale_v : scales of the half-normal priors; scale_c : logistic scale of the cutpoints
    """
    p = Q.shape[0]
    K = counts.shape[0]
    m = starts.shape[0] - 1
    su0 = K - 1 + p
    sv0 = su0 + m
    for i in range(grad.shape[0]):
        grad[i] = 0.0
    c = np.empty(K - 1)
    D = np.zeros(K + 1)
    _cut(x, K, anchor, c, D)
    su = math.exp(x[su0])
    u = np.empty(m)
    _summing_to_zero(x, su0, u)
    sv = math.exp(x[sv0]) if slopes else 0.0
    gc = np.zeros(K + 1)
    gu = np.empty(m)
    logp, gsu, gsv = _people(x, Q, jump, category, starts, D, su, u, sv, slopes, grad, gc, gu)
    logp = _categories(logp, counts, c, scale_c, gc)
    logp = _gaps(logp, x, c, anchor, gc, grad)
    logp = _coefficients(logp, x, precision, K - 1, grad)
    root = math.sqrt(m)
    inner = 0.0
    for i in range(m - 1):
        inner += gu[i]
    for i in range(m - 1):
        z = x[su0 + 1 + i]
        grad[su0 + 1 + i] = gu[i] - inner / (root + m) - gu[m - 1] / root - z
        logp -= 0.5 * z * z
    logp += x[su0] - 0.5 * (su / scale_u) ** 2
    grad[su0] = gsu + 1.0 - (su / scale_u) ** 2
    if slopes:
        logp += x[sv0] - 0.5 * (sv / scale_v) ** 2
        grad[sv0] = gsv + 1.0 - (sv / scale_v) ** 2
    return logp
