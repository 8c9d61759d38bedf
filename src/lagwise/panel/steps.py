"""Session rows -> what was trained in each step: state, load by every measure, effort, the first session."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from lagwise.core.columns import LOAD_MEASURES, STATES
from lagwise.core.study import Study
from lagwise.panel.arrays import coded, minutes_of_day, numbers, share, spread
from lagwise.panel.clock import Grid
from lagwise.panel.ratings import FirstSessions

_NO_MINUTE = 1440
_NEVER = np.iinfo(np.int64).max
OF_SETS = ("sets", "reps", "tonnage", "hard_sets", "near_failure_sets")
"""Load measures that are made of sets, and so are 0 for a row with 0 sets whatever else is missing."""


class TrainingSteps:
    """The training of every step of a grid, gathered from session rows that may come in several parts.

    `add` the parts in any order, then take `first_sessions` and `columns`, each once.
    """

    def __init__(self, grid: Grid, study: Study) -> None:
        # Step by step over all people where that wastes little room: files are mostly in order of date, so
        # the sums of neighbouring rows lie close together: a third of the time for millions of rows.
        widest = int(grid.steps.max(initial=0))
        by_step = len(grid.people) * widest <= 1.5 * grid.size
        size = len(grid.people) * widest if by_step else grid.size
        self._stride = len(grid.people) if by_step else 1
        self._origin = np.arange(len(grid.people)) if by_step else grid.first
        self._order = self._origin[grid.person] + grid.step * self._stride
        self._grid, self._study = grid, study
        self._trained, self._rest, self._unnamed = (np.zeros(size, dtype=bool) for _ in range(3))
        self._days = np.zeros(size * grid.step_days, dtype=bool)
        self._opening: np.ndarray | None = None
        # Only a plan that asks for the measured load has read the column that it stands in.
        own = study.load.measure
        self._measures = [m for m in LOAD_MEASURES if m != "measured" or own == "measured"]
        self._loads = {measure: _Sum(size) for measure in self._measures}
        self._parts = {(measure, group): _Sum(size) for measure in self._measures for group in study.groups}
        self._effort, self._sets, self._others = np.zeros(size), np.zeros(size), np.zeros(size)

    def add(
        self, sessions: pd.DataFrame, person: np.ndarray, day: np.ndarray, lost: np.ndarray | None = None
    ) -> None:
        """Counts rows in: a table of sessions, and of each row the index of its person in the grid and its
        day number.

        `lost` marks rows of which something was set aside while reading: they count as trained, and what was
        set aside is missing from their step's load.
        """
        since = day - self._grid.anchor[person]
        step = since // self._grid.step_days
        on = since - step * self._grid.step_days
        row = self._origin[person] + step * self._stride
        trained, rest = row_states(sessions, lost)
        self._trained[_where(row, trained)] = True
        self._rest[_where(row, rest)] = True
        self._days[row * self._grid.step_days + on] = True
        if "time" in sessions.columns:
            self._add_times(minutes_of_day(sessions), row, on)

        loads = row_loads(sessions, self._study, rest)
        members, unnamed = group_members(sessions, self._study.groups)
        self._unnamed[_where(row, unnamed & ~rest)] = True
        for measure in self._measures:
            self._loads[measure].add(row, loads[measure])
            for group, member in members.items():
                self._parts[measure, group].add(row[member], loads[measure][member])

        effort, sets = effort_of(sessions), loads["sets"]
        rated, counted = ~np.isnan(effort), ~np.isnan(sets)
        weight = np.where(rated & counted, sets, 0.0)
        np.add.at(self._sets, row, weight)
        if not counted.all():
            other = rated & ~counted
            np.add.at(self._others, row[other], 1.0)
            weight[other] = 1.0
        np.add.at(self._effort, row, weight * np.where(rated, effort, 0.0))

    def first_sessions(self) -> FirstSessions:
        """Of every step the day and minute of its first session."""
        days = self._days_held()
        there = days.any(axis=1)
        minute = np.full(self._grid.size, np.nan)
        if self._opening is not None:
            opening = self._of_rows(self._opening)
            timed = there & (opening % (_NO_MINUTE + 1) < _NO_MINUTE)
            minute[timed] = opening[timed] % (_NO_MINUTE + 1)
        return FirstSessions(self._grid.start_day + days.argmax(axis=1), minute, there)

    def columns(self) -> dict[str, np.ndarray | pd.Series]:
        """Columns of the blocks that come from session rows, one value per grid row.

        Returns
        -------
        dict
            recorded (trained, rest, unknown: as recorded, before `no_sessions_means`), n_sessions (distinct
            dates), load_<measure> and load_<measure>__<group> (missing when unknown or when any row of a
            trained step lacks what the measure needs, 0 at rest), effort, near_failure_share.
        """
        trained, rest, unnamed = map(self._of_rows, (self._trained, self._rest, self._unnamed))
        sets, near = self._of_rows(self._sets), self._of_rows(self._loads["near_failure_sets"].known)
        out: dict[str, np.ndarray | pd.Series] = {
            "recorded": state_column(trained, rest),
            "n_sessions": self._days_held().sum(axis=1, dtype="int64"),
        }
        for measure in self._measures:
            out[f"load_{measure}"] = self._load(self._loads[measure], trained, rest)
            for group in self._study.groups:
                part = self._parts[measure, group]
                out[f"load_{measure}__{group}"] = self._load(part, trained, rest, unnamed)
        weight = sets + self._of_rows(self._others)
        return out | {
            "effort": share(self._of_rows(self._effort), weight),
            "near_failure_share": share(near, sets),
        }

    def _of_rows(self, kept: np.ndarray) -> np.ndarray:
        """What is kept of each step, in the grid's order."""
        rows: np.ndarray = kept[self._order]
        return rows

    def _days_held(self) -> np.ndarray:
        """(size, step_days) days of every step with a session."""
        return self._of_rows(self._days.reshape(-1, self._grid.step_days))

    def _load(
        self, total: _Sum, trained: np.ndarray, rest: np.ndarray, unclear: np.ndarray | None = None
    ) -> np.ndarray:
        """The sum where trained and complete, 0 at rest, else missing."""
        load, lacks = self._of_rows(total.known), self._of_rows(total.lacks)
        load[~trained | (lacks if unclear is None else lacks | unclear)] = np.nan
        load[rest & ~trained] = 0.0
        return load

    def _add_times(self, minute: np.ndarray, row: np.ndarray, on: np.ndarray) -> None:
        if self._opening is None:
            self._opening = np.full(len(self._trained), _NEVER)
        told = np.where(np.isnan(minute), _NO_MINUTE, minute).astype("int64")
        np.minimum.at(self._opening, row, on * (_NO_MINUTE + 1) + told)


