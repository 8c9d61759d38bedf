"""Words of the challenge of an unmeasured common cause."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.claim import Claim, Measured
from lagwise.say.challenge import Caption
from lagwise.say.phrases import after, capital, fixed, listed, places, said, span
from lagwise.say.voice import Voice

TITLE = "Unmeasured confounding"
LIMITS = (
    "It says how strong a common cause would have to be, not whether there is one. It covers neither "
    "errors of measurement, nor missing {steps}, nor {outcome} that acted on {exposure} before it was "
    "rated. A cause that acts through the recorded exposures counts only with what it adds."
)
LABELS = {
    "e_point": "E-value of the estimate",
    "e_limit": "E-value of the limit nearer 0",
    "sds": "difference in within-person SDs of the outcome",
    "needed": "share of what is left of exposure and {outcome} that would change the reading",
}
SHORT = {
    "does_not_hold": "a cause half as strong as a recorded one would do",
    "informative": "only a cause stronger than any recorded would change it",
    "cannot_tell": "a cause no stronger than a recorded one could do",
    "no_yardstick": "nothing recorded is a yardstick for such a cause",
}


def beside(verdict: str, rows: Mapping[str, Mapping[str, float | None]]) -> str:
    """'no_yardstick' where a cause as strong as a recorded one would not do, and that tells nothing."""
    strength = rows.get("changes_at", {}).get("value") or 0.0
    return "no_yardstick" if verdict == "cannot_tell" and strength > 1 else ""


MOVES = ("", "shift_yardstick")
LESSONS = {
    "stays": "A cause no stronger than {label} would leave the reading as it is; whether there is a "
    "stronger one cannot be seen in this record.",
    "no_yardstick": "What was recorded is tied so weakly to {exposure} or {outcome} that it is no yardstick "
    "for what was not.",
    "half_hides": "The interval includes 0, so no difference was shown that such a cause could account "
    "for; one half as strong as {label} could have hidden one.",
    "one_hides": "The interval includes 0, so no difference was shown that such a cause could account for; "
    "one as strong as {label} could have hidden one.",
    "half_accounts": "A cause half as strong as {label} would be enough.",
    "one_accounts": "A cause as strong as {label} would be enough; one half as strong would not.",
}


def QUESTION(v: Voice) -> str:
    """What is asked, of a later step's outcome or of the same one's."""
    asked = f"later {v.asked}" if v.question.lag else v.asked
    return (
        f"Would the reading change if something unrecorded were tied to both the exposure and {asked}, and "
        "at what strength?"
    )


def label(found: Measured, v: Voice) -> str:
    """The strength at which the reading changes, and the shift by a cause as strong as each exposure."""
    name = v.variables[found.of[0]].label
    if found.unit == "times":
        return f"strength next to {name} at which the reading changes"
    return f"shift by a cause as strong as {name}"


def sentence(c: Claim, v: Voice) -> str:
    """How strong a cause would have to be, by the yardstick and whatever it is."""
    own, name = c["primary"], _yardstick(c, v)
    decimals = places(own.low, own.high)
    amount = (
        f"A cause {_how(c)} times as strong as measured {name} (the strongest recorded), on both, would be "
        "needed to change the reading"
        if c["changes_at"].value > 0
        else "Any unmeasured cause would change the reading"
    )
    shift = fixed(c["shift_yardstick"].value, decimals)
    if not float(shift):
        shift = f"less than {10.0**-decimals:g}"
    came = "were followed by" if v.question.lag else "went with"
    text = (
        f"{capital(v.more(c))} {came} {v.asked} {said(own)}. {amount}. One as strong as "
        f"{name} could move the estimate by {shift} {v.unit} either way. Whatever the yardstick, one that "
        f"goes with {100 * c['needed'].value:.1f} of 100 parts of what is left unexplained in both would be "
        f"enough. The E-value is {c['e_point'].value:.2f} for the estimate and {c['e_limit'].value:.2f} for "
        f"the limit nearer 0{after(own, v.step)}. "
        f"{v.fill(LESSONS[c.reason]).replace('{label}', name)}"
    )
    if same := [v.variables[key.removeprefix("same/")].label for key in c.numbers if key.startswith("same/")]:
        text += (
            f" No yardstick is {listed(same)}: within people so little of {v.exposure} is left beside it "
            "that no other cause could go with it as closely."
        )
    return text


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of what causes of growing strength would leave of the estimate."""
    own, name = c["primary"], _yardstick(c, v)
    around = span(own.low, own.high, places(own.low, own.high), v.unit)
    return Caption(
        f"What a cause as strong as {name}, or stronger, would leave of the estimate",
        f"strength of the unmeasured cause, times that of measured {name}",
        f"The interval, {around}, reads differently from {_how(c)} times the strength of {name} on.",
        v.difference(c),
    )


def _how(c: Claim) -> str:
    return f"at least {c['changes_at'].value:g}" if c["beyond"] else f"{c['changes_at'].value:.2g}"


def _yardstick(c: Claim, v: Voice) -> str:
    return v.variables[c["changes_at"].of[0]].label
