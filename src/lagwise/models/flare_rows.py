"""Effect rows of the flare models: odds ratios and g-computed differences in probability."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy.special import expit, ndtri

from lagwise.core.study import INTERVAL, Study
from lagwise.core.terms import whole
from lagwise.models.clogit import ConditionalFit
from lagwise.models.design import Design
from lagwise.models.logistic import LogisticFit
from lagwise.models.rows import asked, common

Z = float(ndtri(0.5 + INTERVAL / 2))


def probabilities(
    design: Design, fit: LogisticFit, column: str, size: float
) -> tuple[np.ndarray, np.ndarray]:
    """Average probability of an onset at the reference, at the contrast, and their difference, with standard
    errors (3,).

    g-computation: each observed at-risk step is predicted twice and averaged over steps and over the person
    intercepts. For jump the reference is a step trained at the usual load (jump 0, neither rested nor
    restarted) and the contrast one at jump = `size`; for any other column the reference is the step as
    observed and the contrast the same step with the column raised by `size`. Standard errors by the delta
    method.
    """
    X0 = design.X.copy()
    at = design.names.index(column)
    if whole(column):
        X0[:, at] = 0.0
        for name in ("rested", "restarted"):
            if name in design.names:
                X0[:, design.names.index(name)] = 0.0
    X1 = X0.copy()
    X1[:, at] += size
    x, w = np.polynomial.hermite_e.hermegauss(21)
    w = w / w.sum()
    values, gradients = [], []
    for X in (X0, X1):
        p = expit((X @ fit.beta)[:, None] + fit.tau * x)
        weight = p * (1 - p) * w
        values.append(float((p @ w).mean()))
        gradients.append(np.append(weight.sum(axis=1) @ X, (weight * x).sum()) / len(X))
    values.append(values[1] - values[0])
    gradients.append(gradients[1] - gradients[0])
    errors = [np.sqrt(g @ fit.cov @ g) for g in gradients]
    return np.array(values), np.array(errors)


def onset_rows(
    design: Design, fit: LogisticFit, *, model: str, terms: Sequence[str], study: Study, between: bool
) -> list[dict[str, Any]]:
    """Odds-ratio and probability rows of every term in an onset model."""
    rows = []
    shared = common("flare", model, design)
    for column, named in asked(design.names, terms, study, between=between):
        at, size = design.names.index(column), named["contrast_size"]
        odds = _odds(float(size * fit.beta[at]), abs(size) * fit.std_error(at))
        value, error = (float(v[2]) for v in probabilities(design, fit, column, size))
        chance = {"scale": "probability", "estimate": value, "std_error": error}
        chance |= {"low": value - Z * error, "high": value + Z * error}
        rows += [shared | named | odds, shared | named | chance]
    return rows


def conditional_rows(
    design: Design, fit: ConditionalFit, *, model: str, terms: Sequence[str], study: Study
) -> list[dict[str, Any]]:
    """Odds-ratio rows of the self-controlled model; every comparison is within people."""
    rows = []
    own = {"level": "within", "n_people": fit.people, "n_steps": fit.steps}
    for column, named in asked(fit.names, terms, study, between=False):
        at, size = fit.names.index(column), named["contrast_size"]
        se = abs(size) * float(np.sqrt(fit.cov[at, at]))
        shared = common("clogit", model, design) | named | own
        rows.append(shared | _odds(float(size * fit.beta[at]), se))
    return rows


def _odds(b: float, se: float) -> dict[str, Any]:
    """An odds ratio with its delta-method standard error and the exponentiated limits of its log."""
    with np.errstate(over="ignore"):  # an exposure in minute units can have an odds ratio beyond any number
        ratio, low, high = (float(np.exp(v)) for v in (b, b - Z * se, b + Z * se))
    return {"scale": "odds_ratio", "estimate": ratio, "std_error": ratio * se, "low": low, "high": high}
