"""The joint model's search and its inference: penalised restricted likelihood, full-information
standard errors."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from lagwise.models.rated_data import RatedData
from lagwise.models.rated_likelihood import EDGE, NAMES, Likelihood, filtered, start_of
from lagwise.panel.arrays import evenly

LEAST_DF = 3.0
ROBUST = 20
"""People from whom on the standard error is at least that of the people's influences: with fewer that is
erratic."""
SAMPLE = 200
"""People, evenly through the record, from whom the search starts where there are more than twice as many.
With more people than these, how the estimates of the variances hang together is taken from the fit that a
search starts from, and how sure each is from everybody.
"""
TOLERANCE = 2e-2
"""Slope of the deviance along a scaled parameter, per root of `SAMPLE` people where there are more, below
which the search ends: what it leaves is some 1e-4 of the deviance.
"""
MAX_STEPS = 200
NOT_POSSIBLE = 1e12
"""Deviance told to the search of a point that is not possible."""
STEP = 1e-4
"""Step along a free parameter from which the slopes' own slopes are taken."""
FLAT = 1e-3
"""Smallest eigenvalue of the scaled Hessian below which the data and the weak priors do not fix the
variances."""


@dataclass(frozen=True)
class RatedFit:
    """The maximum, `free` (13,) as `NAMES`, its inverse information `spread` (13, 13), NaN where held;
    `theta`, with covariance `cov` at these variances and `moves` (13, p) its derivative; `drift` (13, p)
    derivative of the variances of theta; `scores` (m, 13) of every person along the free parameters,
    `influence` (m, p) on theta, variances included; `smallest` eigenvalue of the scaled Hessian `bend`
    (13, 13), 0 where held.
    """

    data: RatedData
    free: np.ndarray
    held: tuple[int, ...]
    spread: np.ndarray
    theta: np.ndarray
    cov: np.ndarray
    moves: np.ndarray
    drift: np.ndarray
    scores: np.ndarray
    influence: np.ndarray
    deviance: float
    bend: np.ndarray
    smallest: float
    evaluations: int
    converged: bool

    @property
    def usable(self) -> bool:
        """True where the search ended at a stationary point, and data and weak priors together fix the
        variances."""
        return self.converged and self.smallest > FLAT

    @property
    def days(self) -> float:
        """Mean error variance that the days of a rated step leave, in the data's units (`RatedData.scale`
        points)."""
        return float(self.data.noise[~np.isnan(self.data.y)].mean())

    @property
    def least_error(self) -> float:
        """Error SD of a step's rating, points, that its days leave by themselves."""
        return float(self.data.scale * np.sqrt(self.days))

    @property
    def felt(self) -> tuple[float, float]:
        """Load's answer f to pain that moves, log units lower per point, and its standard error."""
        return float(self.free[6] / self.data.scale), float(np.sqrt(self.spread[6, 6]) / self.data.scale)

    def column(self, name: str) -> int:
        """Position in theta of a column of pain's change."""
        return len(self.data.of_rating) + len(self.data.of_load) + self.data.of_pain.index(name)

    def contrast(self, name: str, size: float = 1.0) -> tuple[float, float, float]:
        """Estimate, standard error with the variances' own uncertainty, and df (at least 3) of a column of
        pain's change, in points.

        From `ROBUST` people on the error is the larger of the model's, df Satterthwaite's, and that of the
        people's influences, df people - 1 at most.
        """
        j, m, size = self.column(name), len(self.data.people), size * self.data.scale
        total = self.cov[j, j] + self.moves[:, j] @ self.spread @ self.moves[:, j]
        wobble = self.drift[:, j] @ self.spread @ self.drift[:, j]
        df = min(2 * total**2 / wobble if wobble > 0 else np.inf, m * 1e3)
        seen = m / (m - 1) * float(self.influence[:, j] @ self.influence[:, j])
        if m >= ROBUST and seen > total:
            total, df = seen, min(df, m - 1)
        return float(size * self.theta[j]), float(abs(size) * np.sqrt(total)), float(max(LEAST_DF, df))


