"""The few numbers that describe a set of values, and the words for panel columns."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.study import Study
from lagwise.core.terms import panel_units
from lagwise.core.variable import PAIN

SUMMARY = ("mean", "sd", "median", "q1", "q3", "low", "high")


def summarise(values: np.ndarray) -> dict[str, float]:
    """mean, sd (n - 1), median, quartiles, lowest and highest of the known values; missing where they do not
    exist."""
    known = values[~np.isnan(values)]
    if not len(known):
        return dict.fromkeys(SUMMARY, np.nan)
    q1, median, q3 = np.percentile(known, [25, 50, 75])
    sd = known.std(ddof=1) if len(known) > 1 else np.nan
    numbers = (known.mean(), sd, median, q1, q3, known.min(), known.max())
    return {name: float(value) for name, value in zip(SUMMARY, numbers, strict=True)}


def people_of(frame: pd.DataFrame) -> np.ndarray:
    """The person of each row as a number, in the order of their codes, which rows are sooner grouped by."""
    return pd.factorize(frame["person"], sort=True)[0]


def ratings_of(study: Study) -> tuple[str, ...]:
    """The outcome first, then what people rate or lift besides, load jump left out: all as panel columns."""
    asked = study.outcome.name
    others = [v.name for v in study.variables.values() if not v.whole and v.name != asked]
    return (asked, *(name for name in others if name != PAIN), *((PAIN,) if asked != PAIN else ()))


def label_of(name: str, study: Study) -> str:
    """A panel column in plain words."""
    known = study.variables
    each = {"n_sessions": "sessions", "n_checkins": "check-ins"}
    told = {"usual": "usual load"} | {column: f"{of} per {study.step}" for column, of in each.items()}
    return known[name].label if name in known else told.get(name, name.replace("_", " "))


def unit_of(name: str, study: Study) -> str:
    """Unit of a panel column."""
    return panel_units(study).get(name, "")
