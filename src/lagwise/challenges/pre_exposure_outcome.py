"""A negative-control outcome: pain of the step before, which the step's exposure cannot have moved."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row, row_of
from lagwise.challenges.estimate import answer
from lagwise.challenges.phrases import capital, exposure_name, more, said, sample, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture
from lagwise.models.design import columns_for, design_from
from lagwise.panel.derive import shifted

NAME = "pre_exposure_outcome"
TITLE = "Pain before the exposure"
QUESTION = "Is the exposure of a {step} free of a difference in the pain of the {step} before, once everything else is held equal?"
LIMITS = (
    "An absent difference supports the adjustment for what earlier pain does to load; it says nothing about what arises within the {step}. "
    "Coarse ratings leave some of earlier pain unadjusted for, so that a small difference can remain where nothing is amiss."
)


def run(context: Context) -> Challenge:
    """The primary model with pain of t - 1 in the place of pain of t + 1, everything else as it is. What comes later cannot have moved it, so a difference
    shows confounding by earlier pain that the adjustment leaves in (a negative-control outcome; Lipsitch et al. 2010, doi:10.1097/EDE.0b013e3181d61eeb).

    Verdict: does_not_hold when the interval leaves out 0 and the difference is at least half of the primary estimate's size or of practically zero, whichever is
    larger; holds when the interval lies within +/- the larger of the primary estimate's size and practically zero, and the difference is smaller than that half; else
    cannot_tell.
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
    room = max(abs(p.answer.estimate), p.zero)
    large = abs(found.estimate) >= room / 2
    if found.side and large:
        verdict = "does_not_hold"
        reading = f"{capital(exposure_name(p))} cannot have moved pain that came before it: the adjustment leaves in some of what earlier pain did to it."
    elif not large and -room < found.low and found.high < room:
        verdict, reading = "holds", "No difference of a size that matters here is left before the exposure."
    else:
        verdict, reading = "cannot_tell", "A difference before the exposure is neither shown nor ruled out."
    sentence = f"In the {step} before, at the same covariates, {more(p, step)} had pain {said(found)} ({sample(found, step)}); in the {step} after it is {said(p.answer)}. {reading}"
    rows = [
        row_of(f"{step} before (must be 0)", found),
        row_of(f"{step} after (primary)", p.answer),
        row("size that counts as large", room / 2, "points"),
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
