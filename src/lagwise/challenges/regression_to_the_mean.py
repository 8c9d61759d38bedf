"""The change after a bad step that a person's ordinary ups and downs would bring by themselves."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Found, intervals
from lagwise.challenges.estimate import middle, side
from lagwise.core.claim import Measured, said
from lagwise.core.errors import ModelError
from lagwise.core.numbers import plural
from lagwise.core.question import Outcome
from lagwise.core.study import Study
from lagwise.panel.derive import person_index, shifted

WAYS = ("carry-over", "way in")
NAME = "regression_to_the_mean"
LEAST_STEPS, LEAST_PEOPLE = 10, 5


def applies(study: Study) -> str:
    """Why it has nothing to ask of a study; empty where one end of the outcome's scale is the worse one."""
    asked = study.outcome.variable
    return said("challenge.no_worse", label=asked.label, name=asked.name) if asked.worse == "neither" else ""


def run(context: Context) -> Found:
    """Bad: {outcome} at least `flare_rise` points above the person's own mean. The change by the next {step}
    that needs no cause is reckoned in two ways. From carry-over: (carry-over - 1) x distance from the mean,
    the carry-over (slope of the next {outcome} on this one, within people) taken from the other {steps};
    right where large and small deviations last alike. From the way in: minus the change from the {step}
    before; right where ups and downs look the same backwards, as when bad stretches last several {steps} or
    ratings scatter. Intervals from resampling people, `draws` times.

    Verdict, by observed minus expected change: does_not_hold when both intervals leave out 0 on the same
    side; holds when one of them includes 0 and lies within +/- the important change, or they leave out 0 on
    opposite sides (the change lies between the two); else cannot_tell.
    """
    step, outcome = context.panel.study.step, context.outcome
    rows, bad, person = triples(context.panel.frame, outcome)
    followed = bad & np.isfinite(rows[:, 1])
    n_bad, n_people = int(followed.sum()), len(np.unique(person[followed]))
    if n_bad < LEAST_STEPS or n_people < LEAST_PEOPLE:
        seen = f"{plural(n_bad, f'bad {step}')} of {plural(n_people, 'person', 'people')}"
        raise ModelError(
            f"{seen} with the {step} after known; at least {LEAST_STEPS}, of at least {LEAST_PEOPLE} people, "
            "are needed"
        )
    m = int(person.max()) + 1
    sums = per_person(rows, bad, person, m)
    point = {k: float(v[0]) for k, v in changes(sums, np.ones((1, m))).items()}
    many, unit = changes(sums, context.resampled(NAME, m)), context.unit
    found = {k: Measured(point[k], unit, *middle(many[k])) for k in ("observed", *WAYS)}
    gaps = {
        f"{k} gap": Measured(point["observed"] - point[k], unit, *middle(many["observed"] - many[k]))
        for k in WAYS
    }
    verdict = judged([(g.low, g.high) for g in gaps.values()], outcome.important)
    less = (gaps["carry-over gap"].value > 0) != (outcome.variable.worse == "low")
    slope = Measured(point["slope"], f"{unit} per {outcome.variable.unit}")
    known = int(np.isfinite(rows[:, 1]).sum())
    count_bad = Measured(n_bad, f"of {known}", people=n_people, steps=n_bad)
    told = found | gaps | {"slope": slope, "bad": count_bad}
    claim = context.claim(NAME, verdict, "less" if less else "further", **told)
    return Found(claim, intervals(claim, *found, *gaps))


def judged(around: list[tuple[float, float]], edge: float) -> str:
    """The verdict from the intervals of observed minus expected change and the important change."""
    sides = [side(low, high) for low, high in around]
    if all(sides):
        return "does_not_hold" if len(set(sides)) == 1 else "holds"
    fits = [not s and -edge < low and high < edge for s, (low, high) in zip(sides, around, strict=True)]
    return "holds" if any(fits) else "cannot_tell"


def triples(frame: pd.DataFrame, outcome: Outcome) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Steps whose own outcome and the next or the one before is known: (n, 3) distances of own, next and
    earlier outcome from the person's mean, bad (n,), person codes (n,).
    """
    mean = frame.groupby("person")[outcome.name].transform("mean")
    codes = person_index(frame)
    earlier = shifted(frame[outcome.name].to_numpy(dtype=float), codes, 1)
    distance = np.column_stack([frame[outcome.name] - mean, frame[outcome.later] - mean, earlier - mean])
    worse = -1.0 if outcome.variable.worse == "low" else 1.0
    known = np.isfinite(distance[:, 0]) & np.isfinite(distance[:, 1:]).any(axis=1)
    if not np.isfinite(distance[known, 1]).any():
        raise ModelError(f"no step has its own and the next {outcome.variable.label}")
    person = np.unique(codes[known], return_inverse=True)[1]
    return distance[known], worse * distance[known, 0] >= outcome.rise - 1e-9, person


def per_person(rows: np.ndarray, bad: np.ndarray, person: np.ndarray, m: int) -> np.ndarray:
    """(m, 11): n, sums of x, y, xx, xy over other steps; n, sums of x, y over bad ones with the next pain; n,
    sums of x, before over bad ones with the pain before.
    """
    x, y, before = rows.T
    next_known, before_known = np.isfinite(y), np.isfinite(before)
    y, before = np.nan_to_num(y), np.nan_to_num(before)
    other, after, into = ~bad & next_known, bad & next_known, bad & before_known

    sums = [
        part * v
        for part, values in ((other, (x, y, x * x, x * y)), (after, (x, y)), (into, (x, before)))
        for v in (1.0, *values)
    ]
    return np.column_stack([np.bincount(person, weights=v, minlength=m) for v in sums])


def changes(sums: np.ndarray, people: np.ndarray) -> dict[str, np.ndarray]:
    """Mean change after bad steps, observed and expected in both ways, and the slope of the carry-over, each
    (B,), for B sets of person weights.
    """
    n, x, y, xx, xy, n_bad, x_bad, y_bad, n_into, x_into, before = (people @ sums).T
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = (xy - x * y / n) / (xx - x * x / n)
        start = (y - slope * x) / n
        far = x_bad / n_bad
        return {
            "observed": y_bad / n_bad - far,
            "carry-over": start + (slope - 1) * far,
            "way in": (before - x_into) / n_into,
            "slope": slope,
        }
