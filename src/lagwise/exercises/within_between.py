"""Task 4: a person against themselves, and people against each other."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.core.terms import EXPOSURES
from lagwise.core.words import exposure_label
from lagwise.exercises.task import Key, Part, Slip, Task
from lagwise.exercises.world import World

PREFERRED = "stress"
FEWEST = 8
"""Ratings of a person whose mean is worth setting against others'."""


def exposure(world: World) -> str:
    """The exposure the task is about: stress where the plan has it, else the first that has within and between parts."""
    terms = [
        t for t in world.study.analysis.exposures if not EXPOSURES[t].whole and world.frame[t].notna().any()
    ]
    if not terms:
        raise LagwiseError(
            "its plan names no exposure with a within- and a between-person part that was recorded"
        )
    return PREFERRED if PREFERRED in terms else terms[0]


def _numbers(world: World) -> dict[str, float]:
    """One rating, that person's mean, and two means over everybody.

    The person and step chosen are the first where the two parts have different signs and are clear, so that they cannot be mixed up.
    """
    term, frame = exposure(world), world.frame
    within, between = frame[f"{term}_within"], frame[f"{term}_between"]
    n = frame.groupby("person")[term].transform("count")
    if frame["person"][frame[term].notna()].nunique() < 2:
        raise LagwiseError(
            f"{exposure_label(term)} of fewer than two people is known, and nobody can be set against others"
        )
    rated = frame[term].notna()
    ranks = (
        (within * between < 0).astype(int) + (within.abs() >= within.std()).astype(int) + (between.abs() >= between.std() / 2).astype(int) + n.ge(FEWEST).astype(int)
    )  # fmt: skip
    at = int(np.argmax(np.where(rated, ranks, -1)))
    row = frame.iloc[at]
    means = frame.groupby("person")[term].mean().dropna()
    return {
        "rating": float(row[term]), "own": float(means[row["person"]]), "people": float(means.mean()),
        "steps": float(frame[term].mean()), "step": float(row["step"]), "n": float(n.iloc[at]), "n_people": float(len(means)),
    }  # fmt: skip


def table(world: World) -> pd.DataFrame:
    """The four numbers that the two parts are made of."""
    v, step, name = _numbers(world), world.step, exposure_label(exposure(world))
    rows = [
        (f"{name} of one person in {step} {v['step']:.0f}", v["rating"]),
        (f"mean of this person's {v['n']:.0f} {step}s", v["own"]),
        (f"mean of the means of {v['n_people']:.0f} people, each counted once", v["people"]),
        (f"mean of all {step}s of everybody", v["steps"]),
    ]
    return pd.DataFrame(rows, columns=["what", "value"]).round(2)


def within(world: World) -> Key:
    """Within part: the rating less the person's own mean; within 0.02."""
    v, step = _numbers(world), world.step
    slips = (
        Slip(v["own"] - v["people"], "This is the between part: it sets the person against the others. Within sets one " + step + " against the same person's others."),
        Slip(v["rating"] - v["people"], f"The {step} was set against everybody. Both the person and the {step} are then in one number."),
        Slip(v["rating"] - v["steps"], f"The {step} was set against all {step}s of everybody."),
        Slip(v["rating"], "This is the rating as it is, set against nothing yet."),
        Slip(v["own"], "This is the person's mean, with which the rating is compared."),
    )  # fmt: skip
    side = "above" if v["rating"] > v["own"] else "below"
    return Key(v["rating"] - v["own"], f"In that {step} the person was {side} their own mean.", slips, 0.02)


def between(world: World) -> Key:
    """Between part: the person's mean less the mean over people; within 0.02."""
    v, step = _numbers(world), world.step
    slips = (
        Slip(v["rating"] - v["own"], f"This is the within part: it sets one {step} against the same person's others. Between sets people against each other."),
        Slip(v["own"] - v["steps"], f"Every {step} was counted once, so people with a long record counted more. Here each person counts once."),
        Slip(v["rating"] - v["people"], f"This begins from one {step}. What a person is like in general is their mean."),
        Slip(v["own"], "This is the person's mean, compared with nothing yet."),
        Slip(v["people"], "This is the mean over people, with which the person is compared."),
    )  # fmt: skip
    side = "above" if v["own"] > v["people"] else "below"
    return Key(v["own"] - v["people"], f"This person's mean lies {side} that of people here.", slips, 0.02)


def estimate(world: World) -> Key:
    """The within-person difference in next pain per unit, adjusted, in the primary model; within 0.0015."""
    term, fit, step = exposure(world), world.fit, world.step
    held = fit.settings["pain_adjusted"]

    def found(**where: Any) -> float:
        row = world.row(term=term, contrast="per unit", scale="points", **where)
        return float("nan") if row is None else float(row["estimate"])

    value = found(level="within", adjustment="adjusted", pain_adjusted=held)
    if np.isnan(value):
        raise LagwiseError(f"its model has no within-person estimate of {exposure_label(term)}")
    other = "before" if held == "during" else "during"
    slips = (
        Slip(found(level="between", adjustment="adjusted", pain_adjusted=held), f"This row compares people with each other. The question is about the same person in one {step} and in another."),
        Slip(found(level="between", adjustment="crude", pain_adjusted=held), f"This row compares people with each other. The question is about the same person in one {step} and in another."),
        Slip(found(level="within", adjustment="crude", pain_adjusted=held), "This row is crude: the other exposures are not held equal in it."),
        Slip(found(level="within", adjustment="adjusted", pain_adjusted=other), "In this row another pain is held equal than the plan asks for."),
    )  # fmt: skip
    return Key(
        value,
        f"So many points of next pain for each unit above the person's own mean. It compares a person's {step}s, and never people.",
        slips,
        0.0015,
    )


TASK = Task(
    4,
    "Within and between people",
    table,
    (Part("within", "number", within), Part("between", "number", between), Part("estimate", "number", estimate)),
    (
        "Two questions hide in one rating. Is this a high week for this person? And is this a person with high weeks in general?",
        "Within: the rating less the person's own mean. Between: the person's own mean less the mean over people. The two add up to the distance from that mean.",
        "Another person, other numbers. A rating of 7, an own mean of 4, and a mean over people of 5. Within is 7 - 4 = +3: a high week for this person. "
        "Between is 4 - 5 = -1: a person somewhat below the others. In a table of effects, the column level says which of the two a row is about.",
    ),
)  # fmt: skip
