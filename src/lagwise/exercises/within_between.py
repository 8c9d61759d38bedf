"""Task 4: a person against themselves, and people against each other."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.core.words import exposure_label
from lagwise.exercises.task import Found
from lagwise.exercises.world import World
from lagwise.say.exercises import means

PREFERRED = "stress"
FEWEST = 8
"""Ratings of a person whose mean is worth setting against others'."""


def exposure(world: World) -> str:
    """The exposure the task is about: stress where the plan has it, else the first with within and between
    parts.
    """
    variables, frame = world.study.variables, world.frame
    terms = [t for t in world.study.analysis.exposures if not variables[t].whole and frame[t].notna().any()]
    if not terms:
        raise LagwiseError(
            "its plan names no exposure with a within- and a between-person part that was recorded"
        )
    return PREFERRED if PREFERRED in terms else terms[0]


def _label(world: World) -> str:
    return exposure_label(exposure(world), world.study.variables)


def _numbers(world: World) -> dict[str, float]:
    """One rating, that person's mean, and two means over everybody.

    The person and step are the first where the two parts have different signs and are clear, so that they
    cannot be mixed up.
    """
    term, frame = exposure(world), world.frame
    within, between = frame[f"{term}_within"], frame[f"{term}_between"]
    n, rated = frame.groupby("person")[term].transform("count"), frame[term].notna()
    if frame["person"][rated].nunique() < 2:
        raise LagwiseError(
            f"{_label(world)} of fewer than two people is known, and nobody can be set against others"
        )
    clear = (
        within * between < 0,
        within.abs() >= within.std(),
        between.abs() >= between.std() / 2,
        n.ge(FEWEST),
    )
    ranks = sum(one.astype(int) for one in clear)
    at = int(np.argmax(np.where(rated, ranks, -1)))
    row = frame.iloc[at]
    own = frame.groupby("person")[term].mean().dropna()
    found = {
        "rating": row[term],
        "own": own[row["person"]],
        "people": own.mean(),
        "steps": frame[term].mean(),
    }
    found |= {"step": row["step"], "n": n.iloc[at], "n_people": len(own)}
    return {name: float(value) for name, value in found.items()}


def given(world: World) -> pd.DataFrame:
    """The four numbers that the two parts are made of."""
    v = _numbers(world)
    rows = [(what, v[name]) for name, what in means(_label(world), world.step, v).items()]
    return pd.DataFrame(rows, columns=["what", "value"]).round(2)


def within(world: World) -> Found:
    """Within part: the rating less the person's own mean."""
    v = _numbers(world)
    rating, own, people = v["rating"], v["own"], v["people"]
    slips = {"between": own - people, "everybody": rating - people, "all_steps": rating - v["steps"]}
    slips |= {"rating": rating, "own": own}
    return Found(rating - own, slips, {"side": "above" if rating > own else "below"})


def between(world: World) -> Found:
    """Between part: the person's mean less the mean over people."""
    v = _numbers(world)
    rating, own, people = v["rating"], v["own"], v["people"]
    slips = {"within": rating - own, "all_steps": own - v["steps"], "everybody": rating - people}
    slips |= {"own": own, "people": people}
    return Found(own - people, slips, {"side": "above" if own > people else "below"})


def estimate(world: World) -> Found:
    """The within-person difference in next pain per unit, adjusted, in the primary model."""
    held, other = world.held(world.fit)

    def of(level: str, adjustment: str = "adjusted", pain: str = held) -> float:
        where: dict[str, Any] = {
            "term": exposure(world),
            "contrast": "per unit",
            "scale": "points",
            "level": level,
        }
        return world.estimate(world.fit, **where, adjustment=adjustment, pain_adjusted=pain)

    value = of("within")
    if np.isnan(value):
        raise LagwiseError(f"its model has no within-person estimate of {_label(world)}")
    slips = {
        "between": [of("between"), of("between", "crude")],
        "crude": of("within", "crude"),
        "other": of("within", pain=other),
    }
    return Found(value, slips)
