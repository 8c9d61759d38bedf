"""One augmented Kalman filter over all people: the restricted likelihood of the joint model of ratings, load
and pain.

State of a person: (d, u, c, b), the pain that moves, the person's level, the person's own usual way with load
and the person's slope of load. At every step a rating y = Z zeta + u + d + w + e, then, where the person
trained, a log load x = r (W_1 kappa_1 + c + g u) + W_rest kappa_rest + rho usual - f d - k w + v, with r = 1
- rho, and 1 and no usual load where none is known, then d' = phi d + b jump + A alpha + eta. The first loads
are part of it: a person's own way is no function of pain.
 w ~ N(0, sw2) passes with the step, e ~ N(0, noise_t) is new in every rating, v ~ N(0, sv2), eta ~ N(0, q).
Linear coefficients theta = (zeta, kappa, alpha) are carried as further columns of the data (de Jong 1991,
doi:10.1214/aos/1176348139): the innovation of data and columns is linear in theta, so that sums of their
products give the generalised least squares of theta at any variances.
"""

from __future__ import annotations

import math

import numba
import numpy as np

PSI = ("phi", "q", "tau2", "sway2", "slope2", "sv2", "f", "g", "sw2", "k", "rho", "miss", "miss_heavy")
"""Entries of `psi`: carry-over; variances of eta, u, c, b, v; load's answers f and g; variance of w; load's
answer k; how far load follows the usual load; how a missing rating answers pain, and how much more so after a
step above usual load."""


@numba.njit(nogil=True, cache=True, error_model="numpy", fastmath=False)
def sums(
    start: np.ndarray,
    y: np.ndarray,
    noise: np.ndarray,
    x: np.ndarray,
    usual: np.ndarray,
    moved: np.ndarray,
    gone: np.ndarray,
    heavy: np.ndarray,
    Z: np.ndarray,
    W: np.ndarray,
    A: np.ndarray,
    G: np.ndarray,
    gone_noise: float,
    psi: np.ndarray,
    out: np.ndarray,
    logs: np.ndarray,
    kept: np.ndarray,
) -> None:
    """Fill, person by person, the sums of products of innovations over their variances, and the sums of the
    logs of these variances.

    Parameters
    ----------
    start : (m + 1,) first row of every person, and the number of rows
    y, noise : (n,) rating, NaN where missing, and the error variance of its days
    x, usual, moved : (n,) log load on trained steps, NaN elsewhere; log of the usual load, NaN where not
        known; and the jump that moves pain, 0 where there is none
    Z, W, A : (n, p_z), (n, p_w), (n, p_a) columns of the ratings, of the load and of pain's change
    psi : (13,) as `PSI`
    out : (m, P, P), P = 1 + p_z + p_w + p_a, overwritten: lower triangles; first the data, then the columns
        in that order
    logs : (m,) overwritten
    kept : (n, 2, P) overwritten with the innovations of rating and load over their SD, NaN where there is
        none; nothing is kept with n = 0
    """
    phi, q, tau2, sway2, slope2 = psi[:5]
    first = 1 + Z.shape[1] + W.shape[1]
    P = first + A.shape[1] + G.shape[1]
    a, C = np.empty((4, P)), np.empty((4, 4))
    h, Ch = np.empty(4), np.empty(4)
    v, by = np.empty(P), np.empty(P)
    keep = len(kept) > 0
    if keep:
        kept[:] = np.nan
    for i in range(len(start) - 1):
        a[:] = 0.0
        C[:] = 0.0
        C[0, 0], C[1, 1], C[2, 2], C[3, 3] = q / (1 - phi * phi), tau2, sway2, slope2
        S = out[i]
        S[:] = 0.0
        log = 0.0
        for t in range(start[i], start[i + 1]):
            rated = not math.isnan(y[t])
            if rated:
                F = _added(a, C, h, rating(t, y, noise, Z, psi, h, v), v, by, Ch, S)
                log += math.log(F)
                if keep:
                    kept[t, 0] = v / math.sqrt(F)
            if not math.isnan(x[t]):
                F = _added(a, C, h, load(t, rated, y, noise, x, usual, Z, W, psi, h, v), v, by, Ch, S)
                log += math.log(F)
                if keep:
                    kept[t, 1] = v / math.sqrt(F)
            if not math.isnan(gone[t]):
                missing(t, gone, heavy, G, psi, h, v)
                log += math.log(_added(a, C, h, gone_noise, v, by, Ch, S))
            moved_on(a, C, phi, q, moved[t], A[t], first)
        logs[i] = log


