"""How much of a variable lies between people and how much within them."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import fdtri

from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.describe.numbers import label_of, unit_of


def variance_split(panel: Panel) -> pd.DataFrame:
    """Between- and within-person spread of the outcome and of every exposure, by one-way analysis of
    variance.

    With a people, N known steps, n_i per person and mean squares MSB and MSW: within variance MSW, between
    variance max(0, (MSB - MSW) / n0) with n0 = (N - sum n_i^2 / N) / (a - 1), ICC = between / (between +
    within).

    Returns
    -------
    DataFrame
        variable, label, unit, n_people, n_steps, between_sd, within_sd, icc, low, high. An ICC of 0.6 says
        that 60 % of the variance is a matter of who, 40 % of when. The interval is the exact F interval with
        n0 for the group size, an approximation when records differ in length (Donner 1986, Int Stat Rev
        54:67-82). Missing where there are fewer than two people or no repeated steps.
    """
    frame, study = panel.frame, panel.study
    rows = []
    for name in (study.outcome.name, *(v for v in study.variables if v != study.outcome.name)):
        known = frame.loc[frame[name].notna(), ["person", name]]
        values, person = known[name].to_numpy(dtype=float), pd.factorize(known["person"])[0]
        between, within, icc, low, high = anova_icc(values, person)
        rows.append(
            (
                name,
                label_of(name, study),
                unit_of(name, study),
                known["person"].nunique(),
                len(known),
                between,
                within,
                icc,
                low,
                high,
            )
        )
    columns = [
        "variable",
        "label",
        "unit",
        "n_people",
        "n_steps",
        "between_sd",
        "within_sd",
        "icc",
        "low",
        "high",
    ]
    return pd.DataFrame(rows, columns=columns)


def anova_icc(values: np.ndarray, group: np.ndarray) -> tuple[float, float, float, float, float]:
    """between SD, within SD, ICC and its interval from (n,) values and (n,) groups coded 0..a-1; see
    `variance_split`."""
    N = len(values)
    n = np.bincount(group) if N else np.zeros(0)
    a = len(n)
    if a < 2 or a >= N:
        return (np.nan,) * 5
    means = np.bincount(group, weights=values) / n
    msb = float((n * (means - values.mean()) ** 2).sum() / (a - 1))
    msw = float(((values - means[group]) ** 2).sum() / (N - a))
    n0 = (N - (n**2).sum() / N) / (a - 1)
    between = max(0.0, (msb - msw) / n0)
    if between + msw <= 0:
        return 0.0, 0.0, np.nan, np.nan, np.nan
    if msw == 0:
        return float(np.sqrt(between)), 0.0, 1.0, 1.0, 1.0
    tail = (1 - INTERVAL) / 2
    ratio = msb / msw / fdtri(a - 1, N - a, [1 - tail, tail])
    low, high = np.clip((ratio - 1) / (ratio - 1 + n0), 0.0, 1.0)
    return (
        float(np.sqrt(between)),
        float(np.sqrt(msw)),
        float(between / (between + msw)),
        float(low),
        float(high),
    )
