"""Words of the challenge that looks at the outcome before the exposure."""

from __future__ import annotations

from lagwise.core.claim import Claim
from lagwise.say.challenge import Caption
from lagwise.say.phrases import capital, said, told
from lagwise.say.voice import Voice

TITLE = "{Outcome} before the exposure"
QUESTION = (
    "Is the exposure of a {step} free of a difference in the {outcome} of the {step} before, once everything "
    "else is held equal?"
)
LIMITS = (
    "An absent difference supports the adjustment for what earlier {outcome} does to {exposure}. It says "
    "nothing about what arises within the {step}. Coarse ratings leave some of earlier {outcome} unadjusted "
    "for, so that a small difference can remain where nothing is amiss."
)
LABELS = {
    "before": "{step} before (must be 0)",
    "after": "{step} after",
    "net": "{step} after, net of the {step} before",
    "margin": "size that counts as large",
}
SHORT = {
    "holds": "what differs before the exposure is too small to matter",
    "does_not_hold": "the difference is there before the exposure",
    "cannot_tell": "a difference before the exposure is not ruled out",
}
MOVES = ("after", "net")


def sentence(c: Claim, v: Voice) -> str:
    """The difference before, the one after, what is left of it, and the reading."""
    before = c["before"]
    return (
        f"{capital(v.more(c))} are set against {v.reference(c)}, at the same covariates. {capital(v.on)} the "
        f"{v.step} before, {v.outcome.label} was {told(before, v.step)}. {capital(v.on)} the {v.step} after "
        f"it was {said(c['after'])}. Net of the difference before, that is {said(c['net'])}. {_reading(c, v)}"
    )


def _reading(c: Claim, v: Voice) -> str:
    alike = c.reason in ("sure_alike", "open_alike")
    if c.verdict == "holds":
        return "No difference of a size that matters here is left before the exposure."
    if c.reason in ("open_alike", "open_apart"):
        more = "" if alike else ", and one of the size seen would change the reading"
        return f"A difference before the exposure is neither shown nor ruled out{more}."
    if not alike:
        more = " Without that the reading is another one."
    else:
        more = (
            "" if c.verdict == "does_not_hold" else " It is a small amount that leaves the reading as it is."
        )
    return (
        f"{capital(v.exposure)} cannot have moved {v.outcome.label} that came before it. The adjustment "
        f"leaves in some of what earlier {v.outcome.label} did to it.{more}"
    )


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the difference before and after."""
    before, step = c["before"], v.step
    return Caption(
        f"{capital(v.outcome.label)} of the {step} before and of the {step} after",
        v.difference(c),
        f"{capital(step)} before: {said(before)}; {step} after: {said(c['after'])}.",
    )
