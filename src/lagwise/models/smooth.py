"""A few coefficients that are expected to change smoothly: estimates with a cluster-robust covariance, smoothed without sampling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize
from scipy.special import stdtr

GRID = 41


@dataclass(frozen=True)
class Smooth:
    """Smoothed coefficients b (k,) as a mixture over the SD of their second differences.

    `tau` (g,) grid in the units of b, `weight` (g,) its posterior weights, `mean` (g, k) and `cov` (g, k, k) of b given tau.
    """

    tau: np.ndarray
    weight: np.ndarray
    mean: np.ndarray
    cov: np.ndarray

    def summary(self, weights: np.ndarray, width: float, df: float) -> tuple[float, float, float, float]:
        """Mean, SD, and lower and upper limit of weights'b, the interval having equal tails of t distributions with `df`."""
        centre = self.mean @ weights
        scale = np.sqrt(np.maximum(np.einsum("i,gij,j->g", weights, self.cov, weights), 1e-300))
        mean = float(self.weight @ centre)
        sd = float(np.sqrt(self.weight @ (scale**2 + (centre - mean) ** 2)))

        def limit(p: float) -> float:
            reach = np.abs(centre - mean).max() + 1e4 * scale.max()
            return float(
                optimize.brentq(
                    lambda x: float(self.weight @ stdtr(df, (x - centre) / scale)) - p, mean - reach, mean + reach
                )
            )

        return mean, sd, limit((1 - width) / 2), limit((1 + width) / 2)


def smooth(
    b: np.ndarray, robust: np.ndarray, working: np.ndarray, *, scale: float, taus: np.ndarray | None = None
) -> Smooth:
    """Estimates b with second differences D of the truth ~ N(0, tau^2) and tau ~ half-normal(scale); its level and trend are free.

    Given tau the estimate is W b with W = I - G D, G = V D'(D V D' + tau^2 I)^-1, and V the working covariance brought to the robust one's mean
    variance: its shape is known better than that of a robust covariance from few people. The error of W b has covariance W R W' + tau^2 G G' with R the
    robust covariance, which is the posterior covariance where R = V. tau is integrated over on a grid by the density of D b and its prior.

    Parameters
    ----------
    b : (k,) estimates in their order, k >= 3
    robust, working : (k, k) cluster-robust covariance, and the covariance under independent errors
    scale : prior scale of tau, in the units of b
    taus : (g,) grid of tau above 0; by default 41 values from 0.001 to 4 times `scale`
    """
    k = len(b)
    D = np.diff(np.eye(k), n=2, axis=0)
    V = working * float(np.mean(np.diag(robust) / np.diag(working)))
    bent, spread = D @ b, D @ V @ D.T
    if taus is None:
        taus = np.linspace(0.0, 4.0 * scale, GRID)
        taus[0] = 1e-3 * scale
    log, mean, cov = [], [], []
    for tau in taus:
        S = spread + tau**2 * np.eye(k - 2)
        G = np.linalg.solve(S, D @ V).T
        W = np.eye(k) - G @ D
        log.append(-0.5 * (np.linalg.slogdet(S)[1] + bent @ np.linalg.solve(S, bent)) - 0.5 * (tau / scale) ** 2)
        mean.append(W @ b)
        cov.append(W @ robust @ W.T + tau**2 * G @ G.T)
    weight = np.exp(np.array(log) - max(log))
    return Smooth(taus, weight / weight.sum(), np.stack(mean), np.stack(cov))
