"""The same-step association beside the lagged answer."""

from __future__ import annotations

from functools import partial

from lagwise.challenges.context import Context, Found, about_later, intervals
from lagwise.challenges.estimate import answer
from lagwise.core.claim import Measured
from lagwise.models.design import design

NAME = "same_week_answer"


applies = about_later


def run(context: Context) -> Found:
    """Fits pain of the same {step} on the exposure, without adjusting for pain, beside the primary (lagged)
    answer.

    Verdict: holds when both intervals lie on the same side of 0, or both include it. Else informative when
    the intervals do not overlap (the same-{step} number would have misled), cannot_tell when they do.
    """
    p, outcome = context.primary, context.outcome.name
    alone = partial(design, exposures=(p.term,), pain_adjusted="none", adjustment="crude")
    same, lagged = answer(alone(context.panel, outcome=outcome), p.column, p.size), p.answer
    if same.side == lagged.side:
        verdict = "holds"
    else:
        verdict = "informative" if same.high < lagged.low or same.low > lagged.high else "cannot_tell"
    claim = context.claim(
        NAME,
        verdict,
        "sure" if lagged.side else "open",
        same=context.measured(same),
        after=context.measured(lagged),
        apart=Measured(same.estimate - lagged.estimate, context.unit),
    )
    return Found(claim, intervals(claim, "same", "after", primary="after"))
