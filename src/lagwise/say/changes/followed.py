"""What followed an event, in words, by what there is of it and why the events were made."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from lagwise.core.claim import Claim, Measured
from lagwise.core.numbers import fixed
from lagwise.core.words import capital
from lagwise.events.asked import ESTIMATE
from lagwise.say.changes.kinds import event, heading
from lagwise.say.phrases import difference, interval, listed, places, plural
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
    "left_thin": "with most of the {step}s after it unrated",
}
NONE = {
    "few_ratings": "none has three ratings before it and another after it",
    "nobody_at_risk": "nobody at risk of it has three ratings of {outcome} and another after them",
    "none_alike": "no {step} without it is like those with it: near on the calendar, and as likely by its "
    "history",
}
"""Why nothing can be compared, by reason code."""


FIRST_OF_ALL = ("unsaid", "pain", "other", "planned")
"""Reasons, the one that allows least first."""


def sentences(claim: Claim, voice: Voice, *, reasons: bool = True, left: bool = True) -> tuple[str, ...]:
    """What was found, what before and after says, why the events were made (`reasons`), and which are left
    out (`left`)."""
    more = (*(_why(claim, voice) if reasons else ()), *(_left(claim, voice) if left else ()))
    reason = claim.reason.partition(".")[0]
    if reason == "none":
        why = NONE.get(claim["why"], claim["why"])
        return (
            f"What came after {event(claim['kind'])} cannot be compared: {voice.fill(why)}.",
            *more,
        )
    if reason == "picture":
        n = math.trunc(claim["enough"].value)
        few = plural(n, "person has", "people have") if n else "Nobody has"
        about = f"three ratings both before and after {event(claim['kind'])}"
        told = f"{few} {about}{': too few for an estimate' if n else ''}."
        return (told, *more)
    early = reason == "exploratory"
    return (
        _found(claim, voice),
        *([_early(claim)] if early else []),
        *_naive(claim),
        *more,
    )


def _found(claim: Claim, voice: Voice) -> str:
    """The doubly robust difference with its interval and denominators."""
    own, asked = claim["risk_set"], voice.asked
    size = _sized(own)
    than = f"{size} than expected" if size else "about as expected"
    others = plural(math.trunc(claim["others"].value), "person", "people")
    behind = f"{plural(own.people or 0, 'event')} and on {voice.steps} without one of {others}"
    zero = "" if own.side else ", and includes 0"
    return (
        f"After {event(claim['kind'])}, {asked} over {plural(claim['first'], voice.step)} averaged {than} "
        f"from {voice.steps} of the same history without it. The {interval(own)} stands on "
        f"{behind}{zero}."
    )


def _sized(found: Measured) -> str:
    """'0.4 points lower'; empty where it is 0 at the digits its interval supports."""
    digits = places(found.low, found.high)
    return difference(found.value, digits, found.unit) if round(found.value, digits) else ""


def _early(claim: Claim) -> str:
    few = plural(math.trunc(claim["enough"].value), "person has", "people have")
    least = f"with fewer than {ESTIMATE} such people this is exploratory"
    return f"{few} three ratings both before and after it; {least}."


def _naive(claim: Claim) -> tuple[str, ...]:
    """Before and after, and how much of it the same history brings anyway."""
    plain, back = claim["before_after"], claim["return"]
    sizes = [_sized(m) or f"about 0 {m.unit}" for m in (plain, back)]
    return (
        f"Before and after alone: {sizes[0]}. "
        f"That includes the ordinary return after such a stretch, here {sizes[1]}.",
    )


def _why(claim: Claim, voice: Voice) -> tuple[str, ...]:
    """How many events were made for which reason, and what that allows."""
    counts = {k: math.trunc(m.value) for k in BECAUSE if (m := claim.get(f"because_{k}"))}
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
    told = listed([f"{n} {'was' if n == 1 else 'were'} {BECAUSE[k]}" for k, n in counts.items()])
    worst = next(k for k in FIRST_OF_ALL if k in counts)
    return (f"Of {total} events, {told}.", voice.fill(ALLOWS[worst]))


def _left(claim: Claim, voice: Voice) -> tuple[str, ...]:
    """Events that are not compared, by why."""
    told = [
        f"{m.value:.0f} {voice.fill(text)}" for k, text in LEFT.items() if (m := claim.get(k)) and m.value
    ]
    return (f"Not compared: {'; '.join(told)}.",) if told else ()


def hidden_trigger(found: Measured, claim: Claim, voice: Voice) -> str:
    """The size that a trigger which nobody rated could have at this record's size."""
    size = difference(found.value, places(found.low, found.high), found.unit)
    return (
        f"No comparison removes what set an event off and was never rated. At this record's size it alone "
        f"would make {voice.asked} {size} after {event(claim['kind'])}, at a true difference of 0."
    )


def captioned(claim: Claim, rows: Sequence[Mapping[Any, Any]], voice: Voice) -> dict[str, Any]:
    """Title, axis labels, alternative text and options of the picture of a course around events."""
    title = f"{capital(voice.asked)} before and after {event(claim['kind'])}"
    first, own = int(claim["first"]), claim.get("risk_set")
    after = [r for r in rows if 1 <= r["x"] <= first and r["value"] is not None and r["expected"] is not None]
    n = max((int(r["n"]) for r in rows), default=0)
    alt = f"{title}, mean over up to {plural(n, 'event')}."
    of = "" if own is None else f" ({plural(own.people or 0, 'event')})"
    if after:
        places = voice.outcome.places - 1
        seen, expected = (sum(r[k] for r in after) / len(after) for k in ("value", "expected"))
        alt += (
            f" Over the first {first} {voice.steps} it was {fixed(seen, places)}, and "
            f"{fixed(expected, places)} was expected without the event."
        )
    low, high = voice.outcome.low, voice.outcome.high
    if high is None or voice.unit == "hours":
        known = [r[k] for r in rows for k in ("low", "high", "value", "expected") if r[k] is not None]
        low, high = math.floor(min(known)), math.ceil(max(known))
    return {
        "title": title,
        "x": f"{voice.steps} from the event (0: the last rating before it)",
        "y": f"{voice.asked}, {voice.unit}",
        "alt": alt,
        "options": {
            "first": first,
            "low": low,
            "high": high,
            "subtitle": f"up to {plural(n, 'event')} {voice.on} each {voice.step}; shaded: the {first} "
            f"{voice.steps} whose mean is compared{of}",
            "observed": "as rated, mean with 95 % interval",
            "expected": "expected without it, from the same history",
            "event": capital(heading(claim["kind"])),
        },
    }
