"""Numbers of claims in words: sequence, not cause; units and denominators always, and nothing where a number
may not be shown."""

from __future__ import annotations

import math

from lagwise.core import numbers
from lagwise.core.claim import Claim, Measured
from lagwise.core.errors import ModelError
from lagwise.core.numbers import MINUS, plural
from lagwise.core.numbers import decimals as places
from lagwise.core.study import INTERVAL
from lagwise.core.words import capital, listed, ways

__all__ = [
    "MINUS",
    "after",
    "asked",
    "at",
    "capital",
    "difference",
    "fixed",
    "interval",
    "interval_of",
    "listed",
    "p_text",
    "places",
    "plural",
    "said",
    "sample",
    "span",
    "stays",
    "told",
]


def fixed(value: float, decimals: int) -> str:
    """A number with so many decimals and a true minus sign.

    Raises
    ------
    ModelError
        When there is no number: a challenge that could not compute one says so instead of printing it.
    """
    if not math.isfinite(value):
        raise ModelError("one of its figures could not be computed")
    return numbers.fixed(value, decimals)


def _sized(value: float, decimals: int, unit: str) -> str:
    return numbers.with_unit(fixed(abs(value), decimals), unit)


def difference(value: float, decimals: int, unit: str = "points") -> str:
    """'0.42 points higher', '0.42 points lower', 'no higher or lower at two decimals'; of hours
    longer, shorter, 'neither longer nor shorter'."""
    up, down = ways(unit)
    if round(abs(value), decimals) == 0:
        none = f"neither {up} nor {down}" if unit == "hours" else f"no {up} or {down}"  # not 'no longer'
        return f"{none} {at(decimals)}"
    return f"{_sized(value, decimals, unit)} {up if value > 0 else down}"


def at(decimals: int) -> str:
    """How closely a number was looked at: 'at two decimals', 'in whole numbers'."""
    named = ("in whole numbers", "at one decimal", "at two decimals", "at three decimals", "at four decimals")
    return named[decimals]


def span(low: float, high: float, decimals: int, unit: str = "points") -> str:
    """'0.31 points lower to 0.41 points higher': an interval with its directions in words; none of an end
    that is 0 at these decimals."""
    low, high = (0.0 if round(abs(end), decimals) == 0 else end for end in (low, high))
    up, down = ways(unit)
    if low >= 0:
        return f"{fixed(low, decimals)} to {fixed(high, decimals)} {unit} {up}"
    if high <= 0:
        return f"{fixed(-low, decimals)} to {fixed(-high, decimals)} {unit} {down}"
    return f"{_sized(low, decimals, unit)} {down} to {_sized(high, decimals, unit)} {up}"


def interval_of(low: float, high: float, decimals: int | None = None, unit: str = "points") -> str:
    """'95 % interval 0.31 points lower to 0.41 points higher'."""
    decimals = places(low, high) if decimals is None else decimals
    return f"{100 * INTERVAL:g} % interval {span(low, high, decimals, unit)}"


def interval(found: Measured, decimals: int | None = None, unit: str = "") -> str:
    """The interval of a number in its own unit where none is given."""
    return interval_of(found.low, found.high, decimals, unit or found.unit)


def stays(side: int) -> str:
    """What 'holds' means of a primary interval that includes 0 (`side` 0), to stand after a reading; else
    empty.
    """
    return "" if side else " What held is that the interval includes 0, which is no confirmation."


def said(found: Measured, unit: str = "") -> str:
    """'0.32 points higher (95 % interval 0.18 to 0.45 points higher)'."""
    decimals = places(found.low, found.high)
    size = difference(found.value, decimals, unit or found.unit)
    around = interval(found, decimals, unit)
    return f"{size[:-1]}; {around})" if size.endswith(")") else f"{size} ({around})"


def told(found: Measured, step: str, unit: str = "") -> str:
    """As `said`, the denominators in the same brackets: '0.32 points higher (95 % interval 0.18 to 0.45
    points higher; 38 people, 712 person-weeks)'."""
    text, behind = said(found, unit), sample(found, step)
    return f"{text[:-1]}; {behind})" if behind else text


def sample(found: Measured, step: str, kind: str = "") -> str:
    """The denominators: '38 people, 712 person-weeks'; empty where they may not be shown."""
    if found.people is None or found.steps is None:
        return ""
    return f"{plural(found.people, 'person', 'people')}, {plural(found.steps, f'{kind}person-{step}')}"


def after(found: Measured, step: str, before: str = "") -> str:
    """The denominators in brackets after a space, with what stands before them there; empty where there is
    neither."""
    inside = "; ".join(part for part in (before, sample(found, step)) if part)
    return f" ({inside})" if inside else ""


def asked(claim: Claim) -> str:
    """That a challenge was asked of some of many people, as a sentence before others; empty where of all."""
    found = claim.get("asked")
    return f"{found.value:.0f} people were asked, taken evenly through the record. " if found else ""


def p_text(p: Measured) -> str:
    """A p-value: 'p = 0.031', 'p < 0.001' below that, 'p at most 0.05' of a bound."""
    if p.at_most:
        return f"p at most {p.value:g}"
    if p.value < 0.001:
        return "p < 0.001"
    return f"p = {p.value:.3f}" if p.value < 0.1 else f"p = {p.value:.2f}"
