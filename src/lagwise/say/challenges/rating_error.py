"""Words of the challenge that takes ratings as measures with error."""

from __future__ import annotations

from lagwise.core.claim import Claim, Measured
from lagwise.core.study import INTERVAL
from lagwise.say.challenge import Caption, error_said
from lagwise.say.phrases import capital, fixed, interval, places, sample, stays
from lagwise.say.voice import Voice

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
        "How far ratings stray, and what load answers, decides the reading, and the record tells it only in "
        "part."
    ),
}
SHORT = {
    "holds": "error in the ratings leaves the reading as it is",
    "does_not_hold": "the reading rests on ratings being free of error",
    "cannot_tell": "how far ratings stray decides the reading",
}
MOVES = ("", "joint", "felt_", "rated_")


def TITLE(v: Voice) -> str:
    """What it is called: ratings of one word, or of several."""
    return f"Error in {f'ratings of {v.asked}' if ' ' in v.asked else f'{v.asked} ratings'}"


def label(found: Measured, v: Voice) -> str:
    """An estimate at a held error SD, by what load answers."""
    error, answers = found.of
    what = "the rating" if answers == "rated" else f"felt {v.outcome.label}"
    return f"error SD {error_said(error, v)}, load answers {what}"


def sentence(c: Claim, v: Voice) -> str:
    """The estimate with ratings as they are, as measures with error, and over what may be held."""
    plain, own, error = c["primary"], c["joint"], c["error_sd"]
    held = [found for found in c.measured.values() if found.of]
    decimals, unit, pain = places(own.low, own.high), v.unit, v.outcome.label
    sd, low, high = (error_said(value, v) for value in (error.value, error.low, error.high))
    text = (
        f"With ratings as they are the difference is {fixed(plain.value, decimals)} {unit} "
        f"({interval(plain, decimals)}). Ratings stray by an SD of {sd} {unit} ({100 * INTERVAL:g} % "
        f"interval {low} to {high}). Taken as measures with that error of the {pain} that load answers, they "
        f"give {fixed(own.value, decimals)} {unit} ({interval(own, decimals)})."
    )
    if held:
        errors = list(dict.fromkeys(error_said(found.of[0], v) for found in held))
        over = f"Over error SDs of {errors[0]} to" if errors[1:] else "At an error SD of"
        least, most = (fixed(end(found.value for found in held), decimals) for end in (min, max))
        lies = f"stays at {most}" if least == most else f"lies between {least} and {most}"
        text += f" {over} {errors[-1]} {unit}, and load answering {pain} or the rating, it {lies} {unit}."
    more = stays(c.reason == "sure") if c.verdict == "holds" else ""
    return f"{text} {v.fill(READINGS[c.verdict])}{more}"


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the estimate over error SDs."""
    own = c["joint"]
    told = f"as the record tells it (error SD {error_said(c['error_sd'].value, v)})"
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
