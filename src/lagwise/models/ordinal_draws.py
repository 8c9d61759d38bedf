"""The ordinal model as data, and its draws as named arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import stats
from scipy.special import log_expit

from lagwise.models.cumlogit import Layout, log_density
from lagwise.models.design import Design
from lagwise.models.gcomp import Levels, levels_of
from lagwise.models.priors import SLOPE_OF, Priors, Standardised, standardise
from lagwise.models.sampling import Arguments


@dataclass(frozen=True)
class Draws:
    """Draws of the ordinal model, first axes (chains, draws).

    `beta` (.., p) per prior scale of each column; `cutpoints` (.., K - 1); `sd_intercept`, `sd_slope` (..);
    `intercepts` (.., m) on the log-odds scale, summing to zero; `slopes` (.., m) per SD of jump, caseload's
    part included; the last two names are None without jump.
    """

    beta: np.ndarray
    cutpoints: np.ndarray
    sd_intercept: np.ndarray
    intercepts: np.ndarray
    sd_slope: np.ndarray | None
    slopes: np.ndarray | None


@dataclass(frozen=True)
class OrdinalModel:
    """Everything the log density needs, made once from a design.

    `category` (n,) is the place of the level nearest to the outcome, half up; `Q` (p, n) the rotated columns,
    whose coefficients are about uncorrelated with SD 1 a posteriori; `rotation` (p, p) turns them back:
    beta = rotation @ theta.
    """

    design: Design
    columns: Standardised
    priors: Priors
    category: np.ndarray
    layout: Layout
    Q: np.ndarray
    rotation: np.ndarray
    precision: np.ndarray
    starts: np.ndarray
    counts: np.ndarray
    levels: Levels

    @property
    def arguments(self) -> Arguments:
        """What `lagwise.models.cumlogit.log_density` takes between the point and the gradient."""
        slope = self.columns.slope
        return (
            self.Q,
            np.zeros(len(self.category)) if slope is None else slope,
            self.category.astype(np.uint64),
            self.starts,
            self.counts,
            self.layout.anchor,
            self.precision,
            self.priors.intercept_sd,
            self.priors.slope_sd,
            self.priors.cutpoints,
            self.layout.slopes,
        )

    def density(self, x: np.ndarray) -> tuple[float, np.ndarray]:
        """Log posterior density (up to a constant) and its gradient at an unconstrained point."""
        grad = np.empty(self.layout.size)
        value: Any = log_density
        return value(x, *self.arguments, grad), grad

    def start(self) -> np.ndarray:
        """Where chains start: cutpoints from smoothed category shares, scales at a third, all else at
        zero."""
        x = np.zeros(self.layout.size)
        below = np.cumsum(self.counts + 1.0)[:-1] / (self.counts.sum() + len(self.counts))
        x[: self.layout.theta] = self.layout.from_cutpoints(1.3 * np.log(below / (1 - below)))
        x[self.layout.log_su] = np.log(0.3)
        if self.layout.slopes:
            x[self.layout.log_sv] = np.log(0.3)
        return x

    def unpack(self, x: np.ndarray) -> Draws:
        """Named draws from vectors (..., size)."""
        at = self.layout
        beta = x[..., at.theta : at.log_su] @ self.rotation.T
        sd = np.exp(x[..., at.log_su])
        intercepts = sd[..., None] * at.sum_to_zero(x)
        if not at.slopes:
            return Draws(beta, at.cutpoints(x), sd, intercepts, None, None)
        sd_slope = np.exp(x[..., at.log_sv])
        jump = self.columns.index(SLOPE_OF)
        slopes = beta[..., jump, None] + sd_slope[..., None] * x[..., at.zv :]
        return Draws(beta, at.cutpoints(x), sd, intercepts, sd_slope, slopes)

    def predictor(self, draws: Draws, chain: int, some: slice = slice(None)) -> np.ndarray:
        """Linear predictor (draws, n) of one chain's draws, or some of them, person effects included."""
        person = self.design.person
        beta = draws.beta[chain, some]
        eta = beta @ self.columns.X.T + draws.intercepts[chain, some][:, person]
        if draws.slopes is not None and self.columns.slope is not None:
            own = draws.slopes[chain, some] - beta[:, self.columns.index(SLOPE_OF), None]
            eta += own[:, person] * self.columns.slope
        return eta


