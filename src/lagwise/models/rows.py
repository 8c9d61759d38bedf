"""Rows of the effect table from a fitted model."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd
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


def spread(estimate: float, std_error: float, df: float) -> dict[str, float]:
    """What is told of one contrast: estimate, std_error, df, low and high."""
    low, high = limits(estimate, std_error, df)
    return {"estimate": estimate, "std_error": std_error, "df": df, "low": low, "high": high}


def spread_table(
    found: Iterable[tuple[Any, tuple[float, float, float]]], name: str, columns: Sequence[str]
) -> pd.DataFrame:
    """One row per (label, contrast): the label under `name`, then `columns`, which are keys of `spread`."""
    rows = [{name: label, **spread(*contrast)} for label, contrast in found]
    return pd.DataFrame(rows, columns=[name, *columns])


def levels(term: str, *, between: bool) -> tuple[tuple[str, str], ...]:
    """(level, column) pairs by which an exposure is reported."""
    if whole(term):
        return (("whole", term),)
    pairs = (("within", f"{term}_within"), ("between", f"{term}_between"))
    return pairs if between else pairs[:1]


def common(engine: str, model: str, design: Design) -> dict[str, Any]:
    """What every effect row of a model shares."""
    of_design = ("outcome", "adjustment", "pain_adjusted", "n_people", "n_steps")
    own = {"engine": engine, "model": model, "primary": False, "interval": INTERVAL}
    return own | {name: getattr(design, name) for name in of_design}


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
    """'per unit' rows of every term in the model, and the study's contrasts (`Study.contrast_of`).

    `primary` marks the contrast row of the primary exposure. Columns that were left out of the design give no
    row.
    """
    rows = []
    shared = common(engine, model, design) | {"scale": "points"}
    for term in terms:
        for level, column in levels(term, between=between):
            if column not in design.names:
                continue
            sizes = [("per unit", 1.0, False)]
            told = study.contrast_of(term)
            if told is not None and level != "between":
                first = primary and term == study.analysis.primary
                sizes.append((contrast_label(term, told), contrast_size(term, told), first))
            for label, size, first in sizes:
                own = {
                    "term": term,
                    "level": level,
                    "contrast": label,
                    "contrast_size": size,
                    "primary": first,
                }
                rows.append(shared | own | spread(*contrast(column, size)))
    return rows