def fit_joint(
    data: RatedData, *, near: RatedFit | None = None, held: dict[str, float] | None = None
) -> RatedFit:
    """Maximise the penalised restricted likelihood.

    `near` is a fit of like data to start from; where there is none and people are many, that of a sample of
    them (`SAMPLE`). `held` fixes free parameters by name; NaN for k holds it at f.
    """
    m = len(data.people)
    if near is None and m > 2 * SAMPLE:
        near = fit_joint(data.take(evenly(m, SAMPLE)), held=held)
    more = 1.0 if near is None else m / len(near.data.people)
    at = Likelihood(data)
    free = start_of(data) if near is None else near.free.copy()
    fixed = {NAMES.index(k): v for k, v in (held or {}).items()}
    moving = np.array([i for i in range(len(NAMES)) if i not in fixed])
    alike = near.bend if near is not None and m > SAMPLE and set(near.held) <= set(fixed) else None
    along = np.eye(len(NAMES))[moving]
    for i, value in fixed.items():
        along[:, i] = np.isnan(value) * along[:, 6]

    def whole(part: np.ndarray) -> np.ndarray:
        out = free.copy()
        out[moving] = part / WEIGHT[moving]
        for i, value in fixed.items():
            out[i] = out[6] if np.isnan(value) else value
        return out

    def both(part: np.ndarray) -> tuple[float, np.ndarray]:
        free = whole(part)
        try:
            here = at.point(free) if abs(free[0]) < EDGE else None
        except np.linalg.LinAlgError:
            here = None
        if here is None:
            return NOT_POSSIBLE, np.zeros(len(part))
        return here.deviance, along @ at.slope(free, here) / WEIGHT[moving]

    enough = TOLERANCE * np.sqrt(max(1.0, m / SAMPLE))
    options: dict[str, object] = {"gtol": enough, "maxiter": MAX_STEPS}
    if alike is not None:
        bend = more * along @ alike @ along.T
        off = whole(free[moving] * WEIGHT[moving]) - free
        free[moving] -= np.linalg.solve(bend, more * along @ alike @ off)
        options["hess_inv0"] = _curvature(np.linalg.inv(bend) * np.outer(WEIGHT[moving], WEIGHT[moving]))
    elif near is not None:
        options["hess_inv0"] = _curvature(
            near.spread[np.ix_(moving, moving)] * np.outer(WEIGHT[moving], WEIGHT[moving]) / (2 * more)
        )
    else:
        first, h = free[moving] * WEIGHT[moving], 0.05
        here = at(whole(first))
        bend = [at(whole(first + h * e)) + at(whole(first - h * e)) - 2 * here for e in np.eye(len(moving))]
        options["hess_inv0"] = np.diag(1 / np.maximum(np.array(bend) / h**2, 0.5))
    found = minimize(both, free[moving] * WEIGHT[moving], jac=True, method="BFGS", options=options)
    if near is not None and near.data is data and alike is not None:
        return _beside(near, at, whole(found.x), tuple(fixed), along, bend)
    converged = bool(np.abs(found.jac).max() < 10 * enough)
    return _inference(at, whole(found.x), tuple(fixed), moving, along, converged)


def _curvature(spread: np.ndarray) -> np.ndarray:
    """A positive definite stand-in for an inverse Hessian."""
    values, vectors = np.linalg.eigh((spread + spread.T) / 2)
    half = vectors * np.sqrt(np.maximum(values, 1e-4 * values.max()))
    whole = half @ half.T
    return (whole + whole.T) / 2


WEIGHT = np.array([8.0, 8.0, 4.0, 2.0, 2.0, 10.0, 12.0, 12.0, 3.0, 12.0, 8.0, 30.0, 5.0])
"""Rough curvature of the deviance's square root along each free parameter: the search runs on free parameters
times this."""


