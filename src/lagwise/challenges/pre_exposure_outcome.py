"""A negative-control outcome: pain of the step before, which the step's exposure cannot have moved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row, row_of
from lagwise.challenges.estimate import Answer, answer
from lagwise.challenges.phrases import capital, exposure_name, more, said, sample, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture
from lagwise.models.design import columns_for, design_from
from lagwise.models.rows import limits
from lagwise.panel.derive import shifted

NAME = "pre_exposure_outcome"
TITLE = "Pain before the exposure"
QUESTION = "Is the exposure of a {step} free of a difference in the pain of the {step} before, once everything else is held equal?"
LIMITS = (
    "An absent difference supports the adjustment for what earlier pain does to {exposure}; it says nothing about what arises within the {step}. "
    "Coarse ratings leave some of earlier pain unadjusted for, so that a small difference can remain where nothing is amiss."
)


def run(context: Context) -> Challenge:
    """The primary model with pain of t - 1 in the place of pain of t + 1, everything else as it is. What comes later cannot have moved it, so a difference
    shows confounding by earlier pain that the adjustment leaves in (a negative-control outcome; Lipsitch et al. 2010, doi:10.1097/EDE.0b013e3181d61eeb).

    Pain that lasts looks the same backwards, so that what is left before the exposure is about what is left in the primary estimate as well: taken off it, with both standard errors, it gives the estimate net of that.

    Verdict, with a margin of half of practically zero whatever the primary estimate is: does_not_hold when the interval leaves out 0 and the difference is as large as the margin, or the estimate net of it reads otherwise than the primary
    one; holds when the interval includes 0 and lies within the margin, and the net estimate reads like the primary one; else cannot_tell, so also when the interval leaves out 0 by a difference that is small and leaves the reading as it is.
    """
    p, step = context.primary, step_word(context.panel.study)
    frame = context.design.frame
    panel = context.panel.frame
    codes = np.unique(panel["person"].to_numpy(dtype=object).astype(str), return_inverse=True)[1]
    earlier = pd.Series(shifted(panel["pain"].to_numpy(dtype=float), codes, 1), index=panel.index)
    keyed = panel[["person", "step"]].assign(pain_earlier=earlier)
    joined = frame.merge(keyed, on=["person", "step"], how="left", validate="one_to_one")
    if not joined["pain_earlier"].notna().any():
        raise ModelError("no pain of an earlier step is known")
    d = design_from(
        joined,
        columns_for(context.panel, p.exposures, p.pain_adjusted),
        outcome="pain_earlier",
        pain_adjusted=p.pain_adjusted,
    )
    found = answer(d, p.column, p.size)
    margin, left = p.zero / 2, net(p.answer, found)
    verdict = judged(p.answer.side, found, left.side, margin)
    reading = _reading(verdict, found.side, p.answer.side == left.side, capital(exposure_name(p)))
    sentence = (
        f"In the {step} before, at the same covariates, {more(p, step)} had pain {said(found)} ({sample(found, step)}); in the {step} after it is {said(p.answer)}, "
        f"and net of the difference before {said(left)}. {reading}"
    )
    rows = [
        row_of(f"{step} before (must be 0)", found),
        row_of(f"{step} after (primary)", p.answer),
        row_of(f"{step} after, net of the {step} before", left),
        row("size that counts as large", margin, "points"),
    ]
    picture = Picture(
        "intervals",
        f"Pain of the {step} before and of the {step} after",
        pd.DataFrame(
            {"label": [f"{step} before (must be 0)", f"{step} after (primary)"], "estimate": [found.estimate, p.answer.estimate],
             "low": [found.low, p.answer.low], "high": [found.high, p.answer.high], "group": "", "primary": [False, True]}
        ),
        f"difference in pain, points, per {p.label}",
        "",
        f"{capital(step)} before: {said(found)}; {step} after: {said(p.answer)}.",
        {"reference": 0, "subtitle": sample(found, step)},
    )  # fmt: skip
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def net(after: Answer, before: Answer) -> Answer:
    """The difference after less the one before, as if their errors were independent (they come from different steps), with the smaller df."""
    estimate, df = after.estimate - before.estimate, min(after.df, before.df)
    std_error = float(np.hypot(after.std_error, before.std_error))
    low, high = limits(estimate, std_error, df)
    return replace(before, estimate=estimate, std_error=std_error, df=df, low=low, high=high)


def judged(primary: int, before: Answer, left: int, margin: float) -> str:
    """The verdict from the primary interval's side, the difference before the exposure, the net interval's side and the margin."""
    if before.side:
        return "does_not_hold" if abs(before.estimate) >= margin or left != primary else "cannot_tell"
    return "holds" if -margin < before.low and before.high < margin and left == primary else "cannot_tell"


def _reading(verdict: str, certain: int, alike: bool, name: str) -> str:
    if verdict == "holds":
        return "No difference of a size that matters here is left before the exposure."
    if not certain:
        return "A difference before the exposure is neither shown nor ruled out" + (
            "." if alike else ", and one of the size seen would change the reading."
        )
    cannot = f"{name} cannot have moved pain that came before it: the adjustment leaves in some of what earlier pain did to it"
    if not alike:
        return f"{cannot}, and without that the reading is another one."
    return (
        f"{cannot}." if verdict == "does_not_hold" else f"{cannot}, by a small amount that leaves the reading as it is."
    )
