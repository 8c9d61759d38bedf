"""The primary mixed model fitted again by an independent optimiser, statsmodels' MixedLM."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lagwise.core.claim import said
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.estimates import Estimates
from lagwise.models.kernel import deviance_at, fit
from lagwise.models.ladder import Rung
from lagwise.panel.arrays import evenly

if TYPE_CHECKING:
    from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams

SHORT = 1e-3
"""Deviance units above the optimum from which MixedLM counts as not having reached it."""
SEARCHES = ("powell", "bfgs", "lbfgs")
"""Ways of MixedLM to look for the optimum, the next where one stops short of it."""
ENOUGH, PEOPLE = 3_000, 40
"""Steps, and people at least, on which both are fitted where a record holds more: MixedLM takes minutes for
what says nothing more about the agreement of two optimisers."""


@dataclass(frozen=True)
class Agreement:
    """Difference of the two estimates of one coefficient in standard errors; None with a reason when there is
    none.

    With a difference, `reason` says what was compared when it was not the whole model.
    """

    difference: float | None
    reason: str = ""


def second_opinion(rung: Rung, column: str) -> Agreement:
    """Fit a rung with MixedLM (REML) and compare the coefficient of `column`; variances of exactly 0 are left
    out of it. Of a large record both are fitted to every k-th person's steps, which the reason then says.

    Not comparable, with the reason in words, when by each of `SEARCHES` MixedLM stops with a singular matrix
    or at a point whose restricted deviance is higher than the one it is compared with.
    """
    from statsmodels.regression.linear_model import OLS
    from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams

    cross, estimates, rows, drawn = _compared(rung)
    y, X, person = (v[rows] for v in (rung.design.y, rung.design.X, rung.design.person))
    at = rung.design.names.index(column)
    error = float(np.sqrt(estimates.cov[0, at, at]))
    size = np.maximum(np.abs(X).max(axis=0), 1e-300)
    kept = np.diag(estimates.covariance()[0]) > 0

    def compared(value: float, reason: str) -> Agreement:
        away = abs(value / size[at] - estimates.beta[0, at])
        return Agreement(float(away) / error, said(reason, **drawn))

    if not kept.any():
        return compared(OLS(y, X / size).fit().params[at], "second.least_squares")
    model = MixedLM(y, X / size, groups=person, exog_re=rung.person_columns[rows][:, kept])
    free = None
    if kept.all() and estimates.structure == "uncorrelated":
        free = MixedLMParams.from_components(np.ones(len(size)), np.eye(2))
    failure = Agreement(None)
    for method in SEARCHES:
        try:
            params, Psi = _search(model, free, method)
            theta = _theta(Psi, kept, estimates)
        except (np.linalg.LinAlgError, ValueError, FloatingPointError, ZeroDivisionError) as error:
            why = str(error).rstrip(".").lower() or type(error).__name__
            failure = Agreement(None, said("second.stopped", why=why, **drawn))
            continue
        short = deviance_at(cross, theta, estimates.structure)[0] - estimates.deviance[0]
        if short <= SHORT:
            return compared(params[at], "second.all" if kept.all() else "second.held")
        failure = Agreement(None, said("second.short", units=float(short), **drawn))
    return failure


def _search(model: MixedLM, free: MixedLMParams | None, method: str) -> tuple[np.ndarray, np.ndarray]:
    """Coefficients (p,) and relative covariance of the person effects (q, q) where one search ends."""
    # Its warnings say that it did not converge or is near a boundary; both are read off the result instead.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        result = model.fit(reml=True, free=free, method=method)
        params, Psi = np.asarray(result.params), np.asarray(result.cov_re) / result.scale
    if not np.isfinite(params).all() or not np.isfinite(Psi).all():
        raise FloatingPointError("no finite estimate")
    return params, Psi


def _theta(Psi: np.ndarray, kept: np.ndarray, estimates: Estimates) -> np.ndarray:
    """(1, k) entries of the Cholesky factor of a relative covariance, as `Estimates.theta` holds them; raises
    where it is not positive definite.
    """
    L = np.linalg.cholesky(Psi)
    theta = np.zeros((1, estimates.theta.shape[1]))
    if kept.all() and estimates.structure == "correlated":
        theta[0] = L[0, 0], L[1, 0], L[1, 1]
    else:
        theta[0, kept] = np.diag(L)
    return theta


def _compared(rung: Rung) -> tuple[CrossProducts, Estimates, np.ndarray, dict[str, int]]:
    """What is fitted again: cross-products, estimates, the rows (n,) as a mask, and how many people they are
    of how many; 0 and 0 where it is everybody.
    """
    design, people = rung.design, rung.design.n_people
    n = max(PEOPLE, people * ENOUGH // design.n_steps)
    if design.n_steps > ENOUGH and n < people:
        drawn = evenly(people, n)
        rows = np.isin(design.person, drawn)
        Z = rung.person_columns[rows]
        cross = CrossProducts.build(design.y[rows], design.X[rows], Z, design.person[rows])
        found = fit(cross, rung.estimates.structure)
        if found.converged[0] and np.isfinite(found.cov).all():
            return cross, found, rows, {"people": len(drawn), "of": people}
    return rung.cross, rung.estimates, np.full(design.n_steps, True), {"people": 0, "of": 0}
