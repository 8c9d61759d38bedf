"""How the write-up prints numbers: as every room does, and shares and chances in natural frequencies."""

from __future__ import annotations

from lagwise.core.numbers import (
    MINUS,
    SPACE,
    chance,
    decimals,
    fixed,
    limits_text,
    plural,
    signed,
    significant,
    size,
    span,
    whole,
    with_unit,
)
from lagwise.writeup.share_counts import FEW

__all__ = [
    "MINUS",
    "SPACE",
    "chance",
    "decimals",
    "fixed",
    "limits_text",
    "people_said",
    "per_hundred",
    "plural",
    "signed",
    "significant",
    "size",
    "span",
    "whole",
    "with_unit",
]


def people_said(count: float | None) -> str:
    """'1 person', '38 people'; people who are not counted, being few, are 'fewer than 5 people'."""
    return f"{FEW} people" if count is None else plural(count, "person", "people")


def per_hundred(share: float | None, places: int = 0) -> str:
    """A proportion as so many of 100."""
    return "\u2013" if share is None else fixed(100 * share, places)
