"""Least squares with CR2 cluster-robust variance, clustered on people, for any columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class ClusterFit:
    """Least-squares coefficients `beta` (k,) with their CR2 covariance `cov` (k, k); `bread` is (X'X)^-1, `rss` the residual sum of squares.

    V = B (sum_i X_i'A_i e_i e_i'A_i X_i) B with B = (X'X)^-1 and A_i the symmetric square root of the pseudo-inverse of I - X_i B X_i', which makes V exactly
    unbiased when errors are independent (Bell & McCaffrey 2002; Pustejovsky & Tipton 2018, doi:10.1080/07350015.2016.1247004).
    """

    beta: np.ndarray
    cov: np.ndarray
    bread: np.ndarray
    rss: float
    x: tuple[np.ndarray, ...]
    adjusted: tuple[np.ndarray, ...]

    def contrast(self, weights: np.ndarray) -> tuple[float, float, float]:
        """Estimate, CR2 standard error and Satterthwaite df of weights'beta, `weights` (k,).

        df = (sum_i g_i'g_i)^2 / sum_ij (g_i'g_j)^2 with g_i the weights by which cluster i enters the variance, under independent errors.
        """
        c = np.asarray(weights, dtype=float)
        direction = self.bread @ c
        h = [a @ direction for a in self.adjusted]
        xh = np.array([x.T @ v for x, v in zip(self.x, h, strict=True)])
        gram = -xh @ self.bread @ xh.T
        gram[np.diag_indices(len(h))] += [v @ v for v in h]
        df = np.trace(gram) ** 2 / np.sum(gram**2)
        return float(c @ self.beta), float(np.sqrt(c @ self.cov @ c)), float(df)


def fit_clustered(y: np.ndarray, X: np.ndarray, person: np.ndarray) -> ClusterFit:
    """Least squares of `y` (n,) on `X` (n, k) of full rank; rows of a person (codes 0..m-1) stand together."""
    ends = np.cumsum(np.bincount(person))[:-1]
    bread = np.linalg.inv(X.T @ X)
    beta = bread @ (X.T @ y)
    rest = y - X @ beta
    xs, es = np.split(X, ends), np.split(rest, ends)
    adjusted = tuple(_adjust(x, bread) for x in xs)
    scores = np.array([a.T @ e for a, e in zip(adjusted, es, strict=True)])
    return ClusterFit(beta, bread @ (scores.T @ scores) @ bread, bread, float(rest @ rest), tuple(xs), adjusted)


def _adjust(x: np.ndarray, bread: np.ndarray) -> np.ndarray:
    """A_i X_i of one person."""
    values, vectors = np.linalg.eigh(np.eye(len(x)) - x @ bread @ x.T)
    root = np.where(values > 1e-9, 1 / np.sqrt(np.maximum(values, 1e-9)), 0.0)
    return vectors @ (root[:, None] * (vectors.T @ x))
