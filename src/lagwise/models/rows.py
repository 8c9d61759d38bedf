"""Rows of the effect table from a fitted model."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from lagwise.core.effects import PER_UNIT, contrast_label, contrast_size
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


def rung_table(made: Iterable[tuple[Sequence[str], Design, str, str]]) -> pd.DataFrame:
    """One row per model, from (its exposures, its design, the rung reached, why none above)."""
    rows = [
        (", ".join(terms), d.adjustment, d.pain_adjusted, rung, reason, d.n_people, d.n_steps)
        for terms, d, rung, reason in made
    ]
    names = "exposures adjustment pain_adjusted rung reason n_people n_steps"
    return pd.DataFrame(rows, columns=names.split())


def levels(term: str, *, between: bool) -> tuple[tuple[str, str], ...]:
    """(level, column) pairs by which an exposure is reported."""
    if whole(term):
        return (("whole", term),)
    pairs = (("within", f"{term}_within"), ("between", f"{term}_between"))
    return pairs if between else pairs[:1]


def column_of(term: str) -> str:
    """The column by which an exposure is reported within people."""
    return levels(term, between=False)[0][1]


def planned_contrast(study: Study) -> tuple[str, float]:
    """The plan's contrast of its primary exposure: in words, and on the model's scale."""
    own = study.analysis.primary, study.analysis.primary_contrast
    return contrast_label(*own), contrast_size(*own)


def asked(
    names: Collection[str], terms: Iterable[str], study: Study, *, between: bool
) -> Iterator[tuple[str, dict[str, Any]]]:
    """(column, what names the row in the effect table) of all that is told of the terms whose columns are
    among `names`: one unit, and but for levels between people the study's contrast (`Study.contrast_of`)."""
    for term in terms:
        told = study.contrast_of(term)
        for level, column in levels(term, between=between):
            sizes = {PER_UNIT: 1.0} if column in names else {}
            if sizes and told is not None and level != "between":
                sizes[contrast_label(term, told)] = contrast_size(term, told)
            for label, size in sizes.items():
                yield column, {"term": term, "level": level, "contrast": label, "contrast_size": size}


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
    """Rows of all that is `asked` of the terms; `primary` marks the study's contrast of its primary
    exposure."""
    rows = []
    shared = common(engine, model, design) | {"scale": "points"}
    for column, named in asked(design.names, terms, study, between=between):
        first = primary and named["term"] == study.analysis.primary and named["contrast"] != PER_UNIT
        found = spread(*contrast(column, named["contrast_size"]))
        rows.append(shared | named | found | {"primary": first})
    return rows
