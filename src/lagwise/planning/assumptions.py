"""What is assumed of people and records that do not exist yet, in plain names, and the process that follows
from it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from types import MappingProxyType
from typing import Any

from lagwise.core.errors import LagwiseError
from lagwise.core.study import Study
from lagwise.models.rows import planned_contrast
from lagwise.synthetic.spec import Spec
from lagwise.synthetic.truth import STRUCTURAL

RATINGS: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        "mixed": Spec().patterns,
        "daily": (1.0, 0.0, 0.0),
        "some_days": (0.0, 1.0, 0.0),
        "weekly": (0.0, 0.0, 1.0),
    }
)
"""Shares of people who rate daily, on three days and once a week, by name."""

SIMULATED = Study("").outcome
"""What the simulated weeks are asked: the question of a plan that says nothing else."""

_LEGAL: Mapping[str, tuple[float, float, str]] = MappingProxyType(
    {
        "missing_weeks": (0.0, 0.9, "a share from 0 to 0.9"),
        "feedback": (-0.5, 0.5, "a share from -0.5 to 0.5"),
        "leaving": (0.0, 0.2, "a share from 0 to 0.2"),
        "pain_level": (0.5, 8.0, "points from 0.5 to 8"),
        "pain_sd": (0.1, 3.0, "points from 0.1 to 3"),
        "weekly_rating_sd": (0.0, 2.0, "points from 0 to 2"),
        "daily_rating_sd": (0.0, 3.0, "points from 0 to 3"),
        "load_sd": (0.02, 1.0, "a share from 0.02 to 1"),
        "effect_sd": (0.0, 2.0, "points from 0 to 2"),
        "unrecorded": (-1.0, 1.0, "points from -1 to 1"),
    }
)
HIDDEN, RAISES = "stress", 0.2
"""The part of the process that stands for an unrecorded common cause, and by what share one SD of it raises
load."""


@dataclass(frozen=True)
class Assumptions:
    """What planning assumes and a user may know better; everything else is as in the synthetic clinic.

    `missing_weeks` share of weeks of which neither ratings nor training are written down, more often in weeks
    with more pain. `feedback` share by which load is lower per point of pain above the person's own level; 0
    means that load does not answer pain. `ratings` who rates how often: daily, some_days (three a week),
    weekly, or mixed (40, 30 and 30 of 100 people). `weekly_rating_sd` SD of one rating for a whole week
    around that week's pain, `daily_rating_sd` that of a day's rating, points, before rounding to whole
    points; how far days differ from their week is part of it. `leaving` share of people who stop recording in
    a week, from the seventh week on. `pain_level` mean pain of an average person, 0-10; `pain_sd` SD of what
    a week's pain does for no recorded reason, points. `load_sd` SD of load between weeks beside its plan, on
    the log scale (0.25 is about 25 %). `effect_sd` SD between people of the difference asked about, in points
    per contrast; for load only. `unrecorded` points by which one SD of something that nobody writes down, and
    that raises the same week's load by 20 %, raises next week's pain; 0 means that there is no such thing.

    Raises
    ------
    LagwiseError
        When a value is outside its legal range.
    """

    missing_weeks: float = 0.15
    feedback: float = 0.1
    ratings: str = "mixed"
    leaving: float = 0.01
    pain_level: float = 3.4
    pain_sd: float = 0.75
    load_sd: float = 0.25
    effect_sd: float = 0.12
    weekly_rating_sd: float = Spec().week_sd
    daily_rating_sd: float = Spec().day_sd
    unrecorded: float = 0.0

    def __post_init__(self) -> None:
        for name, (low, high, legal) in _LEGAL.items():
            value = getattr(self, name)
            if not (isinstance(value, int | float) and low <= value <= high):
                raise LagwiseError(f"{value!r} is no legal value", where=name, mend=f"Give {legal}.")
        if self.ratings not in RATINGS:
            raise LagwiseError(
                f"there is no such way of rating: {self.ratings!r}",
                where="ratings",
                mend=f"Use one of {', '.join(RATINGS)}.",
            )

    def plain(self) -> dict[str, Any]:
        """The assumptions as JSON-able values."""
        return asdict(self)


def require_usable(study: Study) -> None:
    """Stop where the simulator cannot speak for a study.

    Raises
    ------
    LagwiseError
        When the step is no week, or when the outcome, or what the primary exposure adds to it, is no part of
        the process.
    """
    if study.clock.step_days != 7:
        raise LagwiseError(
            f"records are simulated week by week, and this study's step is the {study.step}",
            where="[clock] step_days",
            mend="Plan with step_days = 7; check-ins may be daily within the week.",
        )  # fmt: skip
    asked = study.outcome
    if (asked.variable.name, asked.lag, asked.scale) != (SIMULATED.name, SIMULATED.lag, SIMULATED.scale):
        when = "the next week" if asked.lag else "the same week"
        scale = asked.span
        raise LagwiseError(
            f"records are simulated with {SIMULATED.name} of the next week, {SIMULATED.span}, and this study "
            f"asks about {asked.variable.label} of {when}, {scale}",
            where="[analysis] outcome",
            mend=f'Plan with outcome = "{SIMULATED.name}" of the next week on {SIMULATED.span}, '
            "lagwise's default.",
        )  # fmt: skip
    if study.analysis.primary not in STRUCTURAL:
        raise LagwiseError(
            f"the simulated weeks give {study.analysis.primary} no part in pain, so there is nothing to "
            "plan for",
            where="[analysis] primary", mend=f"Use one of {', '.join(STRUCTURAL)}.",
        )  # fmt: skip
    if planned_contrast(study)[1] == 0:
        raise LagwiseError(
            "a contrast of 0 compares nothing",
            where="[analysis] primary_contrast",
            mend="Give another number.",
        )


def process_of(assumptions: Assumptions, study: Study, people: int, weeks: int, effect: float) -> Spec:
    """The generating process of one cell of the grid.

    The primary exposure adds `effect` points per primary contrast, and nothing by another way: exposures that
    the study does not ask about have no part in pain. Gaps are whole weeks (`lagwise.planning.simulate`), so
    the process itself loses nothing.

    Raises
    ------
    LagwiseError
        For an unrecorded common cause in a study that records it.
    """
    size = planned_contrast(study)[1]
    asked = {
        name: getattr(Spec(), field) for name, field in STRUCTURAL.items() if name in study.analysis.exposures
    }
    parts = {field: asked.get(name, 0.0) for name, field in STRUCTURAL.items()}
    parts[STRUCTURAL[study.analysis.primary]] = effect / size
    if assumptions.unrecorded:
        if HIDDEN in asked:
            raise LagwiseError(
                f"what nobody writes down is simulated as {HIDDEN}, which this study asks about",
                where="unrecorded",
                mend="Leave it out of [analysis] exposures, or give 0.",
            )
        one = Spec().stress_sd / math.sqrt(1 - Spec().stress_memory ** 2)
        parts |= {STRUCTURAL[HIDDEN]: assumptions.unrecorded / one, "stress_cut": -math.log1p(RAISES) / one}
    load = study.variables[study.analysis.primary].whole
    return replace(
        Spec(),
        n_people=people, n_steps=weeks, usual_steps=study.load.usual_steps, **parts,
        of_jump_sd=abs(assumptions.effect_sd / size) if load else 0.0,
        feedback=-math.log1p(-assumptions.feedback), load_sd=assumptions.load_sd,
        pain_level=assumptions.pain_level, pain_sd=assumptions.pain_sd, patterns=RATINGS[assumptions.ratings],
        week_sd=assumptions.weekly_rating_sd, day_sd=assumptions.daily_rating_sd,
        dropout=assumptions.leaving, missing=0.0, unlogged=0.0,
    )  # fmt: skip
