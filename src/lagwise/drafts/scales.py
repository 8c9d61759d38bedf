"""The scale that ratings are on: told by the header, or looked for in the values."""

from __future__ import annotations

import re

import pandas as pd

from lagwise.caseload.scales import narrow_scale
from lagwise.core.claim import said
from lagwise.drafts.cells import Numbers
from lagwise.drafts.guess import Certainty

_TOLD = re.compile(r"(?<![\d.])(\d{1,3})\s*(?:-|–|—|to|bis|à|until|\.\.)\s*(\d{1,3})(?![\d.])", re.IGNORECASE)
_ENDS = re.compile(r"(?<!\d)(\d{1,3})\s*[=:].*?(?<!\d)(\d{1,3})\s*[=:]")
_TOP = re.compile(r"/\s*(10|100|5|7|20)\b")
SCALES = (
    (0, 10),
    (1, 10),
    (0, 100),
    (1, 100),
    (1, 5),
    (0, 5),
    (0, 4),
    (1, 4),
    (0, 3),
    (1, 7),
    (0, 6),
    (6, 20),
    (0, 20),
)
Scale = tuple[float, float, Certainty, str]


def told_scale(header: str) -> tuple[int, int] | None:
    """The scale that a header names: '(0-10)', '1 = hardly, 5 = very', '/10'."""
    for found in (*_TOLD.finditer(header), *_ENDS.finditer(header)):
        ends = (int(found[1]), int(found[2]))
        if ends in SCALES:
            return ends
    top = _TOP.search(header)
    return (0, int(top[1])) if top else None


def scale_of(header: str, titles: tuple[str, ...], found: Numbers) -> Scale:
    """Low and high end of a column's scale, how sure, and why.

    The header decides where the values keep to it, then a title, then the values.
    """
    for text, whose in ((header, "the header"), (" ".join(titles), "the title")):
        told = told_scale(text)
        if told and _keeps(found, *told):
            return (*told, "sure", said("draft.scale_told", whose=whose, low=told[0], high=told[1]))
    if found.out_of and found.out_of != 10 and (0, found.out_of) in SCALES:
        return 0, found.out_of, "sure", said("draft.scale_out_of", high=found.out_of)
    values = pd.Series(list(found.values.elements()), dtype="float64")
    above = values[values > 10]
    if found.low >= 0 and len(values) and (len(above) >= 0.1 * len(values) and len(above) > 2):
        top = next((top for top in (20, 100, 1000) if found.high <= top and (top != 20 or found.low >= 6)), 0)
        if top:
            low = 6 if top == 20 else 0
            why = said("draft.scale_run", least=found.low, most=found.high, low=low, high=top)
            return low, top, "look at this", why
    narrow = narrow_scale(values) if len(values) >= 10 else ""
    if narrow and not told_scale(header):
        low, high = map(int, narrow.split("-"))
        return low, high, "look at this", said("draft.scale_whole", low=low, high=high)
    return 0, 10, "sure" if told_scale(header) else "look at this", "0-10"


def _keeps(found: Numbers, low: int, high: int) -> bool:
    """Whether all but a few values lie between two ends."""
    outside = sum(n for value, n in found.values.items() if not low <= value <= high)
    return outside <= max(3, 0.02 * found.count)
