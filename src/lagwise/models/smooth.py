"""Linear model with person intercepts and a few coefficients that are expected to change smoothly: exact, no sampling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize
from scipy.special import stdtr

GRID = 41


@dataclass(frozen=True)
class Smooth:
    """Posterior of the smooth coefficients b (k,) as a mixture over the SD of their second differences.

    `tau` (g,) grid in the outcome's units, `weight` (g,) its posterior weights, `mean` (g, k) and `cov` (g, k, k) those of b given
    tau, `df` the degrees of freedom of the t distributions they are the centre and scale of, `sigma` the residual SD at the
    heaviest tau.
    """

    tau: np.ndarray
    weight: np.ndarray
    mean: np.ndarray
    cov: np.ndarray
    df: int
    sigma: float

    def summary(self, weights: np.ndarray, width: float) -> tuple[float, float, float, float]:
        """Mean, SD, and lower and upper limit of weights'b, the interval having equal tails."""
        centre = self.mean @ weights
        scale = np.sqrt(np.maximum(np.einsum("i,gij,j->g", weights, self.cov, weights), 1e-300))
        mean = float(self.weight @ centre)
        spread = scale**2 * self.df / (self.df - 2)
        sd = float(np.sqrt(self.weight @ (spread + (centre - mean) ** 2)))

        def limit(p: float) -> float:
            return float(
                optimize.brentq(
                    lambda x: float(self.weight @ stdtr(self.df, (x - centre) / scale)) - p,
                    mean - 60 * sd,
                    mean + 60 * sd,
                )
            )

        return mean, sd, limit((1 - width) / 2), limit((1 + width) / 2)


def fit_smooth(
    y: np.ndarray, X: np.ndarray, B: np.ndarray, person: np.ndarray, *, scale: float, taus: np.ndarray | None = None
) -> Smooth:
    """y = X a + B b + u_person + e, with second differences of b ~ N(0, tau^2) and tau ~ half-normal(scale).

    Level and trend of b, and a, have flat priors; the person intercepts' variance is estimated by REML at every tau, and tau is
    integrated over on a grid weighted by its restricted likelihood and prior. Given both, b has a t distribution.

    Parameters
    ----------
    y : (n,), X : (n, p) with an intercept, B : (n, k) with k >= 3 columns in their order, person : (n,) codes 0..m-1
    scale : prior scale of tau, in the units of y per unit of B
    taus : (g,) grid of tau above 0; by default 41 values from 0.001 to 4 times `scale`. One large value leaves b unsmoothed.
    """
    k = B.shape[1]
    second = np.diff(np.eye(k), n=2, axis=0)
    free = np.column_stack([np.ones(k), np.arange(k) - (k - 1) / 2])
    bends = second.T @ np.linalg.inv(second @ second.T)
    onto = np.column_stack([free, bends])
    C = np.column_stack([X, B @ onto])
    cross = _Cross.build(y, C, person)
    fixed, q = X.shape[1] + 2, k - 2
    freedom = len(y) - fixed
    sigma = _residual(cross)
    if taus is None:
        taus = np.linspace(0.0, 4.0 * scale, GRID)
        taus[0] = 1e-3 * scale
    found = [_given(cross, q, freedom, tau / sigma) for tau in taus]
    log = np.array([-0.5 * f[0] for f in found]) - 0.5 * (taus / scale) ** 2
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    last = slice(X.shape[1], None)
    mean = np.stack([onto @ f[1][last] for f in found])
    cov = np.stack([onto @ f[2][last, last] @ onto.T for f in found])
    return Smooth(taus, weight, mean, cov, freedom, float(found[int(weight.argmax())][3]))


@dataclass(frozen=True)
class _Cross:
    """Cross-products of C and y, and per-person sums, from which every person-intercept variance can be evaluated."""

    CC: np.ndarray
    Cy: np.ndarray
    yy: float
    sums: np.ndarray
    ysums: np.ndarray
    count: np.ndarray

    @staticmethod
    def build(y: np.ndarray, C: np.ndarray, person: np.ndarray) -> _Cross:
        m = int(person.max()) + 1
        sums = np.zeros((m, C.shape[1]))
        np.add.at(sums, person, C)
        ysums = np.bincount(person, weights=y, minlength=m)
        return _Cross(C.T @ C, C.T @ y, float(y @ y), sums, ysums, np.bincount(person, minlength=m))

    def weighted(self, ratio: float) -> tuple[np.ndarray, np.ndarray, float, float]:
        """C'V^-1 C, C'V^-1 y, y'V^-1 y and log|V| for V = I + ratio^2 (person blocks of ones)."""
        w = ratio**2 / (1 + ratio**2 * self.count)
        A = self.CC - (self.sums * w[:, None]).T @ self.sums
        return (
            A,
            self.Cy - self.sums.T @ (w * self.ysums),
            self.yy - float(w @ self.ysums**2),
            float(np.log1p(ratio**2 * self.count).sum()),
        )


def _residual(cross: _Cross) -> float:
    A, c, yy, _ = cross.weighted(1.0)
    beta = np.linalg.lstsq(A, c, rcond=None)[0]
    left = int(cross.count.sum()) - len(c)
    return float(np.sqrt(max(float(yy - c @ beta), 1e-12) / max(left, 1)))


def _given(cross: _Cross, q: int, freedom: int, tau: float) -> tuple[float, np.ndarray, np.ndarray, float]:
    """Restricted deviance, coefficients, covariance and residual SD at tau (relative to the residual), best intercept variance."""

    def at(ratio: float) -> tuple[float, np.ndarray, np.ndarray, float]:
        A, c, yy, logdet = cross.weighted(ratio)
        H = A.copy()
        H[-q:, -q:] += np.eye(q) / tau**2
        factor = np.linalg.cholesky(H)
        half = np.linalg.solve(factor, c)
        rss = max(float(yy - half @ half), 1e-12)
        s2 = rss / freedom
        deviance = logdet + q * np.log(tau**2) + 2 * np.log(np.diag(factor)).sum() + freedom * np.log(s2)
        inverse = np.linalg.inv(factor)
        cov = inverse.T @ inverse
        return float(deviance), cov @ c, s2 * cov, float(np.sqrt(s2))

    best = optimize.minimize_scalar(lambda r: at(r)[0], bounds=(0.0, 5.0), method="bounded", options={"xatol": 1e-5})
    zero = at(0.0)
    found = at(float(best.x))
    return zero if zero[0] <= found[0] else found
