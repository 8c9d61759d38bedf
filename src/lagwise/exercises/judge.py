"""An answer beside its key: right, a known slip, close, or not yet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from lagwise.core.errors import LagwiseError
from lagwise.core.words import listed
from lagwise.exercises.answers import unanswered, understood
from lagwise.exercises.sentence import lacking
from lagwise.exercises.task import Key, Part, Result
from lagwise.exercises.world import World
from lagwise.say.exercises import CARRIED, IMPOSSIBLE, NOT_YET, RIGHT, TEXTS, UNANSWERED, marked

NOTHING: Mapping[str, tuple[Any, bool]] = MappingProxyType({})
SLACK = 1e-9  # an answer on the edge of the tolerance is in, whatever the rounding of binary numbers
CLOSE = 5
"""An answer within so many tolerances is called close."""


def judge(part: Part, answer: Any, world: World, earlier: Mapping[str, tuple[Any, bool]] = NOTHING) -> Result:
    """What an answer comes to. Nothing that a student can type raises an error.

    `earlier` holds the answers to earlier parts as values, and whether each is right.
    """
    try:
        key = part.key(world)
    except LagwiseError as error:
        return Result(part.name, IMPOSSIBLE, f"{error.what[:1].upper()}{error.what[1:]}.")
    if unanswered(answer):
        return Result(part.name, UNANSWERED)
    value, complaint = understood(part, answer)
    if complaint:
        return Result(part.name, NOT_YET, complaint)
    if part.kind == "text":
        lacks = lacking(value, key.value)
        return Result(part.name, NOT_YET, lacks) if lacks else Result(part.name, RIGHT, key.right)
    if meets(value, key.value, key.tolerance):
        return Result(part.name, RIGHT, key.right)
    wrong = [name for name in key.builds_on if name in earlier and not earlier[name][1]]
    if wrong and key.rework and all(name in earlier for name in key.builds_on):
        own = key.rework(*(earlier[name][0] for name in key.builds_on))
        if meets(value, own, key.tolerance):
            return Result(part.name, CARRIED, TEXTS["carried"].format(on=listed(wrong)))
    met = [slip for slip in key.slips if meets(value, slip.value, key.tolerance)]
    if met:
        nearest = (
            min(met, key=lambda slip: abs(value - slip.value)) if part.kind in ("number", "count") else met[0]
        )
        return Result(part.name, NOT_YET, nearest.says)
    return Result(part.name, NOT_YET, _otherwise(part, value, key))


def meets(value: Any, wanted: Any, tolerance: float) -> bool:
    """Whether a value is the wanted one, within the tolerance where it is a number."""
    if isinstance(wanted, float | int) and isinstance(value, float | int):
        return math.isfinite(wanted) and abs(value - wanted) <= tolerance + SLACK
    return bool(value == wanted)


def _otherwise(part: Part, value: Any, key: Key) -> str:
    if part.kind == "sentences":
        hit = len(value & key.value)
        return marked(len(value), hit, len(key.value) - hit)
    if part.kind == "choice":
        return TEXTS["choose_again"]
    if meets(-value, key.value, key.tolerance):
        return TEXTS["turned"]
    if abs(value - key.value) <= CLOSE * key.tolerance:
        return TEXTS["close"].format(tolerance=key.tolerance)
    return TEXTS["other"]
