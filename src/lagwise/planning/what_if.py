"""One simulated record under settings that a reader moves, and what many records like it give."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.models.design import design
from lagwise.planning.assumptions import Assumptions
from lagwise.planning.grid import CHUNK, tasks_of
from lagwise.planning.ratings import caseloads_of
from lagwise.planning.simulate import ANSWER_COLUMNS, Task, answers_of, panel_of_many, simulate
from lagwise.planning.summary import summary

RANGES: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        "people": (6, 60, 1),
        "weeks": (10, 104, 1),
        "missing_weeks": (0.0, 0.6, 0.05),
        "difference": (-0.6, 0.6, 0.05),
        "feedback": (0.0, 0.4, 0.05),
        "rating_error": (0.0, 1.5, 0.1),
        "unrecorded": (-0.6, 0.6, 0.1),
    }
)
"""Least and largest value of each setting, and the step between its values."""
RECORDS, FEWEST = 50, 10
"""Records simulated at once, and where they are large."""
_PLAIN = Study("")
STUDY = _PLAIN.with_(exposures=[_PLAIN.analysis.primary])
"""Load alone is asked about, so that nothing else that moves it is recorded."""
KEPT = ("mean", "mean_error", "width", "width_error", "coverage", "coverage_error", "p_excludes_zero",
        "p_excludes_zero_error", "person_weeks")  # fmt: skip


@dataclass(frozen=True)
class Settings:
    """What can be moved; everything else is as in `Assumptions`, one rating at the end of each week, and
    nobody leaves.

    `people`, `weeks` of the record; `missing_weeks` share of weeks not written down; `difference` true
    difference of next week's pain, points per contrast; `feedback` share by which load is lower per point of
    pain above the person's own level; `rating_error` SD of a rating around the week's pain, points, before
    rounding; `unrecorded` points that one SD of an unrecorded common cause adds (`Assumptions`).

    Raises
    ------
    LagwiseError
        When a value is outside its range.
    """

    people: int = 20
    weeks: int = 26
    missing_weeks: float = 0.15
    difference: float = 0.0
    feedback: float = 0.0
    rating_error: float = 0.3
    unrecorded: float = 0.0

    def __post_init__(self) -> None:
        for name, (low, high, _) in RANGES.items():
            value = getattr(self, name)
            if not (isinstance(value, int | float) and low <= value <= high):
                raise LagwiseError(
                    f"{value!r} is no legal value", where=name, mend=f"Give {low:g} to {high:g}."
                )

    def moved(self, **changed: float) -> Settings:
        """With some values moved, each to the nearest that its range has.

        Raises
        ------
        LagwiseError
            For a name that is no setting.
        """
        if unknown := ", ".join(sorted(set(changed) - set(RANGES))):
            raise LagwiseError(f"there is no setting {unknown}", mend=f"Use {', '.join(RANGES)}.")
        held: Any = {name: nearest(name, value) for name, value in changed.items()}
        return replace(self, **held)

    @property
    def assumptions(self) -> Assumptions:
        """The same as assumptions of a plan."""
        return Assumptions(
            missing_weeks=self.missing_weeks, feedback=self.feedback, weekly_rating_sd=self.rating_error,
            unrecorded=self.unrecorded, ratings="weekly", leaving=0.0,
        )  # fmt: skip


@dataclass(frozen=True)
class WhatIf:
    """What a record under given settings tells, and records like it.

    `estimate`, `low` and `high` in points per contrast (NaN where nothing is estimated), `truth` the
    difference put in; `people` and `steps` that enter the model. `records` has one row for each record drawn,
    this one first: estimate, low, high. `panel` is this record's.
    """

    settings: Settings
    seed: int
    estimate: float
    low: float
    high: float
    people: int
    steps: int
    records: pd.DataFrame = field(repr=False)
    panel: Panel = field(repr=False)

    @property
    def truth(self) -> float:
        """The difference put in, points per contrast."""
        return self.settings.difference


def nearest(name: str, value: float) -> float:
    """The value of a setting's range that lies nearest."""
    low, high, step = RANGES[name]
    found = round(low + step * round((min(max(value, low), high) - low) / step), 2) + 0.0
    return int(found) if isinstance(step, int) else found


def like(panel: Panel) -> Settings:
    """Settings with the size of a record: its people, the median steps of a person, and the share of steps
    without outcome or load.
    """
    frame, asked = panel.frame, panel.study.outcome
    steps = frame.groupby("person").size()
    if not len(steps):
        raise LagwiseError("with nobody in the panel there is no size to begin with", where="panel")
    told = ["load", asked.name] if frame["load"].notna().any() else [asked.name]
    lost = frame[told].isna().any(axis=1)
    return Settings().moved(people=len(steps), weeks=steps.median(), missing_weeks=float(lost.mean()))


def what_if(settings: Settings, seed: int = 1, records: int = RECORDS) -> WhatIf:
    """Draw records under these settings and read each by the mixed model, ratings as they are.

    Parameters
    ----------
    settings : Settings
    seed : int
    records : int
        How many, this one among them; fewer, but no less than 10, where they are large.
    """
    s = settings
    n = min(records, max(FEWEST, CHUNK // (s.people * s.weeks)))
    task = Task(s.people, s.weeks, s.difference, n, np.random.SeedSequence(seed))
    every = panel_of_many(STUDY, s.assumptions, task)
    found = pd.DataFrame(answers_of(STUDY, every, task), columns=list(ANSWER_COLUMNS))
    (own,) = caseloads_of(every, s.people, 1)
    first = {name: float(found[name].iloc[0]) for name in ("estimate", "low", "high")}
    try:
        rows = design(own)
        people, steps = rows.n_people, rows.n_steps
    except ModelError:
        people = steps = 0
    return WhatIf(s, seed, **first, people=people, steps=steps, records=found, panel=own)


def cells() -> list[tuple[str, Settings]]:
    """The precomputed grid: what was moved, and the settings. Each setting by itself; then weeks where load
    answers pain and ratings are coarse.
    """
    alone: dict[str, tuple[float, ...]] = {
        "people": (8, 20, 40),
        "weeks": (13, 26, 52),
        "missing_weeks": (0.0, 0.15, 0.3, 0.45),
        "difference": (0.0, 0.25, 0.5),
        "feedback": (0.0, 0.15, 0.3),
        "rating_error": (0.0, 0.5, 1.0),
        "unrecorded": (-0.4, 0.0, 0.4),
    }
    found = [(name, Settings().moved(**{name: v})) for name, values in alone.items() for v in values]
    return found + [
        ("together", Settings(weeks=w, feedback=0.3, rating_error=1.0)) for w in (13, 26, 52, 104)
    ]


def cell(settings: Settings, caseloads: int = 400, seed: int = 1) -> dict[str, Any]:
    """What many records under these settings give: the settings, and the `KEPT` columns of `plan`'s table,
    mean_error in the place of bias_error.
    """
    s = settings
    size = (s.people, s.weeks, s.difference)
    parts = [simulate(STUDY, s.assumptions, task) for task in tasks_of(size, caseloads, seed)]
    row = summary(size, pd.concat(parts, ignore_index=True), STUDY.outcome.zero)
    row["mean_error"] = row["bias_error"]
    told = {name: round(float(row[name]), 3) for name in KEPT}  # type: ignore[arg-type]
    return {**asdict(s), "caseloads": caseloads, **told}