@numba.njit(nogil=True, cache=True, error_model="numpy")
def rating(
    t: int, y: np.ndarray, noise: np.ndarray, Z: np.ndarray, psi: np.ndarray, h: np.ndarray, v: np.ndarray
) -> float:
    """A rating's loadings h on the state, its data and columns v; its variance beside the state's."""
    h[0], h[1], h[2], h[3] = 1.0, 1.0, 0.0, 0.0
    v[:] = 0.0
    v[0] = y[t]
    for j in range(Z.shape[1]):
        v[1 + j] = Z[t, j]
    return psi[8] + noise[t]


@numba.njit(nogil=True, cache=True, error_model="numpy")
def load(
    t: int,
    rated: bool,
    y: np.ndarray,
    noise: np.ndarray,
    x: np.ndarray,
    usual: np.ndarray,
    Z: np.ndarray,
    W: np.ndarray,
    psi: np.ndarray,
    h: np.ndarray,
    v: np.ndarray,
) -> float:
    """A log load's loadings h, data and columns v, given the rating of its step; its variance."""
    f, g, sw2, k, rho = psi[6], psi[7], psi[8], psi[9], psi[10]
    R = sw2 + noise[t]
    told = k * sw2 / R if rated else 0.0
    follows = not math.isnan(usual[t])
    own = 1.0 - rho if follows else 1.0
    h[0], h[1], h[2], h[3] = told - f, own * g + told, own, 0.0
    v[:] = 0.0
    v[0] = x[t] - rho * usual[t] if follows else x[t]
    pz = Z.shape[1]
    if rated:
        v[0] += told * y[t]
        for j in range(pz):
            v[1 + j] = told * Z[t, j]
    for j in range(W.shape[1]):
        v[1 + pz + j] = W[t, j] * own if j == 0 else W[t, j]
    return psi[5] + k * k * sw2 * ((1 - sw2 / R) if rated else 1.0)


@numba.njit(nogil=True, cache=True, error_model="numpy")
def missing(
    t: int, gone: np.ndarray, heavy: np.ndarray, G: np.ndarray, psi: np.ndarray, h: np.ndarray, v: np.ndarray
) -> None:
    """A missing rating's loadings h, data and columns v."""
    h[0], h[1], h[2], h[3] = psi[11] + psi[12] * heavy[t], 0.0, 0.0, 0.0
    v[:] = 0.0
    v[0] = gone[t]
    first = len(v) - G.shape[1]
    for j in range(G.shape[1]):
        v[first + j] = G[t, j]


@numba.njit(nogil=True, cache=True, error_model="numpy", inline="always")
def _added(
    a: np.ndarray,
    C: np.ndarray,
    h: np.ndarray,
    noise: float,
    v: np.ndarray,
    by: np.ndarray,
    Ch: np.ndarray,
    S: np.ndarray,
) -> float:
    """One observation taken in, and the products of its innovations added to S; the innovation's variance."""
    F = taken(a, C, h, noise, v, by, Ch)
    P = len(v)
    for p in range(P):
        one = by[p]
        if one != 0.0:
            for r in range(P):  # whole rows, which go by four and eight at a time
                S[p, r] += one * v[r]
    return F


@numba.njit(nogil=True, cache=True, error_model="numpy")
def moved_on(
    a: np.ndarray, C: np.ndarray, phi: float, q: float, by: float, A: np.ndarray, first: int
) -> None:
    """States and their covariance a step later, after a jump `by`; pain's change begins at column `first`."""
    for p in range(a.shape[1]):
        a[0, p] = phi * a[0, p] + by * a[3, p]
    for j in range(len(A)):
        a[0, first + j] -= A[j]
    c00 = phi * phi * C[0, 0] + 2 * phi * by * C[0, 3] + by * by * C[3, 3] + q
    for s in range(1, 4):
        C[0, s] = phi * C[0, s] + by * C[3, s]
    C[0, 0] = c00
    for s in range(1, 4):
        C[s, 0] = C[0, s]


@numba.njit(nogil=True, cache=True, error_model="numpy", inline="always")
def taken(
    a: np.ndarray,
    C: np.ndarray,
    h: np.ndarray,
    noise: float,
    v: np.ndarray,
    by: np.ndarray,
    Ch: np.ndarray,
) -> float:
    """One observation taken in: v becomes its innovation, states and their covariance are updated; the
    innovation's variance."""
    F = noise
    for s in range(4):
        Ch[s] = C[s, 0] * h[0] + C[s, 1] * h[1] + C[s, 2] * h[2] + C[s, 3] * h[3]
    for s in range(4):
        F += h[s] * Ch[s]
    P = len(v)
    for p in range(P):
        v[p] -= h[0] * a[0, p] + h[1] * a[1, p] + h[2] * a[2, p] + h[3] * a[3, p]
    for p in range(P):
        by[p] = v[p] / F
    for s in range(4):
        one = Ch[s]
        for p in range(P):
            a[s, p] += by[p] * one
    for s in range(4):
        one = Ch[s] / F
        for r in range(4):
            C[s, r] -= one * Ch[r]
    return F
