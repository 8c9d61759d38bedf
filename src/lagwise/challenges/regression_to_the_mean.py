"""The change after a bad step that a person's ordinary ups and downs would bring by themselves."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import side
from lagwise.challenges.phrases import capital, count, fixed, interval, places, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture

NAME = "regression_to_the_mean"
TITLE = "Regression to the mean"
QUESTION = "After a bad {step}, does pain change by no more than ordinary ups and downs bring by themselves?"
LIMITS = (
    "It tells an ordinary return from a larger or smaller one, on average. It cannot say what an unusual return came from, and what was "
    "done after bad {steps} is part of ordinary ups and downs if it was also done after others."
)
LEAST_STEPS, LEAST_PEOPLE = 10, 5


def run(context: Context) -> Challenge:
    """Bad: pain at least `flare_rise` points above the person's own mean. The change expected with no cause at all is (carry-over - 1) x distance from the mean,
    the carry-over (slope of the next pain on this one, within people) taken from the other steps. Intervals from resampling people, `draws` times.

    Verdict, by observed minus expected change: holds when its interval includes 0 and lies within +/- the important change; does_not_hold when it leaves out 0;
    else cannot_tell.
    """
    step, study = step_word(context.panel.study), context.panel.study
    rows, bad, person = pairs(context.panel.frame, study.pain.flare_rise)
    n_bad, n_people = int(bad.sum()), len(np.unique(person[bad]))
    if n_bad < LEAST_STEPS or n_people < LEAST_PEOPLE:
        raise ModelError(
            f"{count(n_bad, f'bad {step}')} of {count(n_people, 'person', 'people')} with the {step} after known; {LEAST_STEPS} of {LEAST_PEOPLE} people are needed"
        )
    m = int(person.max()) + 1
    sums = per_person(rows, bad, person, m)
    rng = context.rng(NAME)
    people = rng.multinomial(m, np.full(m, 1 / m), context.draws)
    expected, observed, carry = changes(sums, np.ones((1, m)))
    many_expected, many_observed, _ = changes(sums, people)
    gap = float(observed[0] - expected[0])
    low, high = (float(v) for v in np.nanquantile(many_observed - many_expected, [0.025, 0.975]))
    edge = study.pain.important_change
    if side(low, high):
        verdict = "does_not_hold"
        reading = (
            f"Pain {'fell less' if gap > 0 else 'fell further'} after bad {step}s than ordinary ups and downs bring."
        )
    elif -edge < low and high < edge:
        verdict = "holds"
        reading = (
            "The return is what ordinary ups and downs bring; it needs no treatment, rest or load to account for it."
        )
    else:
        verdict, reading = (
            "cannot_tell",
            "Too few bad weeks to tell an ordinary return from another one.".replace("weeks", step + "s"),
        )
    decimals = places(low, high)
    o = [float(v) for v in np.nanquantile(many_observed, [0.025, 0.975])]
    e = [float(v) for v in np.nanquantile(many_expected, [0.025, 0.975])]
    sentence = (
        f"After {count(n_bad, f'bad {step}')} of {count(n_people, 'person', 'people')} pain changed by {fixed(observed[0], decimals)} points ({interval(o[0], o[1], decimals)}) by the next {step}; "
        f"{fixed(expected[0], decimals)} points are expected with no cause at all, from a carry-over of {carry[0]:.2f}. {reading}"
    )
    found = [
        row("observed change", observed[0], "points", *o),
        row("expected with no cause", expected[0], "points", *e),
        row("observed minus expected", gap, "points", low, high),
        row("carry-over in other steps", carry[0], "points per point"),
        row(f"bad {step}s", n_bad, f"of {len(person)}"),
    ]
    picture = Picture(
        "intervals",
        f"The change after a bad {step}, observed and expected with no cause",
        pd.DataFrame(
            [("observed", observed[0], *o, ""), ("expected with no cause", expected[0], *e, ""), ("observed minus expected", gap, low, high, "")],
            columns=["label", "estimate", "low", "high", "group"],
        ),
        f"change in pain by the next {step}, points",
        "",
        capital(f"observed {fixed(observed[0], decimals)}, expected {fixed(expected[0], decimals)}, difference {fixed(gap, decimals)} points ({interval(low, high, decimals)})."),
        {"reference": 0, "subtitle": f"{count(n_bad, f'bad {step}')}, {count(n_people, 'person', 'people')}"},
    )  # fmt: skip
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(found), sentence, LIMITS, picture)


def pairs(frame: pd.DataFrame, rise: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Steps whose own and next pain are known: (n, 2) distances of both from the person's mean, bad (n,), person codes (n,)."""
    mean = frame.groupby("person")["pain"].transform("mean")
    distance = np.column_stack([frame["pain"] - mean, frame["pain_next"] - mean])
    known = np.isfinite(distance).all(axis=1)
    if not known.any():
        raise ModelError("no step has its own and the next pain")
    person = np.unique(frame["person"].to_numpy(dtype=object).astype(str)[known], return_inverse=True)[1]
    return distance[known], distance[known, 0] >= rise - 1e-9, person


def per_person(rows: np.ndarray, bad: np.ndarray, person: np.ndarray, m: int) -> np.ndarray:
    """(m, 8): n, sums of x, y, xx, xy over other steps; n, sums of x, y over bad ones."""
    x, y = rows.T
    other = ~bad

    def total(values: np.ndarray) -> np.ndarray:
        return np.bincount(person, weights=values, minlength=m)

    pieces = [other, other * x, other * y, other * x * x, other * x * y, bad, bad * x, bad * y]
    return np.column_stack([total(np.asarray(v, dtype=float)) for v in pieces])


def changes(sums: np.ndarray, people: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Expected and observed mean change after bad steps and the carry-over, each (B,), for B sets of person weights."""
    n, x, y, xx, xy, n_bad, x_bad, y_bad = (people @ sums).T
    with np.errstate(invalid="ignore", divide="ignore"):
        carry = (xy - x * y / n) / (xx - x * x / n)
        start = (y - carry * x) / n
        far = x_bad / n_bad
        return start + (carry - 1) * far, y_bad / n_bad - far, carry
