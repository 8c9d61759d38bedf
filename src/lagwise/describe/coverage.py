"""What was recorded when, and whether what is missing follows the outcome."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.core.variable import JUMP
from lagwise.describe.numbers import label_of, people_of, ratings_of, unit_of


def coverage_grid(panel: Panel) -> pd.DataFrame:
    """One row per person and step: person, step, step_start, state, n_sessions, n_checkins, n_ratings,
    recorded.

    `recorded` is 'training and pain', 'training', 'pain' or 'nothing': whether the training state is known
    and the outcome (by its label) rated.
    """
    frame, asked = panel.frame, panel.study.outcome
    out = frame[["person", "step", "step_start", "state", "n_sessions", "n_checkins", "n_ratings"]].copy()
    training, rated, label = frame["state"].ne("unknown"), frame[asked.name].notna(), asked.variable.label
    names = [f"training and {label}", "training", label]
    words = np.select([training & rated, training, rated], names, "nothing")
    return out.assign(recorded=words)


def missingness_table(panel: Panel) -> pd.DataFrame:
    """How much of each variable is known, for how many people, and whether missing values follow a higher
    outcome.

    Returns
    -------
    DataFrame
        variable, label, unit, n_steps, n_known, share_known; n_people, n_people_any (with at least one known
        value), lowest_share and highest_share over people; then, for steps whose earlier step has the outcome
        rated, `after_missing`: the mean over people of (earlier rating where the variable is missing -
        earlier rating where it is known), in points, with `low` and `high` of its t interval and
        `n_compared`, the people who have both. Above 0 means that people left it out after their worse steps,
        where high is the worse end. Not told for jump, pain_before and pain_next, which need several steps;
        and it cannot tell whether something is missing because of the missing step's own rating.
    """
    frame, study = panel.frame, panel.study
    asked, (first, *others) = study.outcome, ratings_of(study)
    derived = (JUMP, asked.before, asked.later)
    person = people_of(frame)
    earlier = frame[asked.name].groupby(person).shift(1)
    rows = []
    for name in (first, "load", JUMP, *others, asked.before, asked.later):
        known = frame[name].notna()
        per_person = known.groupby(person).mean()
        after = _NOT_TOLD if name in derived else _after_missing(earlier, known, person)
        rows.append({
            "variable": name, "label": label_of(name, study), "unit": unit_of(name, study),
            "n_steps": len(frame), "n_known": int(known.sum()), "share_known": float(known.mean()),
            "n_people": len(per_person), "n_people_any": int((per_person > 0).sum()),
            "lowest_share": float(per_person.min()), "highest_share": float(per_person.max()), **after,
        })  # fmt: skip
    return pd.DataFrame(rows)


_NOT_TOLD = {"after_missing": np.nan, "low": np.nan, "high": np.nan, "n_compared": 0}


def _after_missing(earlier: pd.Series, known: pd.Series, person: np.ndarray) -> dict[str, Any]:
    if known.all() or not known.any():
        return _NOT_TOLD
    missing, there = (earlier.where(which).groupby(person).mean() for which in (~known, known))
    difference = (missing - there).dropna().to_numpy()
    n = len(difference)
    out: dict[str, Any] = _NOT_TOLD | {"n_compared": n}
    if n:
        out["after_missing"] = float(difference.mean())
    if n > 1:
        half = stdtrit(n - 1, 0.5 + INTERVAL / 2) * difference.std(ddof=1) / np.sqrt(n)
        out |= {"low": float(difference.mean() - half), "high": float(difference.mean() + half)}
    return out
