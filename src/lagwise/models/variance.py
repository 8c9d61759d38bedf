"""Variance components with intervals, and how the outcome's variance splits between and within people."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import optimize, special

from lagwise.core.claim import said
from lagwise.core.study import INTERVAL
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import Design
from lagwise.models.estimates import Structure
from lagwise.models.kernel import deviance_at, fit
from lagwise.models.ladder import Rung

FARTHEST = 30.0
"""Largest relative SD (over the residual SD, standardised) that a profile looks at."""


def random_effects(rung: Rung) -> pd.DataFrame:
    """One row per variance component: component, estimate, low, high, unit, meaning.

    The slope SD, which says how much people differ, carries a profile-likelihood interval: the values whose
    restricted deviance, minimised over the other variance parameters, lies within the chi-squared quantile (1
    df) of the minimum. Its lower limit is 0 where 0 lies within. When the model has no person slopes the
    estimate is 0 and the upper limit comes from the uncorrelated model.
    """
    e = rung.estimates
    covariance = e.covariance()[0]
    none = np.nan, np.nan
    sds = {"intercept_sd": float(np.sqrt(covariance[0, 0])), "residual_sd": float(e.sigma[0])}
    rows = [(name, sd, *none, "points", said(f"means.{name}")) for name, sd in sds.items()]
    if rung.cross.q == 2:
        low, high = slope_sd_limits(rung)
        estimate = float(np.sqrt(covariance[1, 1])) if len(covariance) == 2 else 0.0
        rows.insert(1, ("slope_sd", estimate, low, high, "points per unit", said("means.slope_sd")))
        if e.structure == "correlated":
            correlation = float(covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1]))
            rows.insert(2, ("correlation", correlation, *none, "", said("means.correlation")))
    return pd.DataFrame(rows, columns=["component", "estimate", "low", "high", "unit", "meaning"])


def slope_sd_limits(rung: Rung) -> tuple[float, float]:
    """Profile-likelihood limits of the person slopes' SD in points per unit; see `random_effects`."""
    e, cross = rung.estimates, rung.cross
    structure: Structure = "correlated" if e.structure == "correlated" else "uncorrelated"
    best = fit(cross, structure)
    start, sigma = best.theta[0], float(best.sigma[0])
    unit = np.sqrt(cross.ZtZ[0, 1, 1].sum() / cross.n)
    middle = float(np.hypot(start[1], start[2]) if structure == "correlated" else start[1])
    allowed = float(special.ndtri(0.5 + INTERVAL / 2)) ** 2

    def excess(size: float) -> float:
        def at(free: np.ndarray) -> float:
            theta = [free[0], size]
            if structure == "correlated":
                theta = [free[0], size * np.sin(free[1]), size * np.cos(free[1])]
            return float(deviance_at(cross, np.array([theta]), structure)[0])

        if structure == "correlated":
            guess = np.array([start[0], np.arctan2(start[1], start[2])])
        else:
            guess = np.array([start[0]])
        found = optimize.minimize(at, guess, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-5})
        return float(found.fun - best.deviance[0] - allowed)

    low = 0.0
    if middle > 0 and excess(0.0) > 0:
        low = optimize.brentq(excess, 0.0, middle, xtol=1e-4 / unit)
    top = max(2 * middle, 0.25 / unit)
    while excess(top) < 0 and top * unit < FARTHEST:
        top *= 2
    high = optimize.brentq(excess, middle, top, xtol=1e-4 / unit) if excess(top) > 0 else np.inf
    return float(low * sigma), float(high * sigma)


def variance_split(rung: Rung) -> pd.DataFrame:
    """How the outcome's variance splits: quantity, value, unit, meaning.

    The ICC is the share of variance between people in a model with person intercepts and no exposures, on the
    same steps.
    """
    empty = _empty(rung.design)
    within, full = float(empty.sigma[0] ** 2), float(rung.estimates.sigma[0] ** 2)
    between = float(empty.covariance()[0, 0, 0])
    split = [
        ("variance_between_people", between, "points squared"),
        ("variance_within_people", within, "points squared"),
        ("icc", between / (between + within), "share"),
        ("residual_variance", full, "points squared"),
        ("within_explained", 1 - full / within, "share"),
    ]
    rows = [(*row, said(f"means.{row[0]}")) for row in split]
    return pd.DataFrame(rows, columns=["quantity", "value", "unit", "meaning"])


def _empty(design: Design):
    return fit(CrossProducts.build(design.y, np.ones((design.n_steps, 1)), None, design.person))
