"""Slopes of the restricted deviance of `rated_filter.sums` along its 13 parameters, by the filter's adjoint.

With M = (1, -theta)(1, -theta)' + S_xx^-1 at the coefficients theta of generalised least squares and the sums
of products S_xx of the columns, d(deviance) = sum of dlog F + tr(M dS): the coefficients drop out, since they
are where the deviance is least. The adjoint goes through every person's record backwards once and costs about
two filters, however many parameters there are (Griewank & Walther 2008, doi:10.1137/1.9780898717761).
"""

from __future__ import annotations

import math

import numba
import numpy as np

from lagwise.models.rated_filter import load, missing, moved_on, rating, taken


@numba.njit(nogil=True, cache=True, error_model="numpy")
def slopes(
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
    M: np.ndarray,
    out: np.ndarray,
) -> None:
    """Fill `out` (m, 13), person by person, with the slopes of the sum of log F + v'Mv/F along
    `rated_filter.PSI`; M (P, P) symmetric, the rest as in `rated_filter.sums`."""
    phi, q, tau2, sway2, slope2 = psi[0], psi[1], psi[2], psi[3], psi[4]
    first = 1 + Z.shape[1] + W.shape[1]
    P = first + A.shape[1] + G.shape[1]
    longest = 0
    for i in range(len(start) - 1):
        longest = max(longest, start[i + 1] - start[i])
    # Of every step what stood before its rating, its load, its missing rating and the move to the next step.
    was_a, was_C = np.empty((longest, 4, 4, P)), np.empty((longest, 4, 4, 4))
    was_h, was_Ch = np.empty((longest, 3, 4)), np.empty((longest, 3, 4))
    was_v, was_F = np.empty((longest, 3, P)), np.empty((longest, 3))
    a, C, h, Ch = np.empty((4, P)), np.empty((4, 4)), np.empty(4), np.empty(4)
    v, by = np.empty(P), np.empty(P)
    to_a, to_C, to_h, to_v = np.empty((4, P)), np.empty((4, 4)), np.empty(4), np.empty(P)
    for i in range(len(start) - 1):
        a[:] = 0.0
        C[:] = 0.0
        C[0, 0], C[1, 1], C[2, 2], C[3, 3] = q / (1 - phi * phi), tau2, sway2, slope2
        for t in range(start[i], start[i + 1]):
            s = t - start[i]
            rated = not math.isnan(y[t])
            for kind in range(3):
                was_F[s, kind] = 0.0
                if kind == 0 and rated:
                    R = rating(t, y, noise, Z, psi, h, v)
                elif kind == 1 and not math.isnan(x[t]):
                    R = load(t, rated, y, noise, x, usual, Z, W, psi, h, v)
                elif kind == 2 and not math.isnan(gone[t]):
                    missing(t, gone, heavy, G, psi, h, v)
                    R = gone_noise
                else:
                    continue
                was_a[s, kind], was_C[s, kind], was_h[s, kind] = a, C, h
                was_F[s, kind] = taken(a, C, h, R, v, by, Ch)
                was_Ch[s, kind], was_v[s, kind] = Ch, v
            was_a[s, 3], was_C[s, 3] = a, C
            moved_on(a, C, phi, q, moved[t], A[t], first)
        to_a[:] = 0.0
        to_C[:] = 0.0
        to = out[i]
        to[:] = 0.0
        for t in range(start[i + 1] - 1, start[i] - 1, -1):
            s = t - start[i]
            _moved_back(to_a, to_C, was_a[s, 3], was_C[s, 3], phi, moved[t], to)
            for kind in range(2, -1, -1):
                F = was_F[s, kind]
                if F == 0.0:
                    continue
                to_R = _given_back(
                    to_a, to_C, was_a[s, kind], was_C[s, kind], was_h[s, kind], was_Ch[s, kind],
                    was_v[s, kind], F, M, to_h, to_v, h, by,
                )  # fmt: skip
                if kind == 0:
                    to[8] += to_R
                elif kind == 1:
                    _of_load(t, y, noise, usual, Z, W, psi, to_R, to_h, to_v, to)
                else:
                    to[11] += to_h[0]
                    to[12] += to_h[0] * heavy[t]
        to[0] += to_C[0, 0] * q * 2 * phi / (1 - phi * phi) ** 2
        to[1] += to_C[0, 0] / (1 - phi * phi)
        to[2], to[3], to[4] = to_C[1, 1], to_C[2, 2], to_C[3, 3]


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _moved_back(
    to_a: np.ndarray,
    to_C: np.ndarray,
    a: np.ndarray,
    C: np.ndarray,
    phi: float,
    by: float,
    to: np.ndarray,
) -> None:
    """Adjoint of `moved_on`: a and C as they were before it."""
    dot = 2 * to_C[0, 0] * (phi * C[0, 0] + by * C[3, 0])
    for s in range(1, 4):
        dot += 2 * to_C[0, s] * C[s, 0]
    for p in range(a.shape[1]):
        dot += to_a[0, p] * a[0, p]
        to_a[3, p] += by * to_a[0, p]
        to_a[0, p] *= phi
    to[0] += dot
    to[1] += to_C[0, 0]
    # T' to_C T with T the identity but for its first row (phi, 0, 0, by).
    for s in range(4):
        to_C[3, s] += by * to_C[0, s]
        to_C[0, s] *= phi
    for s in range(4):
        to_C[s, 3] += by * to_C[s, 0]
        to_C[s, 0] *= phi


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _given_back(
    to_a: np.ndarray,
    to_C: np.ndarray,
    a: np.ndarray,
    C: np.ndarray,
    h: np.ndarray,
    Ch: np.ndarray,
    v: np.ndarray,
    F: float,
    M: np.ndarray,
    to_h: np.ndarray,
    to_v: np.ndarray,
    to_Ch: np.ndarray,
    Mv: np.ndarray,
) -> float:
    """Adjoint of `taken` and of log F + v'Mv/F: a and C as they were before it, v the innovations; to_h and
    to_v are filled in, and the slope along the observation's variance is returned."""
    P = len(v)
    Mv[:] = 0.0
    for p in range(P):
        one = v[p]
        if one != 0.0:
            for r in range(P):
                Mv[r] += one * M[p, r]
    square, o0, o1, o2, o3 = 0.0, 0.0, 0.0, 0.0, 0.0
    for p in range(P):
        one = v[p]
        square += one * Mv[p]
        o0 += to_a[0, p] * one
        o1 += to_a[1, p] * one
        o2 += to_a[2, p] * one
        o3 += to_a[3, p] * one
    to_Ch[0], to_Ch[1], to_Ch[2], to_Ch[3] = o0, o1, o2, o3
    gain, pull = 0.0, 0.0
    for s in range(4):
        turned = to_C[s, 0] * Ch[0] + to_C[s, 1] * Ch[1] + to_C[s, 2] * Ch[2] + to_C[s, 3] * Ch[3]
        gain += Ch[s] * to_Ch[s]
        pull += Ch[s] * turned
        to_Ch[s] = (to_Ch[s] - 2 * turned) / F
    to_F = 1 / F + (pull - square - gain) / (F * F)
    c0, c1, c2, c3 = Ch[0] / F, Ch[1] / F, Ch[2] / F, Ch[3] / F
    for p in range(P):
        to_v[p] = 2 * Mv[p] / F + c0 * to_a[0, p] + c1 * to_a[1, p] + c2 * to_a[2, p] + c3 * to_a[3, p]
    o0, o1, o2, o3 = 0.0, 0.0, 0.0, 0.0
    for p in range(P):
        one = to_v[p]
        o0 += one * a[0, p]
        o1 += one * a[1, p]
        o2 += one * a[2, p]
        o3 += one * a[3, p]
    to_h[0], to_h[1], to_h[2], to_h[3] = -o0, -o1, -o2, -o3
    for s in range(4):
        one = h[s]
        to_Ch[s] += to_F * one
        to_h[s] += to_F * Ch[s]
        for p in range(P):
            to_a[s, p] -= one * to_v[p]
    for s in range(4):
        for r in range(4):
            to_h[s] += C[s, r] * to_Ch[r]
            to_C[s, r] += 0.5 * (to_Ch[s] * h[r] + h[s] * to_Ch[r])
    return to_F


