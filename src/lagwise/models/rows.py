"""Rows of the effect table from a fitted model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from scipy.special import stdtrit

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.study import INTERVAL, Study
from lagwise.core.terms import whole
from lagwise.models.design import Design

Contrast = Callable[[str, float], tuple[float, float, float]]
"""(column, size) -> estimate, standard error, degrees of freedom."""


def limits(estimate: float, std_error: float, df: float) -> tuple[float, float]:
    """Limits of the project's interval, estimate -/+ t quantile x standard error; normal when df is not
    finite."""
    quantile = float(stdtrit(df if np.isfinite(df) else np.inf, 0.5 + INTERVAL / 2))
    return float(estimate - quantile * std_error), float(estimate + quantile * std_error)


def levels(term: str, *, between: bool) -> tuple[tuple[str, str], ...]:
    """(level, column) pairs by which an exposure is reported."""
    if whole(term):
        return (("whole", term),)
    pairs = (("within", f"{term}_within"), ("between", f"{term}_between"))
    return pairs if between else pairs[:1]


def effect_rows(
    design: Design,
    contrast: Contrast,
    *,
    engine: str,
    model: str,
    terms: Sequence[str],
    study: Study,
    between: bool,
    primary: bool,
) -> list[dict[str, Any]]:
    """'per unit' rows of every term in the model, and the study's contrast for its primary exposure.

    `primary` marks the contrast row of the primary exposure. Columns that were left out of the design give no
    row.
    """
    rows = []
    for term in terms:
        for level, column in levels(term, between=between):
            if column not in design.names:
                continue
            sizes = [("per unit", 1.0, False)]
            if term == study.analysis.primary and level != "between":
                size = study.analysis.primary_contrast
                sizes.append((contrast_label(term, size), contrast_size(term, size), primary))
            for label, size, first in sizes:
                estimate, std_error, df = contrast(column, size)
                low, high = limits(estimate, std_error, df)
                rows.append(
                    {
                        "engine": engine,
                        "model": model,
                        "outcome": design.outcome,
                        "term": term,
                        "level": level,
                        "adjustment": design.adjustment,
                        "pain_adjusted": design.pain_adjusted,
                        "primary": first,
                        "contrast": label,
                        "contrast_size": size,
                        "scale": "points",
                        "estimate": estimate,
                        "std_error": std_error,
                        "low": low,
                        "high": high,
                        "df": df,
                        "interval": INTERVAL,
                        "n_people": design.n_people,
                        "n_steps": design.n_steps,
                    }
                )
    return rows
