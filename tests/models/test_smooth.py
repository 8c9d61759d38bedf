"""Smoothing of a few estimates: against the dense normal posterior, its own mixture and its limits."""

import numpy as np
import pytest
from scipy import stats

from lagwise.models.lags import smooth


def given(seed: int = 4, k: int = 4):
    rng = np.random.default_rng(seed)
    A = rng.normal(size=(k + 6, k))
    return np.array([0.8, 0.1, 0.5, 0.2]) + rng.normal(0, 0.1, k), np.linalg.inv(A.T @ A) * 0.3


def test_with_one_covariance_it_is_the_normal_posterior():
    """b ~ N(beta, V), second differences of beta ~ N(0, tau^2): precision V^-1 + D'D / tau^2, weights by the density of D b."""
    b, V = given()
    D = np.diff(np.eye(4), n=2, axis=0)
    taus = np.array([0.05, 0.3, 1.0])
    found = smooth(b, V, V, scale=0.5, taus=taus)
    for i, tau in enumerate(taus):
        cov = np.linalg.inv(np.linalg.inv(V) + D.T @ D / tau**2)
        np.testing.assert_allclose(found.cov[i], cov, atol=1e-10)
        np.testing.assert_allclose(found.mean[i], cov @ np.linalg.inv(V) @ b, atol=1e-10)
    log = [
        stats.multivariate_normal.logpdf(D @ b, cov=D @ V @ D.T + t**2 * np.eye(2)) - 2 * t**2 for t in taus
    ]
    np.testing.assert_allclose(found.weight, np.exp(log) / np.exp(log).sum())


def test_no_smoothing_leaves_the_estimates_and_their_robust_error():
    b, V = given()
    robust = 3 * V + np.diag([0.1, 0, 0, 0])
    found = smooth(b, robust, V, scale=0.5, taus=np.array([1e4]))
    np.testing.assert_allclose(found.mean[0], b, atol=1e-6)
    np.testing.assert_allclose(found.cov[0], robust, rtol=1e-5, atol=1e-7)


def test_summary_is_the_mixture():
    b, V = given()
    found = smooth(b, 2 * V, V, scale=0.5)
    assert found.weight.sum() == pytest.approx(1.0)
    mean, _, low, high = found.summary(np.array([1.0, 0, 0, 0]), 0.95, 9.0)
    rng = np.random.default_rng(1)
    g = rng.choice(len(found.tau), 200_000, p=found.weight)
    draws = found.mean[g, 0] + np.sqrt(found.cov[g, 0, 0]) * stats.t.rvs(9.0, size=len(g), random_state=rng)
    assert mean == pytest.approx(draws.mean(), abs=0.003)
    np.testing.assert_allclose([low, high], np.quantile(draws, [0.025, 0.975]), atol=0.01)