@numba.njit(nogil=True, cache=True, error_model="numpy")
def _of_load(
    t: int,
    y: np.ndarray,
    noise: np.ndarray,
    usual: np.ndarray,
    Z: np.ndarray,
    W: np.ndarray,
    psi: np.ndarray,
    to_left: float,
    to_h: np.ndarray,
    to_v: np.ndarray,
    to: np.ndarray,
) -> None:
    """Adjoint of `load`."""
    g, sw2, k, rho = psi[7], psi[8], psi[9], psi[10]
    share, bend = 0.0, 1.0
    pz = Z.shape[1]
    if not math.isnan(y[t]):
        R = sw2 + noise[t]
        share = sw2 / R
        bend = (1 - share) ** 2
        to_told = to_h[0] + to_h[1] + to_v[0] * y[t]
        for j in range(pz):
            to_told += to_v[1 + j] * Z[t, j]
        to[8] += to_told * k * (1 - share) / R
        to[9] += to_told * share
    to[5] += to_left
    to[6] -= to_h[0]
    to[8] += to_left * k * k * bend
    to[9] += to_left * 2 * k * sw2 * (1 - share)
    own = 1.0
    if not math.isnan(usual[t]):
        own = 1.0 - rho
        to[10] -= to_v[0] * usual[t] + to_h[1] * g + to_h[2]
        if W.shape[1]:
            to[10] -= to_v[1 + pz] * W[t, 0]
    to[7] += to_h[1] * own
