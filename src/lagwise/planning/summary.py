"""What caseloads of one cell come to: chances, means and their Monte Carlo errors."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

OUTCOMES = ("p_beyond", "p_partly", "p_within", "p_open", "p_no_interval")
"""Chances that together make 1: see `plan`."""


def summary(cell: tuple[int, int, float], found: pd.DataFrame, zero: float) -> dict[str, object]:
    """One row of `Plan.table` from the caseloads of a cell."""
    people, weeks, effect = cell
    n, known = len(found), found.dropna(subset=["estimate"])
    low, high, missing = found["low"], found["high"], found["estimate"].isna()
    beyond, within, excludes = (
        (low > zero) | (high < -zero),
        (low >= -zero) & (high <= zero),
        (low > 0) | (high < 0),
    )
    partly = excludes & ~beyond & ~within
    width, covered = known["high"] - known["low"], (known["low"] <= effect) & (known["high"] >= effect)
    gates = found["gate"].value_counts()
    row: dict[str, object] = {
        "people": people, "weeks": weeks, "effect": effect, "caseloads": n, "fitted": len(known),
        **middle("width", width), "mean": mean(known["estimate"]), "bias": mean(known["estimate"]) - effect,
        "bias_error": mean_error(known["estimate"]), **share("coverage", covered),
    }  # fmt: skip
    chances = (beyond, partly, within, ~(beyond | partly | within | missing), missing)
    for name, chance in zip(OUTCOMES, chances, strict=True):
        row |= share(name, chance)
    onsets = found["onsets"]
    return row | {
        **share("p_excludes_zero", excludes), "usable_people": mean(found["n_people"]),
        "person_weeks": mean(found["n_steps"]), "flare_onsets": mean(onsets),
        "flare_onsets_low": float(onsets.quantile(0.1)), "flare_onsets_high": float(onsets.quantile(0.9)),
        "flare_people": mean(found["flare_people"]), **share("p_flare_model", found["flare_model"]),
        "gate": gates.index[0], "gate_share": float(gates.iloc[0] / n),
    }  # fmt: skip


def mean(values: pd.Series) -> float:
    """The mean, NaN of none."""
    return float(values.mean()) if len(values) else math.nan


def mean_error(values: pd.Series) -> float:
    """Monte Carlo standard error of the mean, NaN below two values."""
    return float(values.std() / math.sqrt(len(values))) if len(values) > 1 else math.nan


def middle(name: str, values: pd.Series) -> dict[str, float]:
    """Median, its Monte Carlo error by order statistics, and the middle 80 of 100."""
    if not len(values):
        return {name: math.nan, f"{name}_error": math.nan, f"{name}_low": math.nan, f"{name}_high": math.nan}
    half = 0.5 / math.sqrt(len(values))
    low, under, middle, over, high = np.quantile(values, [0.1, 0.5 - half, 0.5, 0.5 + half, 0.9])
    return {
        name: float(middle),
        f"{name}_error": float(over - under) / 2,
        f"{name}_low": float(low),
        f"{name}_high": float(high),
    }


def share(name: str, hits: pd.Series) -> dict[str, float]:
    """A share and its Monte Carlo error, with two hits and two misses added so that it is not 0 at the ends
    (Agresti & Coull 1998).
    """
    n = len(hits)
    if not n:
        return {name: math.nan, f"{name}_error": math.nan}
    near = (float(hits.sum()) + 2) / (n + 4)
    return {name: float(hits.mean()), f"{name}_error": math.sqrt(near * (1 - near) / (n + 4))}
