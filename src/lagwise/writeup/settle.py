"""Text that comes from data, made fit for a line of any document: one line, nothing invisible that turns it round."""

from __future__ import annotations

import html
from dataclasses import fields, is_dataclass, replace
from typing import Any

from lagwise.core.settle import TURNING, settle

__all__ = ["TURNING", "html_text", "settle", "settled", "shortened", "squeezed"]


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
