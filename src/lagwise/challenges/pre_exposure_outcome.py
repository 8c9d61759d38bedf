"""A negative-control outcome: pain of the step before, which the step's exposure cannot have moved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lagwise.challenges.context import Context, Found, intervals
from lagwise.challenges.estimate import Answer, answer
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.core.question import held_column
from lagwise.models.design import columns_for, design_from
from lagwise.models.rows import limits
from lagwise.panel.derive import person_index, shifted

NAME = "pre_exposure_outcome"
SAME = 0.5
"""Agreement of the rating before with the one held equal, beyond that of two ratings of neighbouring steps
(as in Cohen's kappa), above which they are one rating and nothing is left to ask."""


def run(context: Context) -> Found:
    """The primary model with pain of t - 1 in the place of pain of t + 1, everything else as it is. What
    comes later cannot have moved it, so a difference shows confounding by earlier pain that the adjustment
    leaves in (a negative-control outcome; Lipsitch et al. 2010, doi:10.1097/EDE.0b013e3181d61eeb).

    Pain that lasts looks the same backwards, so that what is left before the exposure is about what is left
    in the primary estimate as well: taken off it, with both standard errors, it gives the estimate net of
    that.

    Verdict, with a margin of half of practically zero whatever the primary estimate is: does_not_hold when
    the interval leaves out 0 and the difference is as large as the margin, or the estimate net of it reads
    otherwise than the primary one; holds when the interval includes 0 and lies within the margin, and the net
    estimate reads like the primary one; else cannot_tell, so also when the interval leaves out 0 by a
    difference that is small and leaves the reading as it is.
    """
    p, panel, outcome = context.primary, context.panel.frame, context.outcome.name
    earlier = f"{outcome}_earlier"
    values = shifted(panel[outcome].to_numpy(dtype=float), person_index(panel), 1)
    joined = context.joined(**{earlier: values})
    if not joined[earlier].notna().any():
        raise ModelError(f"no {context.outcome.variable.label} of an earlier step is known")
    if held := held_column(context.outcome, p.pain_adjusted):
        both = joined[list(dict.fromkeys((earlier, held, outcome)))].dropna()
        same, chance = (both[earlier].sub(both[c]).abs().lt(1e-9).mean() for c in (held, outcome))
        if same - chance > SAME * (1 - chance):
            raise NotApplicable("what is held equal is the very rating of the {step} before")
    columns = columns_for(context.panel, p.exposures, p.pain_adjusted)
    asked = design_from(
        joined, columns, outcome=earlier, pain_adjusted=p.pain_adjusted, study=context.panel.study
    )
    found = answer(asked, p.column, p.size)
    margin, left = context.outcome.zero / 2, net(p.answer, found)
    claim = context.claim(
        NAME,
        judged(p.answer.side, found, left.side, margin),
        f"{'sure' if found.side else 'open'}_{'alike' if p.answer.side == left.side else 'apart'}",
        before=context.measured(found),
        after=context.measured(p.answer),
        net=context.measured(left),
        margin=Measured(margin, context.unit),
    )
    return Found(claim, intervals(claim, "before", "after", primary="after"))


def net(after: Answer, before: Answer) -> Answer:
    """The difference after less the one before, errors taken as independent (of different steps), with the
    smaller df."""
    estimate, df = after.estimate - before.estimate, min(after.df, before.df)
    std_error = float(np.hypot(after.std_error, before.std_error))
    low, high = limits(estimate, std_error, df)
    return replace(before, estimate=estimate, std_error=std_error, df=df, low=low, high=high)


def judged(primary: int, before: Answer, left: int, margin: float) -> str:
    """The verdict from the primary interval's side, the difference before the exposure, the net interval's
    side and the margin."""
    if before.side:
        return "does_not_hold" if abs(before.estimate) >= margin or left != primary else "cannot_tell"
    return "holds" if -margin < before.low and before.high < margin and left == primary else "cannot_tell"
