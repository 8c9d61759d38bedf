"""Words of the challenge of missing steps."""

from __future__ import annotations

import math

from lagwise.challenges.missing_steps import EARLY
from lagwise.core.claim import Claim, Measured
from lagwise.core.numbers import MINUS
from lagwise.core.study import INTERVAL
from lagwise.say.challenge import Caption
from lagwise.say.phrases import capital, difference, fixed, interval, places, plural, sample, stays
from lagwise.say.voice import Voice

TITLE = "Missing {steps}"
QUESTION = "Would the {steps} that are missing have changed the reading?"
LIMITS = (
    "It fills gaps between a person's first and last record and the one {step} after somebody left early; "
    "what came later is not filled in. Filled values follow the recorded ones, and the shift tried on top "
    "is the same for everybody. What is missing for reasons tied to {exposure} and {outcome} at once can "
    "differ in other ways."
)
LABELS = {
    "plain": "recorded alone",
    "filled": "missing filled in",
    "tipping": "smallest shift that changes the reading",
    "without": lambda v: f"{v.steps} without {v.a_rating}",
    "no_load": "{steps} without known load",
    "early": "left early",
    "last": "last recorded {outcome} of people who left early, from their own mean",
    "before": "{outcome} of the {step} before, from the person's mean: before missing less before recorded",
    "span": "lowest and highest estimate over all shifts",
    "missing": "information missing",
    "lost": lambda v: f"{v.asked} of {v.then} unrecorded after the contrast",
}
SHORT = {
    "holds": "only very different missing {steps} would change the reading",
    "does_not_hold": "filling in what is missing changes the reading",
    "cannot_tell": "missing {steps} could differ enough to change the reading",
}
MOVES = ("plain", "filled")


def label(found: Measured, v: Voice) -> str:
    """The estimate with filled values shifted."""
    return f"filled {v.outcome.label} shifted by {found.of[0]:+g}".replace("-", MINUS)


def sentence(c: Claim, v: Voice) -> str:
    """What is missing, what filling it in does to the estimate, who left early, and how that reads."""
    plain, decimals, m = c["plain"], places(c["plain"].low, c["plain"].high), c.get("imputations")
    behind = "" if m is None else plural(int(m.value), "imputation"), sample(c["primary"], v.step)
    told = "; ".join(filter(None, (interval(c["filled"], decimals), *behind)))
    parts = (
        _missing(c, v),
        f"In a model without person slopes the estimate is {fixed(plain.value, decimals)} {v.unit} "
        f"({interval(plain, decimals)}). With what is missing filled in it is "
        f"{fixed(c['filled'].value, decimals)} {v.unit} ({told}). With filled {v.outcome.label} shifted, "
        f"{_tipping(c, v)}.",
        _left(c, v),
        _reading(c, v),
    )
    return " ".join(filter(None, parts))


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the estimate over the shifts."""
    without = f"{100 * c['without'].value:.0f} of 100 {v.steps} without {v.a_rating}"
    return Caption(
        f"The estimate if missing {v.outcome.label} was lower or higher than filled in",
        f"shift of filled {v.outcome.label}, {v.unit}",
        f"Filled in: {_filled(c, v)}; {_tipping(c, v)}.",
        v.difference(c),
        {"subtitle": "; ".join(part for part in (without, sample(c["primary"], v.step)) if part)},
    )


def _missing(c: Claim, v: Voice) -> str:
    """How much is missing; empty where it may not be shown."""
    without, load = c.get("without"), c.get("no_load")
    if without is None:
        return ""
    loads = "" if load is None else f" and {100 * load.value:.0f} of 100 no known load"
    return f"{100 * without.value:.0f} of 100 {v.steps} have no {v.asked} rating{loads}."


def _filled(c: Claim, v: Voice) -> str:
    decimals = places(c["plain"].low, c["plain"].high)
    return f"{fixed(c['filled'].value, decimals)} {v.unit} ({interval(c['filled'], decimals)})"


def _tipping(c: Claim, v: Voice) -> str:
    at = c.get("tipping")
    if at is None or math.isnan(at.value):
        widest = max(abs(found.of[0]) for found in c.measured.values() if found.of)
        return f"it changes at no shift tried, up to {widest:g} {v.unit} either way"
    return f"it first changes at {fixed(at.value, v.outcome.places - 1)} {v.unit}"


def _reading(c: Claim, v: Voice) -> str:
    if c.verdict == "does_not_hold":
        return "Filling in what is missing changes the reading."
    if c.verdict == "holds":
        only = (
            f"The reading changes only if the missing {v.step}s were very different from the recorded ones."
        )
        return only + stays(c["plain"].side)
    return {
        "left_worse": f"People left {v.on} worse {v.step}s than their own usual, so that what they did not "
        "record is not like what they did.",
        "tied": f"{capital(v.asked)} of {v.then} goes unrecorded {_often(c.get('lost'))} "
        f"after {v.more(c)}. Were it also high or low {v.step}s that go unrecorded, no filling could undo "
        "it.",
        "shifts": f"Missing {v.step}s that are worse or better than the recorded ones by an amount that can "
        "happen would change the reading.",
    }[c.reason]


def _often(lost: Measured | None) -> str:
    """'4 of 100 times more often (95 % interval 2 to 6)'; without figures where they may not be shown."""
    if lost is None:
        return "more, or less, often"
    low, high = sorted((abs(lost.low), abs(lost.high)))
    way = "more" if lost.value > 0 else "less"
    around = f"({100 * INTERVAL:g} % interval {low:.0f} to {high:.0f})"
    return f"{abs(lost.value):.0f} of 100 times {way} often {around}"


def _left(c: Claim, v: Voice) -> str:
    """How many left early and how they were when last heard of; empty where nobody did or it may not be
    shown.
    """
    early, last = c.get("early"), c.get("last")
    if early is None or early.people is None or not early.value:
        return ""
    who = plural(early.people, "person", "people")
    told = f"{early.value:.0f} of {who} left early (record {EARLY} {v.step}s or more short)"
    if last is None or math.isnan(last.value):
        return f"{told}."
    decimals = places(last.low, last.high)
    size = difference(last.value, decimals, v.unit)
    around = interval(last, decimals)
    return f"{told}. Their last recorded {v.outcome.label} was {size} than their own mean ({around})."
