"""Words of the attempts to break a comparison of what followed an event."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from lagwise.core.claim import NOTHING, Claim, Measured
from lagwise.core.numbers import fixed
from lagwise.say.changes.followed import hidden_trigger
from lagwise.say.changes.kinds import event
from lagwise.say.phrases import difference, places, plural, said, span
from lagwise.say.voice import Voice


@dataclass(frozen=True)
class AttemptWords:
    """What one attempt is called, asks and cannot show, its sentence, and the labels of its numbers."""

    TITLE: str
    QUESTION: str
    LIMITS: str
    sentence: Callable[[Claim, Voice], str]
    LABELS: Mapping[str, str] = field(default_factory=lambda: NOTHING)


def _size(m: Measured) -> str:
    return difference(m.value, places(m.low, m.high), m.unit)


def _false(c: Claim, v: Voice) -> str:
    own, mean, spread = c["own"], c["mean"], c["spread"]
    among = ""
    if c.verdict == "does_not_hold":
        reading = "That is more than a quarter of the smallest important change."
    elif c.verdict == "holds":
        more = "That is more than the draw of dates explains, and too little to change the reading."
        reading = more if mean.side else "That is no more than the draw of dates explains."
    elif spread.low <= own.value <= spread.high:
        reading, among = "", " The real difference lies among them."
    else:
        reading = "That is more than the draw of dates explains, and enough to change the reading."
    return (
        f"Moved to {plural(c['draws'].value, 'set')} of false dates, events were followed by {v.asked} "
        f"{_size(mean)} on average. {reading}{' ' * bool(reading)}95 of 100 ranged from "
        f"{span(spread.low, spread.high, places(mean.low, mean.high), spread.unit)}.{among}"
    )


def _before(c: Claim, v: Voice) -> str:
    m = c["before"]
    return f"The last rating before {event(c['kind'])} was {said(m)} than the {v.steps} before it let expect."


def _unmoved(c: Claim, v: Voice) -> str:
    name, m = v.variables[c["rating"]].label, c["found"]
    kept = (
        "Its interval includes 0." if c.verdict == "holds" else "So something else changed, or people differ."
    )
    return f"After {event(c['kind'])}, {name} was {said(m)} than in comparable {v.steps}. {kept}"


def _one(c: Claim, v: Voice) -> str:
    without, turned = c.get("without"), c["turned"]
    if turned.value:
        who = f"{turned.value:.0f} {turned.unit}"
        return f"Leaving out {who}, one at a time, changes whether the interval includes 0."
    if without is None:
        return "Nobody's leaving changes the reading."
    ends = span(without.low, without.high, places(c["own"].low, c["own"].high), without.unit)
    return f"Without one person at a time the difference ranges from {ends}."


def _other(c: Claim, v: Voice) -> str:
    left = c.get("left")
    if "found" not in c.numbers:
        return f"No event of another kind came within {plural(c['first'], v.step)} of one."
    without = f"Without those that another kind followed within {plural(c['first'], v.step)}"
    if left is None:
        return f"{without}, the difference is {said(c['found'])}."
    are = f"{left.value:.0f} {left.unit} events are left"
    return f"{without}, {are}. The difference is then {said(c['found'])}."


def _own_step(c: Claim, v: Voice) -> str:
    if "found" not in c.numbers:
        return f"Every event is dated after the rating of its own {v.step}."
    moved = c.get("moved")
    which = "" if moved is None else f" This concerns {plural(math.trunc(moved.value), 'event')}."
    return (
        f"The rating of the event's own {v.step} is taken for one before it.{which} The difference is then "
        f"{said(c['found'])}."
    )


def _choices(c: Claim, v: Voice) -> str:
    every = [m for k, m in c.measured.items() if k.startswith("first_")]
    low, high = min(every, key=lambda m: m.value), max(every, key=lambda m: m.value)
    apart = sum(m.side != 0 for m in every)
    digits = max(places(m.low, m.high) for m in (low, high))
    return (
        f"Tried were the first 2 to 8 {v.steps}, with 1 to 6 earlier ratings held equal. The difference "
        f"ranges from {span(low.value, high.value, digits, low.unit)}. {apart} of {len(every)} intervals "
        "leave out 0."
    )


def _truth(c: Claim, v: Voice) -> str:
    zero, cover, unlogged = c["logged_0"], c["logged_0_coverage"], c["unlogged_0"]
    return (
        f"In {c['draws'].value:.0f} simulated records of this size with a true 0 and events set off by the "
        f"rating, the comparison was off by {fixed(abs(zero.value), v.outcome.places)} {zero.unit}. "
        f"An interval as wide as the one here covered it in {100 * cover.value:.0f} of 100. "
        f"{hidden_trigger(unlogged, c, v)}"
    )


WORDS: Mapping[str, AttemptWords] = {
    "false_dates": AttemptWords(
        "False dates",
        "Would the same comparison find a difference where there was no event?",
        "It checks the comparison and is no test of the difference; an unrated trigger moves nothing here.",
        _false,
        {
            "own": "with the real dates",
            "mean": "mean over false dates",
            "spread": "middle 95 of 100 false dates",
            "draws": "sets of false dates",
        },
    ),
    "rating_before": AttemptWords(
        "The rating before",
        "Did a bad {step} set the events off?",
        "It shows the trigger as far as it was rated, and says nothing of what followed.",
        _before,
        {"before": "last rating before, against what its history lets expect"},
    ),
    "rating_that_cannot_answer": AttemptWords(
        "A rating that could hardly answer",
        "Did something move that the event should not have moved?",
        "A rating that stays is no proof: what sets events off may leave it alone.",
        _unmoved,
        {"found": "difference in that rating"},
    ),
    "one_person_out": AttemptWords(
        "Leave one person out",
        "Does the reading rest on any one person?",
        "Two or three people alike can carry a result together and go unseen.",
        _one,
        {
            "own": "with everybody",
            "turned": "people whose leaving changes the reading",
            "without": "without one person",
        },
    ),
    "other_events": AttemptWords(
        "Other events soon after",
        "Is it another event that was followed by the difference?",
        "Events that nobody entered are not known of.",
        _other,
        {"own": "all events", "found": "without those", "left": "events left"},
    ),
    "own_step": AttemptWords(
        "The {step} of the event",
        "Does it matter whether the rating of the event's own {step} counts as before or after it?",
        "The dates decide; where they are those of the {step} and not of the event, nothing does.",
        _own_step,
        {"own": "by the dates", "found": "with that rating before", "moved": "events it concerns"},
    ),
    "horizon_and_history": AttemptWords(
        "Another horizon, another history",
        "Does the reading hang on how far ahead and back one looks?",
        "All of them hold equal only what is in the log.",
        _choices,
    ),
    "truth_at_this_size": AttemptWords(
        "Known truth at this size",
        "What does this comparison find where the truth is known?",
        "Simulated people have the carry-over and rating error of these records and are otherwise simpler.",
        _truth,
        {
            "draws": "simulated records",
            "logged_0": "off by, at a true 0",
            "logged_0_coverage": "intervals that hold it",
            "logged_important": "off by, at an important difference",
            "logged_important_coverage": "intervals that hold that",
            "unlogged_0": "at a true 0 and an unrated trigger",
            "unlogged_0_coverage": "intervals that hold 0 then",
        },
    ),
}


def label(found: Measured, voice: Voice) -> str:
    """'first 4 weeks, 3 ratings held equal': numbers of the attempt with other horizons and histories."""
    first, ratings = found.of
    return f"first {first} {voice.steps}, {plural(ratings, 'earlier rating')} held equal"


LABELS = {"drawn": "people drawn for this"}
"""Of numbers that any attempt may hold."""


def drawn(claim: Claim) -> str:
    """That an attempt was made on some of the people; empty where it was made on all."""
    some = claim.get("drawn")
    return "" if some is None else f" This was tried on {some.value:.0f} {some.unit} people, drawn at random."
