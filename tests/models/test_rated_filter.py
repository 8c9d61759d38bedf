"""The filter against the dense Gaussian density it stands for, and against statsmodels' state space for ratings alone."""

import numpy as np
import pytest
from statsmodels.tsa.statespace.mlemodel import MLEModel

from lagwise.models.rated_filter import sums
from lagwise.models.rated_slope import slopes

STEPS, GONE = 7, 0.2


def _records(rng, people=3):
    """Random arrays with missing ratings, steps without a load and steps of several ratings."""
    n = people * STEPS
    y = np.where(rng.random(n) < 0.3, np.nan, rng.normal(3, 1, n))
    x = np.where(rng.random(n) < 0.3, np.nan, rng.normal(3, 0.3, n))
    usual = np.where(rng.random(n) < 0.4, np.nan, rng.normal(3, 0.3, n))
    moved = np.nan_to_num(x - usual)
    noise = rng.choice([0.0, 0.1, 0.6], n)
    gone = np.where(rng.random(n) < 0.2, np.nan, np.isnan(y) - 0.3)
    heavy = np.maximum(rng.normal(0, 0.3, n), 0)
    columns = [rng.normal(0, 1, (n, width)) for width in (2, 3, 2, 1)]
    return np.arange(people + 1) * STEPS, y, noise, x, usual, moved, gone, heavy, *columns


def _psi(rng):
    phi, f, g, k = rng.uniform(-0.3, 0.9), rng.normal(0.3, 0.2), rng.normal(0, 0.3), rng.normal(0.2, 0.2)
    q, tau2, sway2, slope2, sv2, sw2 = rng.uniform(0.05, 1.5, 6)
    return np.array(
        [phi, q, tau2, sway2, slope2, sv2, f, g, sw2, k, rng.uniform(-0.2, 0.9), *rng.normal(0, 0.3, 2)]
    )


def _dense(y, noise, x, usual, moved, gone, heavy, Z, W, A, G, psi):
    """Whitened observations and columns of one person, and the log determinant: every value as a sum of independent draws."""
    phi, q, tau2, sway2, slope2, sv2, f, g, sw2, k, rho, miss, more = psi
    T, before = len(y), 1 + Z.shape[1] + W.shape[1]
    P = before + A.shape[1]
    draws = 3 + 5 * T  # u, c, b, then eta, w, e, v and the noise of missing of every step
    u, c, b = np.eye(draws)[:3] * np.sqrt([tau2, sway2, slope2])[:, None]
    eta, w, e, v, m = (
        np.eye(draws)[3 + i * T : 3 + (i + 1) * T] * s
        for i, s in enumerate(np.sqrt([q, sw2, 1.0, sv2, GONE]))
    )
    e = e * np.sqrt(noise)[:, None]
    pain, by = eta[0] / np.sqrt(1 - phi**2), np.zeros(P)
    rows, data = [], []
    for t in range(T):
        if np.isfinite(y[t]):
            rows.append(u + pain + w[t] + e[t])
            data.append(np.concatenate([[y[t]], Z[t], np.zeros(W.shape[1]), by[before:], [0.0]]))
        if np.isfinite(x[t]):
            own = 1.0 if np.isnan(usual[t]) else 1.0 - rho
            rows.append(own * (c + g * u) - f * pain - k * w[t] + v[t])
            less = x[t] - rho * np.nan_to_num(usual[t])
            held = np.append(own * W[t, 0], W[t, 1:])
            data.append(np.concatenate([[less], np.zeros(Z.shape[1]), held, -f * by[before:], [0.0]]))
        if np.isfinite(gone[t]):
            at = miss + more * heavy[t]
            rows.append(at * pain + m[t])
            data.append(np.concatenate([[gone[t]], np.zeros(before - 1), at * by[before:], G[t]]))
        if t + 1 < T:
            pain = phi * pain + b * moved[t] + eta[t + 1]
            by = phi * by
            by[before:] += A[t]
    M = np.array(rows)
    L = np.linalg.cholesky(M @ M.T)
    return np.linalg.solve(L, np.array(data)), 2 * np.log(np.diag(L)).sum()


@pytest.mark.parametrize("seed", range(6))
def test_sums_are_those_of_the_dense_density(seed):
    rng = np.random.default_rng(seed)
    start, *record = _records(rng)
    y = record[0]
    psi = _psi(rng)
    out, logs, kept = np.empty((3, 9, 9)), np.empty(3), np.empty((len(y), 2, 9))
    sums(start, *record, GONE, psi, out, logs, kept)
    for i in range(3):
        s = slice(start[i], start[i + 1])
        white, log = _dense(*(values[s] for values in record), psi)
        np.testing.assert_allclose(np.tril(out[i]), np.tril(white.T @ white), atol=1e-8)
        np.testing.assert_allclose(logs[i], log, atol=1e-8)
        white = white[:1] if np.isfinite(y[start[i]]) else white[:0]
        if len(white):
            np.testing.assert_allclose(kept[start[i], 0], white[0], atol=1e-8)


@pytest.mark.parametrize("seed", range(3))
def test_slopes_are_those_of_the_sums(seed):
    rng = np.random.default_rng(seed)
    start, *record = _records(rng)
    psi, half = _psi(rng), rng.normal(0, 1, (9, 9))
    M, out, logs, found = half @ half.T, np.empty((3, 9, 9)), np.empty(3), np.empty((3, 13))

    def deviances(at):
        sums(start, *record, GONE, at, out, logs, np.empty((0, 2, 9)))
        both = np.tril(out) + np.swapaxes(np.tril(out, -1), 1, 2)
        return logs + np.einsum("ijk,jk->i", both, M)

    slopes(start, *record, GONE, psi, M, found)
    for j, e in enumerate(1e-5 * np.eye(13)):
        by_hand = (deviances(psi + e) - deviances(psi - e)) / 2e-5
        np.testing.assert_allclose(found[:, j], by_hand, rtol=1e-5, atol=1e-4)


def test_ratings_alone_have_statsmodels_likelihood():
    rng = np.random.default_rng(3)
    y = np.where(rng.random(40) < 0.2, np.nan, rng.normal(0, 1, 40))
    phi, q, sw2 = 0.6, 0.5, 0.3
    model = MLEModel(y, k_states=1, initialization="stationary")
    model["design", 0, 0], model["selection", 0, 0] = 1.0, 1.0
    model["transition", 0, 0], model["state_cov", 0, 0], model["obs_cov", 0, 0] = phi, q, sw2
    psi = np.array([phi, q, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, sw2, 0.0, 0.0, 0.0, 0.0])
    none = np.empty((40, 0))
    out, logs = np.empty((1, 1, 1)), np.empty(1)
    gone = np.full(40, np.nan)
    sums(
        np.array([0, 40]),
        y,
        np.zeros(40),
        *(gone, gone, np.zeros(40), gone, gone),
        *(none,) * 4,
        1.0,
        psi,
        out,
        logs,
        np.empty((0, 2, 1)),
    )
    rated = np.isfinite(y).sum()
    assert -0.5 * (logs[0] + out[0, 0, 0] + rated * np.log(2 * np.pi)) == pytest.approx(
        model.ssm.loglike(), abs=1e-8
    )
