"""The same-step association beside the lagged answer."""

from __future__ import annotations

import pandas as pd

from lagwise.challenges.context import Context, numbers, row, row_of
from lagwise.challenges.estimate import answer
from lagwise.challenges.phrases import capital, exposure_name, more, reference, said, sample, stays, step_word
from lagwise.core.results import Challenge, Picture
from lagwise.models.design import design

NAME = "same_week_answer"
TITLE = "Same-{step} answer"
QUESTION = "Would looking at {exposure} and pain of the same {step} have told another story?"
LIMITS = (
    "Within one {step} the log cannot tell whether pain answered {exposure} or {exposure} answered pain; the same-{step} number is shown as a "
    "warning and is no estimate of anything that was asked."
)


def run(context: Context) -> Challenge:
    """Fits pain of the same {step} on the exposure, without adjusting for pain, beside the primary (lagged) answer.

    Verdict: holds when both intervals lie on the same side of 0, or both include it. Else informative when the intervals do not overlap (the
    same-{step} number would have misled), cannot_tell when they do.
    """
    p, step = context.primary, step_word(context.panel.study)
    same = answer(
        design(context.panel, exposures=(p.term,), pain_adjusted="none", outcome="pain", adjustment="crude"),
        p.column,
        p.size,
    )
    lagged = p.answer
    if same.side == lagged.side:
        verdict, reading = "holds", f"Both read the same way.{stays(lagged.side)}"
    elif same.high < lagged.low or same.low > lagged.high:
        verdict = "informative"
        reading = (
            f"The same-{step} number would have misled: {exposure_name(p)} can answer pain as well as come before it."
        )
    else:
        verdict, reading = "cannot_tell", "The intervals overlap, so whether the two differ stays open."
    sentence = (
        f"In the same {step}, {more(p, step)} had pain {said(same)} compared with {reference(p, step)} ({sample(same, step)}); "
        f"in the {step} after, {said(lagged)} ({sample(lagged, step)}). {reading}"
    )
    picture = Picture(
        "intervals",
        capital(f"The same {step} and the {step} after {'read alike' if verdict == 'holds' else 'do not read alike' if verdict == 'informative' else 'cannot be told apart'}"),
        pd.DataFrame(
            {"label": [f"same {step}", f"{step} after (primary)"], "estimate": [same.estimate, lagged.estimate],
             "low": [same.low, lagged.low], "high": [same.high, lagged.high], "group": "", "primary": [False, True]}
        ),
        f"difference in pain, points, per {p.label}",
        "",
        f"Same {step}: {said(same)}. {capital(step)} after: {said(lagged)}.",
        {"reference": 0, "subtitle": f"same {step}: {sample(same, step)}; {step} after: {sample(lagged, step)}"},
    )  # fmt: skip
    rows = [
        row_of(f"same {step}", same),
        row_of(f"{step} after (primary)", lagged),
        row("difference of the two", same.estimate - lagged.estimate, "points"),
    ]
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)
