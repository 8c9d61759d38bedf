"""Words of the challenge that takes ratings as measures with error."""

from __future__ import annotations

from lagwise.core.claim import Claim, Measured
from lagwise.core.study import INTERVAL
from lagwise.say.challenge import Caption
from lagwise.say.phrases import capital, fixed, interval, places, sample, stays
from lagwise.say.voice import Voice

TITLE = "Error in {outcome} ratings"
QUESTION = (
    "Would the reading be another one if ratings stray from {outcome}, and {exposure} answers the {outcome} "
    "rather than the rating?"
)
LIMITS = (
    "It takes a rating's error as new {in} every {step} and load's answer as the same in all people. Ratings "
    "that drift over months, or that lean the same way after heavy {steps}, are not covered."
)
LABELS = {"joint": "joint model at its own estimate", "error_sd": "error SD of a rating"}
READINGS = {
    "does_not_hold": "The reading rests on ratings being the {outcome} itself.",
    "holds": "The reading stays.",
    "cannot_tell": (
        "How far ratings stray, and what load answers, decides the reading, and the record tells it only in part."
    ),
}


def label(found: Measured, v: Voice) -> str:
    """An estimate at a held error SD, by what load answers."""
    error, answers = found.of
    what = "the rating" if answers == "rated" else f"felt {v.outcome.label}"
    return f"error SD {error:.1f}, load answers {what}"


def sentence(c: Claim, v: Voice) -> str:
    """The estimate with ratings as they are, as measures with error, and over what may be held."""
    plain, own, error = c["primary"], c["joint"], c["error_sd"]
    held = [found for found in c.measured.values() if found.of]
    decimals, unit, pain = places(own.low, own.high), v.unit, v.outcome.label
    text = (
        f"With ratings as they are the difference is {fixed(plain.value, decimals)} {unit} "
        f"({interval(plain, decimals)}). Taken as measures with error (SD {error.value:.1f} {unit}, "
        f"{100 * INTERVAL:g} % interval {error.low:.1f} to {error.high:.1f}) of the {pain} that load "
        f"answers, it is {fixed(own.value, decimals)} {unit} ({interval(own, decimals)})."
    )
    if held:
        errors, values = [found.of[0] for found in held], [found.value for found in held]
        text += (
            f" Over error SDs of {min(errors):.1f} to {max(errors):.1f} {unit}, and load answering {pain} or "
            f"the rating, it lies between {fixed(min(values), decimals)} and {fixed(max(values), decimals)} "
            f"{unit}."
        )
    more = stays(c.reason == "sure") if c.verdict == "holds" else ""
    return f"{text} {v.fill(READINGS[c.verdict])}{more}"


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the estimate over error SDs."""
    own = c["joint"]
    told = f"as the record tells it (error SD {c['error_sd'].value:.1f})"
    drawn = {told: own} | {label(found, v): found for found in c.measured.values() if found.of}
    decimals = places(own.low, own.high)
    return Caption(
        f"The estimate if ratings stray from {v.outcome.label}",
        v.difference(c),
        capital(
            "; ".join(f"{name}: {fixed(found.value, decimals)} {v.unit}" for name, found in drawn.items())
            + "."
        ),
        options={"subtitle": sample(own, v.step)},
        labels={"joint": told},
    )
