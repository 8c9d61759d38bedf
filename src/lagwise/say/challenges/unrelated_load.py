"""Words of the challenge that asks about one exercise group at a time."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.claim import Claim, Measured
from lagwise.say.challenge import Caption, side
from lagwise.say.phrases import after, capital, difference, fixed, listed, places, said
from lagwise.say.voice import Voice

TITLE = "Load of other groups"
QUESTION = (
    "Is what was seen for load there for the exercises that bear on the {outcome}, and not for the others?"
)
LIMITS = (
    "Groups are what study.toml says they are. Where most lifts load several regions at once, or people "
    "train everything harder {in} the same {step}, load of another group is no clean control. A sequel of "
    "training as a whole is seen for every group alike. A group trained seldom says little either way."
)
LABELS = {
    "primary": "all exercises",
    "own_region": "own region",
    "other_regions": "other regions",
    "apart": "own region less other regions",
    "parts": "parts asked about",
}
SHORT = {
    "holds": "seen for the region that hurts more than for others",
    "does_not_hold": "the load of the region that hurts tells otherwise",
    "elsewhere": "load of regions that do not hurt is followed by it too",
    "cannot_tell": "the regions cannot be told apart",
    "informative": "which group bears on the {outcome} is not known",
}
MOVES = ("primary", "own_region")
READINGS = {
    "own": "It is seen for the region that hurts more than for the others.",
    "others": "It is seen for regions that do not hurt more than for the one that does.",
    "otherwise": "The load of the region that hurts reads otherwise than all load together.",
    "both": (
        "Load of regions that do not hurt is followed by a difference as well, so it is not shown to be "
        "particular to the one that does."
    ),
    "": "The regions cannot be told apart here.",
}


def elsewhere(rows: Mapping[str, Mapping[str, float | None]]) -> bool:
    """Whether load of regions that do not hurt is followed by a difference on the side of the answer."""
    own, other = (side(rows.get(key)) for key in ("primary", "other_regions"))
    return own != 0 and own == other


def label(found: Measured, v: Voice) -> str:
    """An exercise group's own name."""
    return str(found.of[0])


def sentence(c: Claim, v: Voice) -> str:
    """What was seen for each part, and whether it is particular to the region that hurts."""
    seen, denominators = _seen(c, v), after(c["primary"], v.step)
    if not seen:
        return f"With all exercises the difference is {said(c['primary'])}. {_groups([], v)}"
    reading = READINGS[c.reason] if c.verdict != "informative" else _groups(_parts(c), v)
    asked = f"{v.outcome.label} {v.on} the {v.step} after {v.more(c)}"
    return f"Asked is {asked}{denominators}. {seen} {reading}"


def _parts(c: Claim) -> list[Measured]:
    """The parts that may be named, in order."""
    return [found for found in c.measured.values() if found.of]


def _seen(c: Claim, v: Voice) -> str:
    """Both regions with their intervals, or the ends of the range over groups; empty where none is named."""
    parts = _parts(c)
    if "own_region" in c.numbers:
        own, other = said(c["own_region"]), said(c["other_regions"])
        return (
            f"By exercises for the region that hurts alone it was {own}. By other exercises alone it was "
            f"{other}."
        )
    if len(parts) < 2:
        return "".join(f"By exercises for the {found.of[0]} alone it was {said(found)}." for found in parts)
    decimals = places(min(found.low for found in parts), max(found.high for found in parts))
    ends = sorted(parts, key=lambda found: found.value)
    low, high = (f"{difference(e.value, decimals, v.unit)} ({e.of[0]})" for e in (ends[0], ends[-1]))
    return f"By one exercise group alone it was from {low} to {high}."


def _groups(parts: list[Measured], v: Voice) -> str:
    """The reading where it is not known which group bears on the outcome."""
    unknown = f"Which group bears on the {v.outcome.label} is not known here."
    if not parts:
        return unknown
    seen = [str(found.of[0]) for found in parts if found.side]
    what = f"Intervals leave out 0 for {listed(seen)}." if seen else "Every interval includes 0."
    one = len(seen) == 1 and len(parts) > 2
    chance = " With so many asked about, one may do so by chance." if one else ""
    return f"{what}{chance} {unknown}"


def caption(c: Claim, v: Voice) -> Caption:
    """The picture of the parts of the load."""
    shown = {name: found for name, found in c.measured.items() if found.told and name != "parts"}
    decimals = places(min(found.low for found in shown.values()), max(found.high for found in shown.values()))
    named = [f"{LABELS.get(k) or label(m, v)}: {fixed(m.value, decimals)} {v.unit}" for k, m in shown.items()]
    return Caption(
        "The difference if all of the load above usual came from one part of the training",
        f"difference in {v.outcome.label}, {v.unit}, {c['contrast']} load",
        capital("; ".join(named) + "."),
    )
