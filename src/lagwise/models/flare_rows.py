"""Effect rows of the flare models: odds ratios and g-computed differences in probability."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy.special import expit, ndtri

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.study import INTERVAL, Study
from lagwise.core.terms import whole
from lagwise.models.clogit import ConditionalFit
from lagwise.models.design import Design
from lagwise.models.logistic import LogisticFit
from lagwise.models.rows import levels

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
    for term, level, column, label, size in _contrasts(design.names, terms, study, between=between):
        b, se = (
            float(size * fit.beta[design.names.index(column)]),
            abs(size) * fit.std_error(design.names.index(column)),
        )
        base = _base("flare", model, design, term, level, label, size, design.n_people, design.n_steps)
        rows.append(base | _odds(b, se))
        values, errors = probabilities(design, fit, column, size)
        rows.append(
            base
            | {
                "scale": "probability", "estimate": float(values[2]), "std_error": float(errors[2]),
                "low": float(values[2] - Z * errors[2]), "high": float(values[2] + Z * errors[2]),
            }
        )  # fmt: skip
    return rows


def conditional_rows(
    design: Design, fit: ConditionalFit, *, model: str, terms: Sequence[str], study: Study
) -> list[dict[str, Any]]:
    """Odds-ratio rows of the self-controlled model; every comparison is within people."""
    rows = []
    for term, _, column, label, size in _contrasts(fit.names, terms, study, between=False):
        at = fit.names.index(column)
        se = abs(size) * float(np.sqrt(fit.cov[at, at]))
        base = _base("clogit", model, design, term, "within", label, size, fit.people, fit.steps)
        rows.append(base | _odds(float(size * fit.beta[at]), se))
    return rows


def _contrasts(
    names: Sequence[str], terms: Sequence[str], study: Study, *, between: bool
) -> list[tuple[str, str, str, str, float]]:
    out = []
    for term in terms:
        for level, column in levels(term, between=between):
            if column in names:
                out.append((term, level, column, "per unit", 1.0))
                told = study.contrast_of(term)
                if told is not None and level != "between":
                    out.append((term, level, column, contrast_label(term, told), contrast_size(term, told)))
    return out


def _base(
    engine: str,
    model: str,
    d: Design,
    term: str,
    level: str,
    label: str,
    size: float,
    people: int,
    steps: int,
) -> dict[str, Any]:
    return {
        "engine": engine, "model": model, "outcome": d.outcome, "term": term, "level": level,
        "adjustment": d.adjustment, "pain_adjusted": d.pain_adjusted, "primary": False, "contrast": label,
        "contrast_size": size, "interval": INTERVAL, "n_people": people, "n_steps": steps,
    }  # fmt: skip


def _odds(b: float, se: float) -> dict[str, Any]:
    """An odds ratio with its delta-method standard error and the exponentiated limits of its log."""
    with np.errstate(over="ignore"):  # an exposure in minute units can have an odds ratio beyond any number
        ratio, low, high = (float(np.exp(v)) for v in (b, b - Z * se, b + Z * se))
    return {"scale": "odds_ratio", "estimate": ratio, "std_error": ratio * se, "low": low, "high": high}
