"""The few numbers that describe a set of values, and the words for panel columns."""

from __future__ import annotations

import numpy as np

from lagwise.core.terms import EXPOSURES, PANEL

SUMMARY = ("mean", "sd", "median", "q1", "q3", "low", "high")


def summarise(values: np.ndarray) -> dict[str, float]:
    """mean, sd (n - 1), median, quartiles, lowest and highest of the known values; missing where they do not exist."""
    known = values[~np.isnan(values)]
    if not len(known):
        return dict.fromkeys(SUMMARY, np.nan)
    q1, median, q3 = np.percentile(known, [25, 50, 75])
    sd = known.std(ddof=1) if len(known) > 1 else np.nan
    numbers = (known.mean(), sd, median, q1, q3, known.min(), known.max())
    return {name: float(value) for name, value in zip(SUMMARY, numbers, strict=True)}


def label_of(name: str) -> str:
    """A panel column in plain words."""
    return EXPOSURES[name].label if name in EXPOSURES else _LABELS.get(name, name.replace("_", " "))


def unit_of(name: str) -> str:
    """Unit of a panel column."""
    return PANEL[name][0] if name in PANEL else ""


_LABELS = {"n_sessions": "sessions per step", "n_checkins": "check-ins per step", "usual": "usual load"}
