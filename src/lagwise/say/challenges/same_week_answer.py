"""Words of the challenge that looks at the same step."""

from __future__ import annotations

from lagwise.core.claim import Claim
from lagwise.say.challenge import Caption
from lagwise.say.phrases import capital, said, sample, stays, told
from lagwise.say.voice import Voice

TITLE = "Same-{step} answer"
QUESTION = "Would looking at {exposure} and {outcome} of the same {step} have told another story?"
LIMITS = (
    "Within one {step} the log cannot tell whether {outcome} answered {exposure} or {exposure} answered "
    "{outcome}. The same-{step} number is shown as a warning and is no estimate of anything that was asked."
)
LABELS = {"same": "same {step}", "after": "{step} after", "apart": "difference of the two"}
READINGS = {
    "holds": "Both read the same way.",
    "informative": (
        "The same-{step} number would have misled: {exposure} can answer {outcome} as well as come before it."
    ),
    "cannot_tell": "The intervals overlap, so whether the two differ stays open.",
}
SHORT = {
    "holds": "the same {step} and the {step} after read alike",
    "informative": "the same {step} alone would have told another story",
    "cannot_tell": "the same {step} and the one after cannot be told apart",
}
READ = {"holds": "read alike", "informative": "do not read alike", "cannot_tell": "cannot be told apart"}


def sentence(c: Claim, v: Voice) -> str:
    """Both answers, and whether they read alike."""
    same, lagged = c["same"], c["after"]
    reading = v.fill(READINGS[c.verdict]) + (stays(c.reason == "sure") if c.verdict == "holds" else "")
    return (
        f"{capital(v.more(c))} are set against {v.reference(c)}. {capital(v.on)} the same {v.step} "
        f"{v.outcome.label} was {told(same, v.step)}. {capital(v.on)} the {v.step} after it was "
        f"{told(lagged, v.step)}. {reading}"
    )


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the two intervals."""
    same, lagged, step = c["same"], c["after"], v.step
    return Caption(
        f"The same {step} and the {step} after {READ[c.verdict]}",
        v.difference(c),
        f"Same {step}: {said(same)}. {capital(step)} after: {said(lagged)}.",
        options={"subtitle": f"same {step}: {sample(same, step)}; {step} after: {sample(lagged, step)}"},
    )
