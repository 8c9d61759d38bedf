"""Same-week answer: the association within one and the same step, beside the lagged one."""

from __future__ import annotations

import pandas as pd

from lagwise.challenges.context import Context, numbers, shown, span
from lagwise.challenges.estimate import estimate
from lagwise.core.results import Challenge, Picture

NAME = "same_week_answer"
TITLE = "Same-week answer"
QUESTION = "What would one have concluded from load and pain of the same week?"
LIMITS = (
    "It shows how far the naive answer lies from the lagged one. It cannot show that the lagged one is right, only that the same week "
    "mixes what load may do to pain with what pain does to load."
)


def run(context: Context) -> Challenge:
    """Pain at t on the primary exposure at t, other exposures held equal, beside the lagged primary estimate.

    The verdict is always 'informative': the same-step association answers another question, in which pain and load act on
    each other, so that agreement with it does not support the lagged result and disagreement does not break it.
    """
    primary = context.primary
    same = estimate(context.design(outcome="pain", pain_adjusted="none"), context.column, context.size)
    lagged = (float(primary["estimate"]), float(primary["low"]), float(primary["high"]))
    rows = [
        ("same week, pain not adjusted for", same.estimate, same.low, same.high),
        ("the week after (primary)", *lagged),
    ]
    if same.estimate * lagged[0] < 0 and (same.low > 0 or same.high < 0):
        lesson = "The same-week answer points the other way."
    elif same.low > 0 or same.high < 0:
        lesson = "Both point the same way; that is no confirmation, since pain also shapes load within a week."
    else:
        lesson = "The same-week interval includes 0."
    return Challenge(
        NAME,
        TITLE,
        QUESTION,
        "informative",
        numbers(*((name, value, low, high, "points") for name, value, low, high in rows)),
        f"For {context.label}, pain in the same week differed by {shown(same.estimate)} points ({span(same.low, same.high)}; "
        f"{same.n_steps} steps); the week after by {shown(lagged[0])} points ({span(*lagged[1:])}; {int(primary['n_steps'])} steps). {lesson}",
        LIMITS,
        picture=Picture(
            "intervals",
            "The same week gives another answer than the week after",
            pd.DataFrame(
                [(name, value, low, high, "estimate") for name, value, low, high in rows],
                columns=["label", "estimate", "low", "high", "group"],
            ),
            f"Difference in pain, points, {context.label}",
            "",
            f"Same week {shown(same.estimate)} points ({span(same.low, same.high)}); week after {shown(lagged[0])} points ({span(*lagged[1:])}).",
            {"reference": 0.0, "n_people": same.n_people, "n_steps": same.n_steps},
        ),
    )
