"""The calendar: who has which steps, and into which step every record falls."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lagwise.core.errors import PanelError
from lagwise.core.legal import WEEKDAYS
from lagwise.core.numbers import whole
from lagwise.core.study import Clock
from lagwise.panel.arrays import day_numbers, spread

MOST_STEPS = 2_000_000
_EPOCH_WEEKDAY = 3  # 1970-01-01 was a Thursday


@dataclass(frozen=True)
class Grid:
    """Every calendar step between each person's first and last record.

    `people` (m,) sorted codes; `anchor` (m,) day number (days since 1970-01-01) on which step 0 starts;
    `first` (m,) row of step 0; `steps` (m,) number of steps; `step_days` length of a step. Rows run by
    person, then step.
    """

    people: np.ndarray
    anchor: np.ndarray
    first: np.ndarray
    steps: np.ndarray
    step_days: int

    @property
    def size(self) -> int:
        """Number of person-steps."""
        return int(self.steps.sum())

    @property
    def person(self) -> np.ndarray:
        """(size,) index into `people` of every row."""
        return np.repeat(np.arange(len(self.people)), self.steps)

    @property
    def step(self) -> np.ndarray:
        """(size,) 0-based step of every row."""
        return np.arange(self.size) - np.repeat(self.first, self.steps)

    @property
    def start_day(self) -> np.ndarray:
        """(size,) day number on which every row's step starts."""
        return np.repeat(self.anchor, self.steps) + self.step * self.step_days

    def rows(self, person: np.ndarray, day: np.ndarray) -> np.ndarray:
        """Row of the step in which each record falls; `person` and `day` as in `Records`."""
        return self.first[person] + (day - self.anchor[person]) // self.step_days

    def frame(self, columns: Mapping[str, np.ndarray | pd.Series], source: str) -> pd.DataFrame:
        """Blocks: person, step and step_start, then the columns given, then where they come from."""
        return pd.DataFrame(
            {
                "person": spread(self.people, self.person),
                "step": self.step.astype("int64"),
                "step_start": self.start_day.astype("datetime64[D]").astype("datetime64[us]"),
                **columns,
                "source": spread([source], np.zeros(self.size, dtype="int64")),
            },
            copy=False,
        )


@dataclass(frozen=True)
class Records:
    """Where a table's rows stand: `person` index into the grid's people, `day` number, `row` of the grid."""

    person: np.ndarray
    day: np.ndarray
    row: np.ndarray


def lay_grid(clock: Clock, tables: list[tuple[pd.Series, pd.Series]]) -> tuple[Grid, list[Records]]:
    """The grid of all people and the place of every record.

    Parameters
    ----------
    clock : Clock
        A step is `step_days` days. When that is a multiple of 7, step 0 starts on the last `week_starts` at
        or before the person's first record; else on the day of the first record.
    tables : list of (person codes, dates)
        Together they fix each person's first and last step.

    Raises
    ------
    PanelError
        When no table has a row, or records go over more than 2,000,000 steps.
    """
    if not any(len(codes) for codes, _ in tables):
        raise PanelError(
            "no person has a row",
            where="caseload",
            mend="Add check-ins, sessions or weeks, or mend the rows in quarantine.",
        )
    coded = [pd.factorize(codes.astype("str")) for codes, _ in tables]
    people = np.unique(np.concatenate([np.asarray(names, dtype=object) for _, names in coded]).astype(str))
    person = [
        np.searchsorted(people, np.asarray(names, dtype=str))[codes] if len(names) else codes
        for codes, names in coded
    ]
    days = [day_numbers(dates) for _, dates in tables]
    low = np.full(len(people), np.iinfo(np.int64).max)
    high = np.full(len(people), np.iinfo(np.int64).min)
    for p, d in zip(person, days, strict=True):
        np.minimum.at(low, p, d)
        np.maximum.at(high, p, d)
    if clock.step_days % 7 == 0:
        low = low - (low + _EPOCH_WEEKDAY - WEEKDAYS.index(clock.week_starts)) % 7
    steps = (high - low) // clock.step_days + 1
    if steps.sum() > MOST_STEPS:
        longest = int(np.argmax(steps))
        first, last = (str(np.datetime64(int(day[longest]), "D")) for day in (low, high))
        raise PanelError(
            f"the records of {whole(len(people))} people go over {whole(int(steps.sum()))} steps "
            f"of {clock.step_days} days; at most {whole(MOST_STEPS)} are made",
            where="caseload",
            mend=f"Look for mistyped dates (the longest record, of {people[longest]}, goes from {first} to "
            f"{last}), choose longer steps, or keep fewer people.",
        )
    grid = Grid(
        people.astype(object), low, np.concatenate([[0], np.cumsum(steps)[:-1]]), steps, clock.step_days
    )
    return grid, [Records(p, d, grid.rows(p, d)) for p, d in zip(person, days, strict=True)]
