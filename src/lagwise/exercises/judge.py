"""An answer beside its key: right, a known slip, close, or not yet."""

from __future__ import annotations

import math
import re
from typing import Any

from lagwise.core.errors import LagwiseError
from lagwise.exercises.answers import unanswered, understood
from lagwise.exercises.task import Key, Part, Result
from lagwise.exercises.world import World
from lagwise.say.exercises import IMPOSSIBLE, NOT_YET, RIGHT, TEXTS, UNANSWERED, marked

SLACK = 1e-9  # an answer on the edge of the tolerance is in, whatever the rounding of binary numbers
CLOSE = 5
"""An answer within so many tolerances is called close."""
OF_A_TEXTBOOK = ("relative", "denominator")
"""Rules of the wording check that say what the parts of the answer here say in their own words."""


def judge(part: Part, answer: Any, world: World) -> Result:
    """What an answer comes to. Nothing that a student can type raises an error."""
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


def lacking(text: str, wanted: tuple[float, float, float, tuple[int, ...]]) -> str:
    """What a sentence on a difference still lacks, in a sentence; '' when nothing.

    Parameters
    ----------
    text : str
    wanted : tuple
        Estimate, lower and upper limit, and the counts of which one must stand beside them. Numbers may be
        rounded to 2 decimals.
    """
    from lagwise.writeup.checker import check_text

    estimate, low, high, counts = wanted
    slips = [slip for slip in check_text(text) if slip.rule not in OF_A_TEXTBOOK]
    if slips:
        return TEXTS["too_much"].format(words=slips[0].words, why=slips[0].why)
    numbers = [float(n) for n in re.findall(r"\d+(?:\.\d+)?", text.replace(",", ""))]

    def said(value: float) -> bool:
        return any(abs(n - abs(value)) <= 0.01 + SLACK for n in numbers)

    if not said(estimate):
        return TEXTS["no_size"]
    if not (said(low) and said(high)):
        return TEXTS["no_limits"]
    if not any(n in numbers for n in counts):
        return TEXTS["no_people"]
    wrong = {True: "lower", False: "higher"}[estimate > 0]
    if re.search(rf"\b{wrong}\b", text) and not re.search(
        r"\b(?:higher|lower)\b.*\b(?:lower|higher)\b", text
    ):
        return TEXTS["turned_round"].format(wrong=wrong)
    return ""
