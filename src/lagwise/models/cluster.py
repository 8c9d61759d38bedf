"""Least squares with CR2 cluster-robust variance, clustered on people, for any columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lagwise.models.estimates import Contrasts

LEAST = 1e-9
"""Eigenvalues of I - X_i B X_i' up to this are 0."""


@dataclass(frozen=True)
class ClusterFit:
    """Least-squares coefficients `beta` (k,) with their CR2 covariance `cov` (k, k); `bread` is (X'X)^-1,
    `rss` the residual sum of squares.

    V = B (sum_i X_i'A_i e_i e_i'A_i X_i) B with B = (X'X)^-1 and A_i the symmetric square root of the
    pseudo-inverse of I - X_i B X_i', which makes V exactly unbiased when errors are independent (Bell &
    McCaffrey 2002; Pustejovsky & Tipton 2018, doi:10.1080/07350015.2016.1247004).
    """

    beta: np.ndarray
    cov: np.ndarray
    bread: np.ndarray
    rss: float
    x: tuple[np.ndarray, ...]
    adjusted: tuple[np.ndarray, ...]

    def contrast(self, weights: np.ndarray) -> tuple[float, float, float]:
        """Estimate, CR2 standard error and Satterthwaite df of weights'beta, `weights` (k,).

        df = (sum_i g_i'g_i)^2 / sum_ij (g_i'g_j)^2 with g_i the weights by which cluster i enters the
        variance, under independent errors.
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
    """Least squares of `y` (n,) on `X` (n, k) of full rank; rows of a person (codes 0..m-1) stand
    together."""
    ends = np.cumsum(np.bincount(person))[:-1]
    bread = np.linalg.inv(X.T @ X)
    beta = bread @ (X.T @ y)
    rest = y - X @ beta
    xs, es = np.split(X, ends), np.split(rest, ends)
    each = _adjusting(np.stack([x.T @ x for x in xs]), bread)
    adjusted = tuple(x @ n for x, n in zip(xs, each, strict=True))
    scores = np.array([a.T @ e for a, e in zip(adjusted, es, strict=True)])
    return ClusterFit(
        beta, bread @ (scores.T @ scores) @ bread, bread, float(rest @ rest), tuple(xs), adjusted
    )


def _adjusting(XtX: np.ndarray, bread: np.ndarray) -> np.ndarray:
    """(..., m, k, k) N_i with A_i X_i = X_i N_i; `XtX` of that shape, `bread` (..., k, k).

    As f(I - X B X') X = X f(I - B X'X), N_i = L (I - L'X_i'X_i L)^-1/2 L^-1 with B = LL', so that neither
    rows nor matrices of their number are needed.
    """
    L = np.linalg.cholesky(bread)[..., None, :, :]
    values, vectors = np.linalg.eigh(np.eye(bread.shape[-1]) - L.swapaxes(-2, -1) @ XtX @ L)
    root = np.where(values > LEAST, 1 / np.sqrt(np.maximum(values, LEAST)), 0.0)
    return L @ (vectors * root[..., None, :]) @ vectors.swapaxes(-2, -1) @ np.linalg.inv(L)


def cluster_many(XtX: np.ndarray, Xty: np.ndarray, weights: np.ndarray) -> Contrasts:
    """The contrast of `fit_clustered` for many data sets of the same people, from cross-products alone.

    Parameters
    ----------
    XtX : (B, m, k, k) X_i'X_i of each person
    Xty : (B, m, k) X_i'y_i
    weights : (k,)

    Returns
    -------
    Contrasts
        Each (B,). X'X must be regular in every data set.
    """
    bread = np.linalg.inv(XtX.sum(axis=1))
    beta = np.einsum("bij,bj->bi", bread, Xty.sum(axis=1))
    N = _adjusting(XtX, bread)
    direction = bread @ weights
    each = np.einsum("bmij,bj->bmi", N, direction)
    xh = np.einsum("bmij,bmj->bmi", XtX, each)
    left = Xty - np.einsum("bmij,bj->bmi", XtX, beta)
    variance = np.sum(np.einsum("bmi,bmi->bm", each, left) ** 2, axis=1)
    gram = -xh @ bread @ xh.swapaxes(1, 2)
    at = np.arange(XtX.shape[1])
    gram[:, at, at] += np.einsum("bmi,bmi->bm", each, xh)
    df = np.trace(gram, axis1=1, axis2=2) ** 2 / np.sum(gram**2, axis=(1, 2))
    return Contrasts(beta @ weights, np.sqrt(variance), df)
