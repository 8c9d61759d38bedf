"""Text that comes from data, made fit for a line of any screen or document, with nothing invisible in it."""

from __future__ import annotations

import html
import unicodedata
from dataclasses import fields, is_dataclass, replace
from typing import Any

TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Marks that set or override the writing direction; letters keep the direction of their own script without
them.
"""
_MARK = "\ufeff"
"""A byte order mark inside a text: invisible, and not allowed in a PDF for all readers (PDF/UA)."""
_BREAKS = frozenset("\t\n\x0b\x0c\r\x1c\x1d\x1e\x1f\x85\u2028\u2029")
_LEFT_OUT = frozenset({"Cc", "Cs", "Co", "Cn"})


def settle(text: str) -> str:
    """The text on one line, without control, direction, private-use and unassigned characters.

    What can be seen stays as it was, `<`, `=` and `{{` included: escaping is the renderer's work.
    """
    if text.isascii() and text.isprintable():
        return text
    kept = (" " if c in _BREAKS else c for c in text)
    return "".join(
        c for c in kept if c not in TURNING and c != _MARK and unicodedata.category(c) not in _LEFT_OUT
    )


def settled[T](part: T) -> T:
    """A content tree, or any part of one, with every text in it settled."""
    found: Any = part
    if isinstance(part, str):
        found = settle(part)
    elif isinstance(part, tuple):
        found = tuple(settled(v) for v in part)
    elif is_dataclass(part) and not isinstance(part, type):
        found = replace(part, **{f.name: settled(getattr(part, f.name)) for f in fields(part)})
    return found


def squeezed(text: str, most: int) -> str:
    """As `shortened`, for codes and labels: an ellipsis in the middle, since codes differ at their ends."""
    seen = settle(text)
    if len(seen) <= most:
        return seen
    end = (most - 1) // 2
    return f"{seen[: most - 1 - end].rstrip()}\u2026{seen[-end:].lstrip()}"


def shortened(text: str, most: int) -> str:
    """The text settled and at most `most` characters long, an ellipsis in the place of what is left out."""
    seen = settle(text)
    return seen if len(seen) <= most else seen[: most - 1].rstrip() + "\u2026"


def html_text(text: str) -> str:
    """The text settled and escaped for HTML."""
    return html.escape(settle(text))
