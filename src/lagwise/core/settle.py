"""Text that comes from data, made fit for a line of a screen or of any document."""

from __future__ import annotations

import unicodedata

TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Marks that set or override the writing direction; letters keep the direction of their own script without them."""
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
