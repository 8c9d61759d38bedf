"""The exact smooth posterior against dense generalised least squares and its own limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from lagwise.models.crossproducts import CrossProducts
from lagwise.models.kernel import fit
from lagwise.models.smooth import _Cross, _given, fit_smooth


def data(seed: int = 4, people: int = 15, steps: int = 12, k: int = 4):
    rng = np.random.default_rng(seed)
    person = np.repeat(np.arange(people), steps)
    B = rng.normal(size=(len(person), k))
    X = np.column_stack([np.ones(len(person)), rng.normal(size=len(person))])
    y = X @ [3.0, 0.5] + B @ [0.8, 0.4, 0.2, 0.1] + rng.normal(0, 1.0, people)[person] + rng.normal(0, 1.0, len(person))
    return y, X, B, person


def test_without_smoothing_it_is_reml():
    """One tau too large to matter gives the REML fit of the mixed-model kernel, but for two bends counted as random."""
    y, X, B, person = data()
    smooth = fit_smooth(y, X, B, person, scale=0.5, taus=np.array([1e4]))
    reml = fit(CrossProducts.build(y, np.column_stack([X, B]), None, person))
    np.testing.assert_allclose(smooth.mean[0], reml.beta[0, 2:], rtol=2e-3)
    np.testing.assert_allclose(np.sqrt(np.diag(smooth.cov[0])), np.sqrt(np.diag(reml.cov[0]))[2:], rtol=1e-2)


def test_restricted_likelihood_is_that_of_the_dense_model():
    """Differences of the deviance between values of tau equal those of the dense covariance matrix, constants aside."""
    y, X, B, person = data(people=6, steps=8)
    bends = np.diff(np.eye(4), n=2, axis=0)
    onto = bends.T @ np.linalg.inv(bends @ bends.T)
    free = np.column_stack([X, B.sum(axis=1), B @ (np.arange(4) - 1.5)])
    Z = B @ onto
    cross = _Cross.build(y, np.column_stack([free, Z]), person)
    freedom = len(y) - free.shape[1]
    same = (person[:, None] == person[None]).astype(float)

    def dense(tau):
        best = np.inf
        for ratio in np.linspace(0, 3, 601):
            V = np.eye(len(y)) + ratio**2 * same + tau**2 * Z @ Z.T
            inv = np.linalg.inv(V)
            A = free.T @ inv @ free
            r = y - free @ np.linalg.solve(A, free.T @ inv @ y)
            best = min(
                best, np.linalg.slogdet(V)[1] + np.linalg.slogdet(A)[1] + freedom * np.log(r @ inv @ r / freedom)
            )
        return best

    found = [_given(cross, 2, freedom, tau)[0] for tau in (0.05, 0.5, 5.0)]
    np.testing.assert_allclose(np.diff(found), np.diff([dense(t) for t in (0.05, 0.5, 5.0)]), atol=2e-4)


def test_full_smoothing_gives_a_straight_line():
    y, X, B, person = data()
    smooth = fit_smooth(y, X, B, person, scale=0.5, taus=np.array([1e-6]))
    np.testing.assert_allclose(np.diff(smooth.mean[0], n=2), 0, atol=1e-8)


def test_summary_is_the_mixture():
    y, X, B, person = data()
    smooth = fit_smooth(y, X, B, person, scale=0.5)
    assert smooth.weight.sum() == pytest.approx(1.0)
    weights = np.array([1.0, 0, 0, 0])
    mean, sd, low, high = smooth.summary(weights, 0.95)
    rng = np.random.default_rng(1)
    g = rng.choice(len(smooth.tau), 200_000, p=smooth.weight)
    draws = smooth.mean[g, 0] + np.sqrt(smooth.cov[g, 0, 0]) * stats.t.rvs(smooth.df, size=len(g), random_state=rng)
    np.testing.assert_allclose([mean, sd], [draws.mean(), draws.std()], atol=0.002)
    np.testing.assert_allclose([low, high], np.quantile(draws, [0.025, 0.975]), atol=0.004)
