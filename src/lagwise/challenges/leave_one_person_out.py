"""The primary estimate without each person in turn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import Variants, side, variants
from lagwise.challenges.phrases import capital, count, fixed, places, sample, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.kernel import fit
from lagwise.models.rows import limits
from lagwise.models.within import fit_within

NAME = "leave_one_person_out"
TITLE = "Leave one person out"
QUESTION = "Does the reading rest on any one person?"
LIMITS = (
    "It leaves out one person at a time. Two or three people alike can carry a result together and go unseen here, and it does not say why a "
    "person stands apart."
)
MATTERS = 0.5
"""A change of the estimate of this many standard errors is one that matters."""


def run(context: Context) -> Challenge:
    """Fits the primary model again without each person in turn, under the random effects the whole caseload carries.

    Verdict, by whether leaving someone out changes the side of 0 of the interval, or whether it includes 0: holds when nobody does; does_not_hold when someone
    does whose leaving moves the estimate by at least half its standard error; cannot_tell when the reading changes by smaller moves than that (the interval
    then ends so near 0 that anyone decides).
    """
    p, step = context.primary, step_word(context.panel.study)
    ready = variants(context.design, p.column, p.size)
    found = without_each(ready)
    known = found.dropna(subset=["estimate"])
    if len(known) < len(found) / 2:
        raise ModelError("without one person the model could not be fitted for more than half of them")
    change = known["estimate"] - p.answer.estimate
    sides = [side(low, high) for low, high in zip(known["low"], known["high"], strict=True)]
    turned = np.array(sides) != p.answer.side
    big = np.abs(change.to_numpy()) >= MATTERS * p.answer.std_error
    verdict = "holds" if not turned.any() else "does_not_hold" if (turned & big).any() else "cannot_tell"
    most = int(np.argmax(change.abs().to_numpy()))
    moved, left = float(change.iloc[most]), float(known["estimate"].iloc[most])
    decimals = places(p.answer.low, p.answer.high)
    low, high = float(known["estimate"].min()), float(known["estimate"].max())
    n_turned = int(turned.sum())
    reading = {
        "holds": "Nobody's leaving changes the reading.",
        "does_not_hold": f"Leaving out {count(n_turned, 'person', 'people')} (one at a time) changes the reading, by moves as large as half the standard error.",
        "cannot_tell": f"Leaving out {count(n_turned, 'person', 'people')} (one at a time) changes the reading, but by small moves: the interval ends close to 0.",
    }[verdict]
    sentence = (
        f"Without one person at a time the estimate stays between {fixed(low, decimals)} and {fixed(high, decimals)} points, {fixed(p.answer.estimate, decimals)} with everybody "
        f"({sample(p.answer, step)}). The largest change is {fixed(moved, decimals)} points, to {fixed(left, decimals)}, without one of them. {reading}"
    )
    ordered = known.sort_values("estimate").assign(group="", primary=False).rename(columns={"person": "label"})
    whole = {"label": "everybody", "estimate": p.answer.estimate, "low": p.answer.low, "high": p.answer.high}
    picture = Picture(
        "intervals",
        "The estimate without each person in turn",
        pd.concat([pd.DataFrame([whole | {"group": "", "primary": True}]), ordered], ignore_index=True),
        f"difference in pain, points, per {p.label}",
        "person left out",
        capital(f"estimates without one person lie between {fixed(low, decimals)} and {fixed(high, decimals)} points. {reading}"),
        {"reference": 0, "subtitle": sample(p.answer, step)},
    )  # fmt: skip
    rows = [
        row("estimate with everybody", p.answer.estimate, "points", p.answer.low, p.answer.high),
        row("estimates without one person", float(known["estimate"].median()), "points", low, high),
        row("largest change", moved, "points"),
        row("largest change, in standard errors", abs(moved) / p.answer.std_error, "standard errors"),
        row("people whose leaving changes the reading", n_turned, f"of {len(known)}"),
    ]
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def without_each(ready: Variants) -> pd.DataFrame:
    """person, estimate, low, high with that person left out; NaN where the model cannot be fitted without them."""
    d, at = ready.design, ready.design.names.index(ready.column)
    weights = np.zeros(len(d.names))
    weights[at] = ready.size
    rows = []
    for i, who in enumerate(d.people):
        keep = d.person != i
        estimate, error, df = np.nan, np.nan, np.nan
        try:
            if ready.structure is None:
                part = replace(
                    d, y=d.y[keep], X=d.X[keep], person=d.person[keep] - (d.person[keep] > i),
                    people=d.people[:i] + d.people[i + 1 :], frame=d.frame[keep],
                )  # fmt: skip
                estimate, error, df = fit_within(part).contrast(ready.column, ready.size)
            else:
                one = np.ones((int(keep.sum()), 1))
                Z = one if ready.structure == "intercept" else np.column_stack([one, d.X[keep, at]])
                cross = CrossProducts.build(d.y[keep], d.X[keep], Z, d.person[keep])
                found = fit(cross, ready.structure).contrast(weights)
                estimate, error, df = (float(v[0]) for v in (found.estimate, found.std_error, found.df))
        except (ModelError, ValueError):
            pass
        rows.append((who, estimate, *(limits(estimate, error, df) if np.isfinite(error) else (np.nan, np.nan))))
    return pd.DataFrame(rows, columns=["person", "estimate", "low", "high"])
