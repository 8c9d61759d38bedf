"""Session rows -> what was trained in each step: state, load by every measure, effort."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from lagwise.core.columns import LOAD_MEASURES, STATES
from lagwise.core.study import Study
from lagwise.panel.clock import Grid, Records, numbers, spread
from lagwise.panel.sums import count, share, total

OF_SETS = ("sets", "reps", "tonnage", "hard_sets", "near_failure_sets")
"""Load measures that are made of sets, and so are 0 for a row with 0 sets whatever else is missing."""


def effort_of(sessions: pd.DataFrame) -> np.ndarray:
    """Effort of each session row; 10 - reps_in_reserve (not below 0) where only that was recorded."""
    effort = numbers(sessions, "effort")
    return np.where(np.isnan(effort), np.maximum(10 - numbers(sessions, "reps_in_reserve"), 0), effort)


def row_states(sessions: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Two bool arrays over session rows: trained (sets, minutes or load_kg above 0) and rest (sets = 0, not trained)."""
    sets = numbers(sessions, "sets")
    trained = (sets > 0) | (numbers(sessions, "minutes") > 0) | (numbers(sessions, "load_kg") > 0)
    return trained, (sets == 0) & ~trained


def row_loads(sessions: pd.DataFrame, study: Study) -> dict[str, np.ndarray]:
    """Load of each session row by every measure; missing where what the measure needs is missing.

    sets; reps = sets x reps; tonnage = sets x reps x load_kg; session_rpe = effort x minutes; hard_sets and
    near_failure_sets = sets at or above the study's hard and near-failure effort.
    """
    sets, reps, effort = numbers(sessions, "sets"), numbers(sessions, "reps"), effort_of(sessions)
    loads = {
        "sets": sets,
        "reps": sets * reps,
        "tonnage": sets * reps * numbers(sessions, "load_kg"),
        "session_rpe": effort * numbers(sessions, "minutes"),
        "hard_sets": _sets_from(sets, effort, study.load.hard_effort),
        "near_failure_sets": _sets_from(sets, effort, study.load.near_failure_effort),
    }
    _, rest = row_states(sessions)
    return {name: np.where((sets == 0) & (name in OF_SETS) | rest, 0.0, value) for name, value in loads.items()}


def _sets_from(sets: np.ndarray, effort: np.ndarray, least: float) -> np.ndarray:
    return np.where(np.isnan(effort), np.nan, sets * (effort >= least))


def training_steps(sessions: pd.DataFrame, at: Records, grid: Grid, study: Study) -> dict[str, np.ndarray | pd.Series]:
    """Columns of the blocks that come from session rows, one value per grid row.

    Returns
    -------
    dict
        recorded (trained, rest, unknown: as recorded, before `no_sessions_means`), n_sessions (distinct dates),
        load_<measure> and load_<measure>__<group> (missing when unknown or when any row of a trained step lacks
        what the measure needs, 0 at rest), effort, near_failure_share.
    """
    size = grid.size
    trained, rest = row_states(sessions)
    any_trained = count(at.row, size, trained) > 0
    any_rest = count(at.row, size, rest) > 0
    out: dict[str, np.ndarray | pd.Series] = {
        "recorded": state_column(any_trained, any_rest),
        "n_sessions": _distinct_days(at, grid),
    }
    loads = row_loads(sessions, study)
    members, unnamed = group_members(sessions, study.groups)
    for measure in LOAD_MEASURES:
        out[f"load_{measure}"] = _step_load(at.row, loads[measure], any_trained, any_rest)
        for group, member in members.items():
            part = np.where(member, loads[measure], np.where(unnamed & ~rest, np.nan, 0.0))
            out[f"load_{measure}__{group}"] = _step_load(at.row, part, any_trained, any_rest)
    return out | _step_effort(sessions, at.row, size, study)


def state_column(trained: np.ndarray, rest: np.ndarray) -> pd.Series:
    """trained, rest or unknown for steps with any trained row, else any rest row, else neither."""
    return spread(STATES, np.where(trained, 0, np.where(rest, 1, 2)))


def group_members(
    sessions: pd.DataFrame, groups: Mapping[str, tuple[str, ...]]
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Which rows belong to each exercise group, and which rows do not name their exercise."""
    if not groups:
        return {}, np.zeros(len(sessions), dtype=bool)
    if "exercise" not in sessions.columns:
        return dict.fromkeys(groups, np.zeros(len(sessions), dtype=bool)), np.ones(len(sessions), dtype=bool)
    codes, found = pd.factorize(sessions["exercise"].astype("str").str.strip().str.lower())
    names = np.asarray(found, dtype=object)
    members = {}
    for group, exercises in groups.items():
        wanted = [exercise.strip().lower() for exercise in exercises]
        members[group] = (codes >= 0) & np.append(np.isin(names, wanted), False)[codes]
    return members, codes < 0


def _step_load(row: np.ndarray, values: np.ndarray, trained: np.ndarray, rest: np.ndarray) -> np.ndarray:
    size = len(trained)
    complete = count(row, size, np.isnan(values)) == 0
    known = total(row, values, size)
    return np.where(trained, np.where(complete, known, np.nan), np.where(rest, 0.0, np.nan))


def _step_effort(sessions: pd.DataFrame, row: np.ndarray, size: int, study: Study) -> dict[str, np.ndarray]:
    sets, effort = numbers(sessions, "sets"), effort_of(sessions)
    weight = np.where(np.isnan(effort), 0.0, np.where(np.isnan(sets), 1.0, sets))
    rated_sets = np.where(np.isnan(effort), 0.0, np.nan_to_num(sets, nan=0.0))
    near = rated_sets * (effort >= study.load.near_failure_effort)
    return {
        "effort": share(total(row, weight * effort, size), total(row, weight, size)),
        "near_failure_share": share(total(row, near, size), total(row, rated_sets, size)),
    }


def _distinct_days(at: Records, grid: Grid) -> np.ndarray:
    """Distinct session dates per grid row."""
    offset = at.day - grid.anchor[at.person] - (at.row - grid.first[at.person]) * grid.step_days
    seen = np.zeros(grid.size * grid.step_days, dtype=bool)
    seen[at.row * grid.step_days + offset] = True
    return seen.reshape(grid.size, grid.step_days).sum(axis=1).astype("int64")
