"""What a spreadsheet would run when it opens a table."""

from __future__ import annotations

import re
import unicodedata

_STARTS = frozenset("=+-@")
_LEADING = re.compile(r"[\t\r\n]|[\s\u200b-\u200f\u2060\ufeff]*(.)", re.DOTALL)


def starts_formula(text: str) -> bool:
    """Whether a text begins as a formula does: with = + - or @, in any width and behind whatever is not seen,
    or with a tab or a line end, from which spreadsheets begin anew.
    """
    first = _LEADING.match(text)
    if first is None:
        return False
    return first[1] is None or unicodedata.normalize("NFKC", first[1]) in _STARTS