class _Sum:
    """The known part of a sum per step, and where something was lacking."""

    def __init__(self, size: int) -> None:
        self.known = np.zeros(size)
        self.lacks = np.zeros(size, dtype=bool)

    def add(self, row: np.ndarray, values: np.ndarray) -> None:
        missing = np.isnan(values)
        if missing.any():
            self.lacks[row[missing]] = True
            row, values = row[~missing], values[~missing]
        np.add.at(self.known, row, values)


def _where(row: np.ndarray, picked: np.ndarray) -> np.ndarray:
    return row if picked.all() else row[picked]


def effort_of(sessions: pd.DataFrame) -> np.ndarray:
    """Effort of each session row; 10 - reps_in_reserve (not below 0) where only that was recorded."""
    effort = numbers(sessions, "effort")
    if "reps_in_reserve" not in sessions.columns:
        return effort
    return np.where(np.isnan(effort), np.maximum(10 - numbers(sessions, "reps_in_reserve"), 0), effort)


def row_states(sessions: pd.DataFrame, lost: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Two bool arrays over session rows, trained and rest; a row that is neither records nothing.

    Trained: sets, minutes, load_kg or measured load above 0, or, where sets and measured load are not
    recorded, effort or reps above 0 or any reps in reserve. Rest: sets, measured load, minutes or effort of
    0, and not trained. A row of which something was
    set aside (`lost`) recorded something: it is trained.
    """
    sets, minutes = numbers(sessions, "sets"), numbers(sessions, "minutes")
    load = numbers(sessions, "load")
    trained = (sets > 0) | (minutes > 0) | (numbers(sessions, "load_kg") > 0) | (load > 0)
    rest = ((sets == 0) | (load == 0)) & ~trained
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
    near_failure_sets = sets at or above the study's hard and near-failure effort; measured = load.
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
        "measured": numbers(sessions, "load"),
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
    wanted = {group: [e.strip().lower() for e in exercises] for group, exercises in groups.items()}
    members = {group: np.append(np.isin(names, of), False)[codes] for group, of in wanted.items()}
    return members, codes < 0


def state_column(trained: np.ndarray, rest: np.ndarray) -> pd.Series:
    """trained, rest or unknown for steps with any trained row, else any rest row, else neither."""
    return spread(STATES, np.where(trained, 0, np.where(rest, 1, 2)))
