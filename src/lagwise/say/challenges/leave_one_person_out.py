"""Words of the challenge that leaves people out, one at a time."""

from __future__ import annotations

from lagwise.core.claim import Claim
from lagwise.say.challenge import Caption
from lagwise.say.phrases import after, fixed, p_text, places, plural, said, stays
from lagwise.say.voice import Voice

TITLE = "Leave one person out"
QUESTION = "Does the reading rest on any one person?"
LIMITS = (
    "It leaves out one person at a time. Two or three people alike can carry a result together and go unseen "
    "here. One whose {exposure} is followed by {outcome} only somewhat more than others' is not told from "
    "chance. It does not say why a person stands apart."
)
LABELS = {
    "everybody": "estimate with everybody",
    "without": "estimates without one person",
    "moved": "largest change",
    "errors": "largest change, in standard errors",
    "farthest": "p of the person who stands farthest apart",
    "share": "largest share of the information that one person brings",
    "turned": "people whose leaving changes the reading",
    "tried": "people left out, those whose leaving moves the estimate most",
}
SHORT = {
    "holds": "nobody's leaving changes the reading",
    "does_not_hold": "without one person the reading is another one",
    "cannot_tell": "whether it rests on single people stays open",
}
MOVES = ("everybody", "without")


def sentence(c: Claim, v: Voice) -> str:
    """The range without one person at a time, the largest change, and the reading; of single people nothing
    where it may not be told."""
    own, without = c["everybody"], c.get("without")
    if without is None:
        return f"With everybody the difference is {said(own)}."
    decimals, unit = places(own.low, own.high), v.unit
    size = fixed(c["moved"].value, decimals)
    largest = f"is {size} {unit}, to {fixed(c['left'].value, decimals)}, without one of them"
    if round(abs(c["moved"].value), decimals) == 0:
        largest = f"is less than {fixed(10**-decimals, decimals)} {unit}"
    return (
        f"Without one person at a time the estimate stays between {_range(c)} {unit}, "
        f"{fixed(own.value, decimals)} with everybody{after(own, v.step)}. The largest change {largest}. "
        f"{_reading(c)}{_tried(c)}"
    )


def _tried(c: Claim) -> str:
    """That of many people some were left out; empty where everybody was."""
    tried = c["tried"]
    if not tried.told:
        return ""
    most = f"the {tried.value} whose leaving moves the estimate most, {tried.unit} people"
    return f" Left out, one at a time, were {most}."


def _range(c: Claim) -> str:
    decimals = places(c["everybody"].low, c["everybody"].high)
    return f"{fixed(c['without'].low, decimals)} and {fixed(c['without'].high, decimals)}"


def _reading(c: Claim) -> str:
    apart = f"stands apart from the others by more than chance gives ({p_text(c['farthest'])})"
    if c.verdict == "does_not_hold":
        brings = f"brings {100 * c['share'].value:.0f} of 100 parts of what is known"
        who = brings if c.reason == "brings" else apart
        return f"One person {who}; without them the reading is another one."
    if c.reason == "chance":
        return (
            f"Leaving out {plural(c['turned'].value, 'person', 'people')} (one at a time) changes the "
            "reading, but by moves that chance gives: the interval ends close to 0."
        )
    if c.reason == "nobody":
        return "Nobody's leaving changes the reading." + stays(c["everybody"].side)
    if c.verdict == "cannot_tell":
        return f"One person {apart}, so that an average which stays undecided does not speak for everybody."
    return f"One person {apart}, yet nobody's leaving changes the reading."


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the estimates without each person."""
    n = int(c["turned"].value)
    who = "one person" if n == 1 else f"any of {n} people"
    return Caption(
        f"Without {who} the reading is another one" if n else "Nobody's leaving changes the reading",
        v.difference(c),
        f"Estimates without one person lie between {_range(c)} {v.unit}. {_reading(c)}",
        "person left out",
        labels={"": "everybody"},
    )
