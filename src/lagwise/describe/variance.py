"""How much of a variable lies between people, how much within them, and how far it moves there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import fdtri

from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.core.terms import whole
from lagwise.describe.numbers import label_of, people_of, unit_of


def variance_split(panel: Panel, also: Sequence[str] = ()) -> pd.DataFrame:
    """Between- and within-person spread of the outcome, of every exposure and of panel columns named in
    `also`, by one-way analysis of variance.

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
    frame, study, everybody = panel.frame, panel.study, people_of(panel.frame)
    rows = []
    for name in (study.outcome.name, *(v for v in study.variables if v != study.outcome.name), *also):
        known = frame[name].notna().to_numpy()
        person, people = pd.factorize(everybody[known])
        values = frame.loc[known, name].to_numpy(dtype=float)
        who = (name, label_of(name, study), unit_of(name, study), len(people), len(values))
        rows.append((*who, *anova_icc(values, person)))
    who_is = ["variable", "label", "unit", "n_people", "n_steps"]
    return pd.DataFrame(rows, columns=[*who_is, "between_sd", "within_sd", "icc", "low", "high"])


def anova_icc(values: np.ndarray, group: np.ndarray) -> tuple[float, float, float, float, float]:
    """Between SD, within SD, ICC and its interval of (n,) values in (n,) groups 0..a-1: `variance_split`."""
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
    found = (np.sqrt(between), np.sqrt(msw), between / (between + msw), low, high)
    between_sd, within_sd, icc, lowest, highest = map(float, found)
    return between_sd, within_sd, icc, lowest, highest


def usual_range(panel: Panel) -> pd.DataFrame:
    """The usual low and usual high of every exposure lie one within-person SD below and above.

    Returns
    -------
    DataFrame
        term, within_sd, n_people, n_steps. `within_sd` is the mean over people with at least two known steps
        of each person's SD (n - 1), in the exposure's own unit; of the load jump over trained steps with a
        usual load. Missing where nobody has two known steps.
    """
    frame, person = panel.frame, people_of(panel.frame)
    trained = frame["rested"].ne(1) & frame["restarted"].ne(1)
    rows = []
    for term in (v for v in panel.study.variables if v != panel.study.outcome.name):
        values = frame[term].where(trained) if whole(term) else frame[term]
        own = values.groupby(person).std().dropna()
        rows.append((term, own.mean() if len(own) else float("nan"), len(own), int(values.notna().sum())))
    return pd.DataFrame(rows, columns=["term", "within_sd", "n_people", "n_steps"])
