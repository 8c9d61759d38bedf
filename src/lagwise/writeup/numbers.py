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
)

__all__ = [
    "MINUS",
    "SPACE",
    "chance",
    "decimals",
    "fixed",
    "limits_text",
    "per_hundred",
    "plural",
    "signed",
    "significant",
    "size",
    "span",
    "whole",
]


def per_hundred(share: float | None, places: int = 0) -> str:
    """A proportion as so many of 100."""
    return "\u2013" if share is None else fixed(100 * share, places)
