"""Does pain drive load? The reverse path: how the load of a step answers the pain before it."""

from __future__ import annotations

import math

import pandas as pd

from lagwise.challenges.context import Context, numbers, shown, span
from lagwise.challenges.estimate import estimate
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture
from lagwise.models.design import design_from, load_known

NAME = "does_pain_drive_load"
TITLE = "Does pain drive load?"
QUESTION = "Is the load of a week free of an answer to the pain before it?"
LIMITS = (
    "It sees the answer of a week's load to the rating before it, not to pain felt during the week, and so gives the least the reverse "
    "path can be. It says nothing about why load was changed."
)
SMALL = 5.0
"""Percent of load per point of pain: an interval inside +/- this is called practically no reverse path."""


def run(context: Context) -> Challenge:
    """jump at t on pain_before at t (within and between people), log_usual and step, on trained steps.

    In percent of load per point of pain, 100 (exp(b) - 1). A reverse path does not break a result that adjusts for pain, but misleads
    one that does not. Verdict: informative when the interval leaves out 0 (there is a reverse path, and this is its size); holds when
    it includes 0 and lies within +/- 5 % per point; else cannot_tell.
    """
    if not load_known(context.panel):
        raise ModelError("no load is recorded")
    frame = context.panel.frame
    trained = frame[frame["rested"].eq(0) & frame["restarted"].eq(0)]
    path = design_from(trained, ("pain_before_within", "pain_before_between", "log_usual", "step"), outcome="jump")
    found = estimate(path, "pain_before_within")
    value, low, high = (100 * math.expm1(v) for v in (found.estimate, found.low, found.high))
    if low > 0 or high < 0:
        verdict = "informative"
        lesson = "Load answers pain here, so an analysis that leaves pain out mixes the two directions; the primary one holds pain equal."
    elif low > -SMALL and high < SMALL:
        verdict, lesson = "holds", f"Answers of more than {SMALL:g} % per point are ruled out by these data."
    else:
        verdict, lesson = "cannot_tell", "Neither an answer of load to pain nor its absence is ruled out."
    return Challenge(
        NAME,
        TITLE,
        QUESTION,
        verdict,
        numbers(("load per point of pain before", value, low, high, "%")),
        f"Per point of pain above a person's own mean before the week's first session, the load of the week was {shown(abs(value), 1)} % "
        f"{'lower' if value < 0 else 'higher'} (interval {span(low, high, 1)} %; {found.n_people} people, {found.n_steps} steps). {lesson}",
        LIMITS,
        picture=Picture(
            "intervals",
            "How the week's load answers the pain before it",
            pd.DataFrame(
                [("per point of pain before", value, low, high, "estimate")],
                columns=["label", "estimate", "low", "high", "group"],
            ),
            "Difference in the week's load, %",
            "",
            f"{shown(value, 1)} % load per point of pain before ({span(low, high, 1)} %).",
            {"reference": 0.0, "n_people": found.n_people, "n_steps": found.n_steps},
        ),
    )