def _inference(
    at: Likelihood,
    free: np.ndarray,
    held: tuple[int, ...],
    moving: np.ndarray,
    along: np.ndarray,
    converged: bool,
) -> RatedFit:
    """The fit at a maximum; the free parameters `moving` (q,) go along the rows of `along` (q, 13)."""
    centre = at.point(free)
    of_theta, flat, p = at.slopes(centre.theta), at.slope(free, centre), len(centre.theta)
    scores = np.zeros((len(of_theta), len(free)))
    scores[:, moving] = at.scores(free, centre.theta) @ along.T
    H, moves, drift = np.empty((len(moving),) * 2), np.zeros((len(free), p)), np.zeros((len(free), p))
    for i, m in enumerate(moving):
        there = free + STEP * along[i]
        beside = at.point(there)
        H[i] = along @ (at.slope(there, beside) - flat) / STEP
        moves[m], drift[m] = (beside.theta - centre.theta) / STEP, np.diag(beside.cov - centre.cov) / STEP
    H = (H + H.T) / 2
    scale = np.outer(*(np.sqrt(np.maximum(np.diag(H), 1e-8)),) * 2)
    values, vectors = np.linalg.eigh(H / scale)
    spread, bend = np.zeros((2, len(free), len(free)))
    spread[np.ix_(moving, moving)] = 2 * (vectors / np.maximum(values, 1e-3)) @ vectors.T / scale
    bend[np.ix_(moving, moving)] = H
    influence = of_theta @ centre.cov + (scores + of_theta @ moves.T) @ spread @ moves
    return RatedFit(
        data=at.data, free=free, held=held, spread=spread, theta=centre.theta, cov=centre.cov, moves=moves,
        drift=drift, scores=scores, influence=influence, deviance=centre.deviance, bend=bend,
        smallest=float(values[0]), evaluations=at.evaluations, converged=converged,
    )  # fmt: skip


def _beside(
    near: RatedFit,
    at: Likelihood,
    free: np.ndarray,
    held: tuple[int, ...],
    along: np.ndarray,
    bend: np.ndarray,
) -> RatedFit:
    """The fit of the same data with more held: how theta and the people's scores move with the variances is
    as at `near`.
    """
    centre, spread = at.point(free), along.T @ (2 * np.linalg.inv(bend)) @ along
    slopes = at.slopes(centre.theta)
    influence = slopes @ centre.cov + (near.scores + slopes @ near.moves.T) @ spread @ near.moves
    return replace(
        near, free=free, held=held, spread=spread, theta=centre.theta, cov=centre.cov, influence=influence,
        deviance=centre.deviance, evaluations=at.evaluations,
    )  # fmt: skip


def innovations(found: RatedFit) -> tuple[np.ndarray, np.ndarray]:
    """(n,) each: standardised innovations of ratings and of loads at the estimates, NaN where there is
    none."""
    d, p = found.data, 1 + len(found.theta)
    kept, m = np.empty((len(d.y), 2, p)), len(d.people)
    filtered(d, found.free, np.empty((m, p, p)), np.empty(m), kept)
    left = kept[:, :, 0] - kept[:, :, 1:] @ found.theta
    return left[:, 0], left[:, 1]


def error_sd(found: RatedFit) -> tuple[float, float, float]:
    """Error SD of a step's rating, days included, points, with its 95 % interval on the log scale."""
    value = float(np.sqrt(np.exp(2 * found.free[8]) + found.days))
    of_log = np.exp(2 * found.free[8]) / value**2 * float(np.sqrt(found.spread[8, 8]))
    reach, value = float(np.exp(1.96 * of_log)), found.data.scale * value
    return value, value / reach, value * reach


def held_error(size: float, found: RatedFit) -> float:
    """log_sw at which a step's whole rating error has the SD `size`, points, above what the days leave."""
    return 0.5 * float(np.log((size / found.data.scale) ** 2 - found.days))
