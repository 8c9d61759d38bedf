"""Numbers of claims in words: sequence, not cause; units and denominators always, and nothing where a number
may not be shown."""

from __future__ import annotations

from lagwise.challenges.phrases import capital, count, difference, fixed, listed, places, span, stays
from lagwise.challenges.phrases import interval as interval_of
from lagwise.core.claim import Measured

__all__ = [
    "after", "capital", "count", "difference", "fixed", "interval", "listed", "p_text", "places", "said", "sample",
    "span", "stays",
]  # fmt: skip


def interval(found: Measured, decimals: int | None = None, unit: str = "") -> str:
    """'95 % interval 0.31 points lower to 0.41 points higher'."""
    return interval_of(found.low, found.high, decimals, unit or found.unit)


def said(found: Measured, unit: str = "") -> str:
    """'0.32 points higher (95 % interval 0.18 to 0.45 points higher)'."""
    decimals = places(found.low, found.high)
    size = difference(found.value, decimals, unit or found.unit)
    around = interval(found, decimals, unit)
    return f"{size[:-1]}; {around})" if size.endswith(")") else f"{size} ({around})"


def sample(found: Measured, step: str, kind: str = "") -> str:
    """The denominators: '38 people, 712 person-weeks'; empty where they may not be shown."""
    if found.people is None or found.steps is None:
        return ""
    return f"{count(found.people, 'person', 'people')}, {count(found.steps, f'{kind}person-{step}')}"


def after(found: Measured, step: str, before: str = "") -> str:
    """The denominators in brackets after a space, with what stands before them there; empty where there is
    neither."""
    inside = "; ".join(part for part in (before, sample(found, step)) if part)
    return f" ({inside})" if inside else ""


def p_text(p: Measured) -> str:
    """A p-value: 'p = 0.031', 'p < 0.001' below that, 'p at most 0.05' of a bound."""
    if p.at_most:
        return f"p at most {p.value:g}"
    if p.value < 0.001:
        return "p < 0.001"
    return f"p = {p.value:.3f}" if p.value < 0.1 else f"p = {p.value:.2f}"
