"""Words of the challenge that looks at the reverse path."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.claim import Claim, Measured
from lagwise.say.challenge import Caption, side
from lagwise.say.phrases import capital, difference, fixed, interval, places, said, told
from lagwise.say.voice import Voice

TITLE = "Does {exposure} follow {outcome}?"
QUESTION = (
    "Is {exposure} lower, or higher, after {outcome} has been higher, so that the order of the two is not "
    "what it seems?"
)
OF_ANY = (
    "{Outcome} is rated once in a while. An answer to {outcome} between two ratings, or to a trainer's "
    "advice, is not seen here. "
)
OF_LOAD = "The correction takes a rating's error as new {in} every {step}; "
OF_CYCLES = "{cycles} can look like an answer to {outcome}."
LABELS = {
    "before": "per {amount} of {outcome} before",
    "during": "per {amount} of {outcome} of the same {step}",
    "lasting": "per {amount} of the {outcome} that lasts",
    "instrument": "the same, by the rating before as instrument",
    "carry_over": "carry-over of the {outcome} that lasts",
    "error_sd": "error SD of a rating",
    "reliability": "reliability of a rating within people",
}
SHORT = {
    "holds": "{exposure} hardly follows {outcome}",
    "informative": "{exposure} follows {outcome}; both adjustments read alike",
    "elsewhere": "under the two {outcome} adjustments the answer reads differently",
    "cannot_tell": "{exposure} may follow {outcome}; it is not ruled out",
}
MOVES = ("", "adjusted_")
WHY = {"few_steps": "too few trained steps stand between two ratings"}


def elsewhere(rows: Mapping[str, Mapping[str, float | None]]) -> bool:
    """Whether the two adjustments read differently."""
    return len({side(row) for key, row in rows.items() if key.startswith(MOVES[-1])}) > 1


def LIMITS(v: Voice) -> str:
    """What it cannot show of any exposure, and of load, whose answer alone is corrected."""
    return OF_ANY + (OF_LOAD + OF_CYCLES if v.primary.whole else capital(v.fill(OF_CYCLES)))


def label(found: Measured, v: Voice) -> str:
    """The primary answer under one adjustment."""
    held = found.of[0]
    return f"primary answer with {_held(held, v)} held equal"


def _held(adjustment: str, v: Voice) -> str:
    """What an adjustment holds equal: 'pain of the same week', 'pain rated before'."""
    when = {"during": f"of the same {v.step}", "before": "rated before"}
    return f"no {v.asked}" if adjustment == "none" else f"{v.asked} {when[adjustment]}"


def sentence(c: Claim, v: Voice) -> str:
    """The exposure after the outcome has been higher, as rated and as it lasts, and what that means for the
    primary answer."""
    pain, before, during = v.outcome.label, c["before"], c.get("during")
    seen = told(before, v.step)
    text = f"After {pain} {v.tenth('one ')} above a person's own mean, {v.exposure} was {seen}."
    if during is not None and not ("lasting" in c.numbers and c["lasting"].known):
        text += (
            f" Beside {pain} of the same {v.step} it was {said(during)}. Both directions are mixed in that."
        )
    if "lasting" in c.numbers or "why" in c.numbers:
        text += f" {lasting(c, v)}"
    return f"{text} {_reading(c, v)}"


def _reading(c: Claim, v: Voice) -> str:
    if c.verdict == "holds":
        return "Practically no reverse path is seen."
    path = "There is a reverse path."
    if c.verdict != "informative":
        path = "A reverse path that matters is neither seen nor ruled out."
        if c.reason == "alike":
            return path
    parts = []
    for found in (m for m in c.measured.values() if m.of):
        parts.append(f" With {_held(found.of[0], v)} held equal it is {said(found, v.unit)}.")
    alike = "the same way" if c.reason == "alike" else "differently"
    return f"{path} The answer reads {alike} under the two {v.outcome.label} adjustments.{''.join(parts)}"


def lasting(c: Claim, v: Voice) -> str:
    """What a rating's error does to this, and load's answer to the outcome that lasts."""
    found, pain = c.get("lasting"), v.outcome.label
    if found is None or not found.known:
        why = c.numbers.get("why", "")
        reason = f" ({WHY.get(why, why)})" if why else ""
        return f"How much a rating's error shrinks this is not known{reason}."
    shrunk = (
        f"A rating holds {100 * c['reliability'].value:.0f} of 100 parts of lasting differences, the rest "
        f"being its own error{' (mostly assumed, since these ratings hardly tell)' if c['assumed'] else ''}"
    )
    d, beside = places(found.low, found.high), c.get("instrument")
    if beside is not None and beside.known:
        other = f"By the rating before it was {difference(beside.value, d, '%')} ({interval(beside, d)})"
    else:
        other = f"By the rating before it is not known: too little of that is left {v.on} the {v.step}"
    return (
        f"{shrunk}. Allowing for that, load per {v.tenth()} of the {pain} that lasts was "
        f"{difference(found.value, d, '%')} ({interval(found, d)}) with load and ratings in one model. "
        f"{other}."
    )


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the reverse path."""
    before, pain, small = c["before"], v.outcome.label, c["small"]
    labels = {"before": f"{pain} before, as rated", "during": f"{pain} of the same {v.step}, as rated"}
    decimals = places(before.low, before.high)
    alt = capital(
        "; ".join(f"{name}: {said(c[key])}" for key, name in labels.items() if key in c.numbers) + "."
    )
    found = c.get("lasting")
    if found is not None and found.known:
        size = f"{difference(found.value, decimals, '%')} ({interval(found, decimals)})"
        alt += f" The {pain} that lasts, corrected: {size}."
    seen = {1: f"More {v.exposure} after higher {pain}", -1: f"Less {v.exposure} after higher {pain}"}
    band = f"within {fixed(small.value, decimals)} {small.unit}: practically none"
    return Caption(
        seen.get(before.side, f"Less and more {v.exposure} after higher {pain} both remain possible"),
        f"difference in {v.exposure}, {before.unit}, per {v.tenth()} of {pain}",
        alt,
        options={"band_label": band},
        labels=labels | {"lasting": f"the {pain} that lasts, corrected"},
    )
