"""What one session row says: trained or rest, its load by every measure, its effort, its exercise groups."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from lagwise.core.columns import STATES
from lagwise.core.study import Study
from lagwise.panel.clock import coded, numbers, spread

OF_SETS = ("sets", "reps", "tonnage", "hard_sets", "near_failure_sets")
"""Load measures that are made of sets, and so are 0 for a row with 0 sets whatever else is missing."""


def effort_of(sessions: pd.DataFrame) -> np.ndarray:
    """Effort of each session row; 10 - reps_in_reserve (not below 0) where only that was recorded."""
    effort = numbers(sessions, "effort")
    if "reps_in_reserve" not in sessions.columns:
        return effort
    return np.where(np.isnan(effort), np.maximum(10 - numbers(sessions, "reps_in_reserve"), 0), effort)


def row_states(sessions: pd.DataFrame, lost: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Two bool arrays over session rows, trained and rest; a row that is neither records nothing.

    Trained: sets, minutes or load_kg above 0, or, where sets are not recorded, effort or reps above 0 or any
    reps in reserve. Rest: sets of 0, or minutes or effort of 0, and not trained. A row of which something was
    set aside (`lost`) recorded something: it is trained.
    """
    sets, minutes = numbers(sessions, "sets"), numbers(sessions, "minutes")
    trained = (sets > 0) | (minutes > 0) | (numbers(sessions, "load_kg") > 0)
    rest = (sets == 0) & ~trained
    open_ = np.flatnonzero(~(trained | rest))
    if len(open_):
        some = sessions.iloc[open_]
        effort = numbers(some, "effort")
        told = (effort > 0) | (numbers(some, "reps") > 0) | ~np.isnan(numbers(some, "reps_in_reserve"))
        trained[open_] = told
        rest[open_] = ~told & ((minutes[open_] == 0) | (effort == 0))
    return (trained, rest) if lost is None else (trained | lost, rest & ~lost)


def row_loads(sessions: pd.DataFrame, study: Study, rest: np.ndarray) -> dict[str, np.ndarray]:
    """Load of each session row by every measure; missing where what the measure needs is missing, 0 at
    `rest`.

    sets; reps = sets x reps; tonnage = sets x reps x load_kg; session_rpe = effort x minutes; hard_sets and
    near_failure_sets = sets at or above the study's hard and near-failure effort.
    """
    sets, effort = numbers(sessions, "sets"), effort_of(sessions)
    reps = sets * numbers(sessions, "reps")
    loads = {
        "sets": sets,
        "reps": reps,
        "tonnage": reps * numbers(sessions, "load_kg"),
        "session_rpe": effort * numbers(sessions, "minutes"),
        "hard_sets": _sets_from(sets, effort, study.load.hard_effort),
        "near_failure_sets": _sets_from(sets, effort, study.load.near_failure_effort),
    }
    none = (sets == 0) | rest
    if not none.any():
        return loads
    return {name: np.where(none if name in OF_SETS else rest, 0.0, value) for name, value in loads.items()}


def _sets_from(sets: np.ndarray, effort: np.ndarray, least: float) -> np.ndarray:
    return np.where(np.isnan(effort), np.nan, sets * (effort >= least))


def group_members(
    sessions: pd.DataFrame, groups: Mapping[str, tuple[str, ...]]
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Which rows belong to each exercise group, and which rows do not name their exercise."""
    if not groups:
        return {}, np.zeros(len(sessions), dtype=bool)
    if "exercise" not in sessions.columns:
        return dict.fromkeys(groups, np.zeros(len(sessions), dtype=bool)), np.ones(len(sessions), dtype=bool)
    codes, found = coded(sessions["exercise"])
    names = np.array([name.strip().lower() for name in found], dtype=object)
    members = {}
    for group, exercises in groups.items():
        wanted = [exercise.strip().lower() for exercise in exercises]
        members[group] = (codes >= 0) & np.append(np.isin(names, wanted), False)[codes]
    return members, codes < 0


def state_column(trained: np.ndarray, rest: np.ndarray) -> pd.Series:
    """trained, rest or unknown for steps with any trained row, else any rest row, else neither."""
    return spread(STATES, np.where(trained, 0, np.where(rest, 1, 2)))