def log_likelihood(model: OrdinalModel, draws: Draws) -> np.ndarray:
    """(chains, draws, n) log probability of every observed rating."""
    chains, K = len(draws.beta), model.levels.count
    out = np.empty((*draws.beta.shape[:2], len(model.category)))
    for c in range(chains):
        eta = model.predictor(draws, c)
        edge = np.pad(draws.cutpoints[c], ((0, 0), (1, 1)), constant_values=((0, 0), (-np.inf, np.inf)))
        low, high = edge[:, model.category] - eta, edge[:, model.category + 1] - eta
        inner = (model.category > 0) & (model.category < K - 1)
        gap = np.where(inner, np.where(inner, high, 1.0) - np.where(inner, low, 0.0), np.inf)
        out[c] = log_expit(high) + log_expit(-low) + np.log(-np.expm1(-gap))
    return out


def log_prior(model: OrdinalModel, draws: Draws) -> dict[str, np.ndarray]:
    """Log prior densities of what is no single person's, under the names of the posterior."""
    priors = model.priors
    out = {
        "beta": stats.norm.logpdf(draws.beta, scale=model.columns.prior_sd),
        "cutpoint": stats.logistic.logpdf(draws.cutpoints, scale=priors.cutpoints),
        "sd_intercept": stats.halfnorm.logpdf(draws.sd_intercept, scale=priors.intercept_sd),
    }
    if draws.sd_slope is not None:
        out["sd_slope"] = stats.halfnorm.logpdf(draws.sd_slope, scale=priors.slope_sd)
    return out


def ordinal_model(design: Design, priors: Priors) -> OrdinalModel:
    """The ordinal model of a design; see `OrdinalModel`.

    The rotation is the inverse transposed Cholesky factor of X'X / 4 + the prior precision: 1/4 is about the
    information that one cumulative-logit rating carries on its linear predictor.
    """
    columns = standardise(design, priors)
    levels = levels_of(design.asked)
    category, K = levels.nearest(design.y), levels.count
    p = columns.X.shape[1]
    flat = np.diag(1.0 / columns.prior_sd**2)
    rotation = (
        np.linalg.inv(np.linalg.cholesky(columns.X.T @ columns.X / 4 + flat)).T if p else np.zeros((0, 0))
    )
    counts = np.bincount(category, minlength=K)
    middle = int(np.searchsorted(np.cumsum(counts), counts.sum() / 2))
    layout = Layout(K, p, design.n_people, columns.slope is not None, min(max(middle, 0), K - 2))
    return OrdinalModel(
        design,
        columns,
        priors,
        category,
        layout,
        np.ascontiguousarray((columns.X @ rotation).T),
        rotation,
        np.ascontiguousarray(rotation.T @ flat @ rotation),
        np.searchsorted(design.person, np.arange(design.n_people + 1)).astype(np.int64),
        counts.astype(np.int64),
        levels,
    )


def draw_prior(model: OrdinalModel, draws: int, rng: np.random.Generator) -> Draws:
    """Draws of every parameter from its prior, as one chain."""
    priors, m = model.priors, model.design.n_people
    beta = rng.normal(size=(1, draws, len(model.columns.names))) * model.columns.prior_sd
    cutpoints = np.sort(
        rng.logistic(scale=priors.cutpoints, size=(1, draws, model.levels.count - 1)), axis=-1
    )
    sd = np.abs(rng.normal(scale=priors.intercept_sd, size=(1, draws)))
    u = rng.normal(size=(1, draws, m))
    intercepts = sd[..., None] * (u - u.mean(axis=-1, keepdims=True))
    if not model.layout.slopes:
        return Draws(beta, cutpoints, sd, intercepts, None, None)
    sd_slope = np.abs(rng.normal(scale=priors.slope_sd, size=(1, draws)))
    jump = model.columns.index(SLOPE_OF)
    slopes = beta[..., jump, None] + sd_slope[..., None] * rng.normal(size=(1, draws, m))
    return Draws(beta, cutpoints, sd, intercepts, sd_slope, slopes)
