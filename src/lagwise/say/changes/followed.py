"""What followed an event, in words, by what there is of it and why the events were made."""

from __future__ import annotations

from lagwise.core.claim import Claim, Measured
from lagwise.core.words import capital
from lagwise.say.changes.kinds import event
from lagwise.say.phrases import count, difference, interval, listed, places
from lagwise.say.voice import Voice

BECAUSE = {
    "planned": "planned ahead",
    "pain": "set off by pain",
    "other": "made for another reason",
    "unsaid": "without a stated reason",
}
ALLOWS = {
    "planned": "A date set beforehand is chosen by no bad {step}, so a comparison is least in doubt here.",
    "pain": "The comparison is right only as far as the log shows the pain that set them off.",
    "other": "Whatever the reason was, the comparison holds it equal only where the log shows it.",
    "unsaid": "Nobody can tell whether a bad stretch set them off, so take it that one did.",
}
"""What a reason allows to be read from what followed."""
LEFT = {
    "left_undated": "without a readable date",
    "left_before": "before the person's record",
    "left_after": "after its end",
    "left_again": "not the first of its person",
    "left_short": "without three ratings before and one after",
    "alone": "without comparable {step}s",
}
NONE = {
    "no event has comparable steps without one": "no {step} without it is like those with it: near on the "
    "calendar, and as likely by its history",
}


def sentences(claim: Claim, voice: Voice) -> tuple[str, ...]:
    """What was found, what before and after says, why the events were made, and which are left out."""
    reason, _, side = claim.reason.partition(".")
    if reason == "none":
        why = NONE.get(claim["why"], claim["why"])
        return (
            f"What followed {event(claim['kind'])} cannot be compared: {voice.fill(why)}.",
            *_left(claim, voice),
        )
    if reason == "picture":
        few = count(int(claim["enough"].value), "person has", "people have")
        told = (
            f"{capital(few)} {event(claim['kind'])} with three ratings either side: too few for an estimate."
        )
        return (told, *_why(claim, voice), *_left(claim, voice))
    early = reason == "exploratory"
    return (
        _found(claim, voice, side),
        *([_early(claim)] if early else []),
        *_naive(claim, voice),
        *_why(claim, voice),
        *_left(claim, voice),
    )


def _found(claim: Claim, voice: Voice, side: str) -> str:
    """The doubly robust difference with its interval and denominators."""
    own, asked = claim["risk_set"], voice.asked
    size = difference(own.value, places(own.low, own.high), own.unit)
    behind = f"{count(own.people or 0, 'event')}, {count(int(claim['others'].value), 'person', 'people')}"
    zero = " and includes 0" if side == "undecided" else ""
    return (
        f"After {event(claim['kind'])}, {asked} over {claim['first']} {voice.steps} averaged {size} than "
        f"expected from {voice.steps} of the same history without it. The {interval(own)} stands on "
        f"{behind}{zero}."
    )


def _early(claim: Claim) -> str:
    few = count(int(claim["enough"].value), "person", "people")
    return f"With {few} this is exploratory: 15 are needed for an estimate."


def _naive(claim: Claim, voice: Voice) -> tuple[str, ...]:
    """Before and after, and how much of it the same history brings anyway."""
    plain, back = claim["before_after"], claim["return"]
    sizes = [difference(m.value, places(m.low, m.high), m.unit) for m in (plain, back)]
    return (
        f"Before and after alone: {sizes[0]}. "
        f"That includes the ordinary return after such a stretch, here {sizes[1]}.",
    )


def _why(claim: Claim, voice: Voice) -> tuple[str, ...]:
    """How many events were made for which reason, and what that allows."""
    counts = {k: int(m.value) for k in BECAUSE if (m := claim.get(f"because_{k}"))}
    if not counts:
        return ()
    total = sum(counts.values())
    if len(counts) == 1:
        reason = next(iter(counts))
        said = (
            f"All {total} events were {BECAUSE[reason]}."
            if total > 1
            else f"The event was {BECAUSE[reason]}."
        )
        return (said, voice.fill(ALLOWS[reason]))
    told = listed([f"{n} {BECAUSE[k]}" for k, n in counts.items()])
    worst = next(k for k in ("unsaid", "pain", "other", "planned") if k in counts)
    return (f"Of {total} events, {told}.", voice.fill(ALLOWS[worst]))


def _left(claim: Claim, voice: Voice) -> tuple[str, ...]:
    """Events that are not compared, by why."""
    told = [
        f"{m.value:.0f} {voice.fill(text)}" for k, text in LEFT.items() if (m := claim.get(k)) and m.value
    ]
    return (f"Not compared: {listed(told)}.",) if told else ()


def hidden_trigger(found: Measured, claim: Claim, voice: Voice) -> str:
    """The size that a trigger which nobody rated could have at this record's size."""
    size = difference(found.value, places(found.low, found.high), found.unit)
    return (
        f"No comparison removes what set an event off and was never rated. At this record's size it alone "
        f"would make {voice.asked} {size} after {event(claim['kind'])}, at a true difference of 0."
    )
