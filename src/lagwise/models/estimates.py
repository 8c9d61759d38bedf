"""What the mixed-model kernel gives back: estimates of a batch of variants and contrasts of their
coefficients."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Literal

import numpy as np

Structure = Literal["intercept", "uncorrelated", "correlated"]
Method = Literal["reml", "ml"]


@dataclass(frozen=True)
class Estimates:
    """Fits of a batch of B variants; every array has B as its first axis and NaN where a variant could not be
    fitted.

    `theta` (B, k): free entries of the relative Cholesky factor of the random effects, column by column (l11,
    l21, l22), in units of Z. `beta` (B, p), `cov` (B, p, p) and `sigma` (B,) are the coefficients, their
    covariance and the residual SD. `deviance` is -2 log (restricted) likelihood, as lme4 reports it.
    `hessian` (B, k, k) is that of the profiled deviance in standardised theta; `positive` says whether it is
    positive definite, `converged` whether the search ended.
    """

    structure: Structure
    method: Method
    theta: np.ndarray
    beta: np.ndarray
    cov: np.ndarray
    sigma: np.ndarray
    deviance: np.ndarray
    hessian: np.ndarray
    converged: np.ndarray
    positive: np.ndarray
    _joint: np.ndarray
    _moves: np.ndarray

    def take(self, at: int) -> Estimates:
        """The fit of one variant, as a batch of one."""
        arrays = {
            f.name: getattr(self, f.name)[at : at + 1]
            for f in fields(self)
            if f.name not in ("structure", "method")
        }
        return replace(self, **arrays)

    def contrast(self, weights: np.ndarray) -> Contrasts:
        """Estimate, standard error and Satterthwaite df of weights'beta, `weights` (p,).

        df = 2 v^2 / (g'A g) with v the variance of the contrast, g its gradient in (theta, sigma) and A twice
        the inverse Hessian of the deviance in (theta, sigma), as lmerTest computes it (Kuznetsova et al.
        2017, doi:10.18637/jss.v082.i13).
        """
        w = np.asarray(weights, dtype=float)
        variance = np.einsum("i,bij,j->b", w, self.cov, w)
        k = self.theta.shape[1]
        g = np.empty((len(variance), k + 1))
        g[:, :k] = np.einsum("i,bkij,j->bk", w, self._moves, w)
        g[:, k] = 2 * variance
        values, vectors = np.linalg.eigh(np.where(np.isfinite(self._joint), self._joint, 0.0))
        kept = values > 1e-8 * np.maximum(values[:, -1:], 1e-300)
        along = np.einsum("bij,bi->bj", vectors, g)
        spread = 2 * np.sum(np.where(kept, along**2 / np.where(kept, values, 1.0), 0.0), axis=1)
        with np.errstate(invalid="ignore", divide="ignore"):
            df = 2 * variance**2 / spread
        return Contrasts(self.beta @ w, np.sqrt(variance), df)

    def covariance(self) -> np.ndarray:
        """(B, q, q) covariance of the person effects, sigma^2 L L'."""
        L = factor(self.theta, self.structure)
        return self.sigma[:, None, None] ** 2 * (L @ np.swapaxes(L, 1, 2))


@dataclass(frozen=True)
class Contrasts:
    """Estimates, standard errors and degrees of freedom of one contrast over a batch, each (B,)."""

    estimate: np.ndarray
    std_error: np.ndarray
    df: np.ndarray


def picked(names: Sequence[str], column: str, size: float = 1.0) -> np.ndarray:
    """(p,) contrast weights that pick one of the columns `names` times `size`."""
    weights = np.zeros(len(names))
    weights[names.index(column)] = size
    return weights


def factor(theta: np.ndarray, structure: Structure) -> np.ndarray:
    """(B, q, q) lower-triangular factors from (B, k) theta."""
    if structure == "intercept":
        return theta[:, :, None]
    L = np.zeros((len(theta), 2, 2))
    L[:, 0, 0], L[:, 1, 1] = theta[:, 0], theta[:, -1]
    if structure == "correlated":
        L[:, 1, 0] = theta[:, 1]
    return L
