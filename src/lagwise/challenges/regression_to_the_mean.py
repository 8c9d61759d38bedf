"""The change after a bad step that a person's ordinary ups and downs would bring by themselves."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import side
from lagwise.challenges.phrases import capital, count, fixed, interval, places, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture
from lagwise.panel.derive import shifted

WAYS = ("carry-over", "way in")
NAME = "regression_to_the_mean"
TITLE = "Regression to the mean"
QUESTION = "After a bad {step}, does pain change by no more than ordinary ups and downs bring by themselves?"
LIMITS = (
    "It tells an ordinary return from a larger or smaller one, on average. It cannot say what an unusual return came from, and what was "
    "done after bad {steps} is part of ordinary ups and downs if it was also done after others."
)
LEAST_STEPS, LEAST_PEOPLE = 10, 5


def run(context: Context) -> Challenge:
    """Bad: pain at least `flare_rise` points above the person's own mean. The change by the next {step} that needs no cause is reckoned in two ways. From carry-over: (carry-over - 1) x distance from the mean,
    the carry-over (slope of the next pain on this one, within people) taken from the other {steps}; right where large and small deviations last alike. From the way in: minus the change from the {step} before;
    right where ups and downs look the same backwards, as when bad stretches last several {steps} or ratings scatter. Intervals from resampling people, `draws` times.

    Verdict, by observed minus expected change: does_not_hold when both intervals leave out 0 on the same side; holds when one of them includes 0 and lies within +/- the important change, or they leave out 0 on
    opposite sides (the change lies between the two); else cannot_tell.
    """
    step, study = step_word(context.panel.study), context.panel.study
    rows, bad, person = triples(context.panel.frame, study.pain.flare_rise)
    followed = bad & np.isfinite(rows[:, 1])
    n_bad, n_people = int(followed.sum()), len(np.unique(person[followed]))
    if n_bad < LEAST_STEPS or n_people < LEAST_PEOPLE:
        raise ModelError(
            f"{count(n_bad, f'bad {step}')} of {count(n_people, 'person', 'people')} with the {step} after known; at least {LEAST_STEPS}, of at least {LEAST_PEOPLE} people, are needed"
        )
    m = int(person.max()) + 1
    sums = per_person(rows, bad, person, m)
    people = context.rng(NAME).multinomial(m, np.full(m, 1 / m), context.draws)
    point = {k: float(v[0]) for k, v in changes(sums, np.ones((1, m))).items()}
    many = changes(sums, people)
    spread = {k: middle(v) for k, v in many.items()}
    gaps = {k: point["observed"] - point[k] for k in WAYS}
    around = {k: middle(many["observed"] - many[k]) for k in WAYS}
    verdict = judged(list(around.values()), study.pain.important_change)
    reading = {
        "holds": "The return is what ordinary ups and downs bring, so that it speaks neither for nor against what was done meanwhile.",
        "does_not_hold": f"Pain {'fell less' if gaps['carry-over'] > 0 else 'fell further'} after bad {step}s than ordinary ups and downs bring.",
        "cannot_tell": f"Too few bad {step}s to tell an ordinary return from another one.",
    }[verdict]  # fmt: skip
    decimals = places(*around["carry-over"])
    observed, expected, way = (fixed(point[k], decimals) for k in ("observed", *WAYS))
    sentence = (
        f"After {count(n_bad, f'bad {step}')} of {count(n_people, 'person', 'people')} pain changed by {observed} points ({interval(*spread['observed'], decimals)}) by the next {step}. "
        f"With no cause at all {expected} points are expected from the carry-over of other {step}s ({point['slope']:.2f}), and {way} from how pain had come up. {reading}"
    )
    found = [
        row("observed change", point["observed"], "points", *spread["observed"]),
        *(row(f"expected from the {k}", point[k], "points", *spread[k]) for k in WAYS),
        *(row(f"observed minus expected from the {k}", gaps[k], "points", *around[k]) for k in WAYS),
        row("carry-over in other steps", point["slope"], "points per point"),
        row(f"bad {step}s", n_bad, f"of {int(np.isfinite(rows[:, 1]).sum())}"),
    ]
    shown = [("observed", "observed"), *((f"expected from the {k}", k) for k in WAYS)]
    picture = Picture(
        "intervals",
        f"The change after a bad {step}, observed and expected with no cause",
        pd.DataFrame(
            [*((label, point[k], *spread[k], "") for label, k in shown), *((f"observed minus expected from the {k}", gaps[k], *around[k], "") for k in WAYS)],
            columns=["label", "estimate", "low", "high", "group"],
        ),
        f"change in pain by the next {step}, points",
        "",
        capital(f"observed {observed}; expected {expected} from the carry-over and {way} from the way in; observed minus expected {fixed(gaps['carry-over'], decimals)} points ({interval(*around['carry-over'], decimals)})."),
        {"reference": 0, "subtitle": f"{count(n_bad, f'bad {step}')}, {count(n_people, 'person', 'people')}"},
    )  # fmt: skip
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(found), sentence, LIMITS, picture)


def middle(values: np.ndarray) -> tuple[float, float]:
    """Limits of the middle 95 of 100 values."""
    low, high = np.nanquantile(values, [0.025, 0.975])
    return float(low), float(high)


def judged(around: list[tuple[float, float]], edge: float) -> str:
    """The verdict from the intervals of observed minus expected change and the important change."""
    sides = [side(low, high) for low, high in around]
    if all(sides):
        return "does_not_hold" if len(set(sides)) == 1 else "holds"
    fits = [not s and -edge < low and high < edge for s, (low, high) in zip(sides, around, strict=True)]
    return "holds" if any(fits) else "cannot_tell"


def triples(frame: pd.DataFrame, rise: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Steps whose own pain and the next or the one before is known: (n, 3) distances of own, next and earlier pain from the person's mean, bad (n,), person codes (n,)."""
    mean = frame.groupby("person")["pain"].transform("mean")
    codes = np.unique(frame["person"].to_numpy(dtype=object).astype(str), return_inverse=True)[1]
    earlier = shifted(frame["pain"].to_numpy(dtype=float), codes, 1)
    distance = np.column_stack([frame["pain"] - mean, frame["pain_next"] - mean, earlier - mean])
    known = np.isfinite(distance[:, 0]) & np.isfinite(distance[:, 1:]).any(axis=1)
    if not np.isfinite(distance[known, 1]).any():
        raise ModelError("no step has its own and the next pain")
    person = np.unique(codes[known], return_inverse=True)[1]
    return distance[known], distance[known, 0] >= rise - 1e-9, person


def per_person(rows: np.ndarray, bad: np.ndarray, person: np.ndarray, m: int) -> np.ndarray:
    """(m, 11): n, sums of x, y, xx, xy over other steps; n, sums of x, y over bad ones with the next pain; n, sums of x, before over bad ones with the pain before."""
    x, y, before = rows.T
    next_known, before_known = np.isfinite(y), np.isfinite(before)
    y, before = np.nan_to_num(y), np.nan_to_num(before)
    other, after, into = ~bad & next_known, bad & next_known, bad & before_known

    def total(values: np.ndarray) -> np.ndarray:
        return np.bincount(person, weights=values, minlength=m)

    pieces = [other, other * x, other * y, other * x * x, other * x * y, after, after * x, after * y, into, into * x, into * before]  # fmt: skip
    return np.column_stack([total(np.asarray(v, dtype=float)) for v in pieces])


def changes(sums: np.ndarray, people: np.ndarray) -> dict[str, np.ndarray]:
    """Mean change after bad steps, observed and expected in both ways, and the slope of the carry-over, each (B,), for B sets of person weights."""
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
