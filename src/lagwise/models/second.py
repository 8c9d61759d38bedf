"""The primary mixed model fitted again by an independent optimiser, statsmodels' MixedLM."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np

from lagwise.core.claim import said
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.estimates import Estimates
from lagwise.models.kernel import deviance_at, fit
from lagwise.models.ladder import Rung

SHORT = 1e-3
"""Deviance units above the optimum from which MixedLM counts as not having reached it."""
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

    Not comparable, with the reason in words, when MixedLM stops with a singular matrix, does not converge, or
    stops at a point whose restricted deviance is higher than the one it is compared with.
    """
    from statsmodels.regression.linear_model import OLS
    from statsmodels.regression.mixed_linear_model import MixedLM, MixedLMParams

    cross, estimates, rows, some = _compared(rung)
    y, X, person = (v[rows] for v in (rung.design.y, rung.design.X, rung.design.person))
    at = rung.design.names.index(column)
    error = float(np.sqrt(estimates.cov[0, at, at]))
    size = np.maximum(np.abs(X).max(axis=0), 1e-300)
    kept = np.diag(estimates.covariance()[0]) > 0
    if not kept.any():
        value = OLS(y, X / size).fit().params[at] / size[at]
        return Agreement(float(abs(value - estimates.beta[0, at])) / error, said("second.least_squares"))
    Z = rung.person_columns[rows][:, kept]
    free = None
    if Z.shape[1] == 2 and estimates.structure == "uncorrelated":
        free = MixedLMParams.from_components(np.ones(len(size)), np.eye(2))
    try:
        # Its warnings say that it did not converge or is near a boundary; both are read off the result
        # instead.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            result = MixedLM(y, X / size, groups=person, exog_re=Z).fit(
                reml=True, free=free, method=["bfgs", "lbfgs"]
            )
            values = np.asarray(result.params)[: len(size)] / size
            Psi = np.asarray(result.cov_re) / result.scale
    except (np.linalg.LinAlgError, ValueError, FloatingPointError, ZeroDivisionError) as error:
        return Agreement(
            None, said("second.stopped", why=str(error).rstrip(".").lower() or type(error).__name__)
        )
    if not np.isfinite(values).all() or not np.isfinite(Psi).all():
        return Agreement(None, said("second.not_finite"))
    try:
        L = np.linalg.cholesky(Psi)
    except np.linalg.LinAlgError:
        return Agreement(None, said("second.not_positive"))
    theta = np.zeros((1, estimates.theta.shape[1]))
    if kept.all() and estimates.structure == "correlated":
        theta[0] = L[0, 0], L[1, 0], L[1, 1]
    else:
        theta[0, kept] = np.diag(L)
    short = deviance_at(cross, theta, estimates.structure)[0] - estimates.deviance[0]
    if short > SHORT:
        return Agreement(None, said("second.short", units=float(short)))
    difference = float(abs(values[at] - estimates.beta[0, at]) / error)
    return Agreement(difference, some if kept.all() else said("second.held"))


def _compared(rung: Rung) -> tuple[CrossProducts, Estimates, np.ndarray, str]:
    """What is fitted again: cross-products, estimates, the rows (n,) as a mask, and what is said of them."""
    design, people = rung.design, rung.design.n_people
    n = max(PEOPLE, people * ENOUGH // design.n_steps)
    if design.n_steps > ENOUGH and n < people:
        drawn = np.unique(np.linspace(0, people - 1, n).astype(int))
        rows = np.isin(design.person, drawn)
        Z = rung.person_columns[rows]
        cross = CrossProducts.build(design.y[rows], design.X[rows], Z, design.person[rows])
        found = fit(cross, rung.estimates.structure)
        if found.converged[0] and np.isfinite(found.cov).all():
            return cross, found, rows, said("second.some", people=len(drawn), of=people)
    return rung.cross, rung.estimates, np.full(design.n_steps, True), ""
