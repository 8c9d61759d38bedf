"""How wide the columns of a table, and figures, are on paper."""

from __future__ import annotations

import re

from lagwise.document.tree import Grid

PHONE = 0.75
"""Share of its own size at which a figure drawn for a phone stands on paper, where letters may be smaller."""
TALLEST, NARROWEST = 4.6, 0.75
"""Inches up to which a figure that stands across the page is high, so that others find room beside it, and
the share of the line that it takes all the same."""
LINE = 122
"""Characters that one line of a table holds across the page."""
GAP = 4
"""Characters' worth of space beside a column's text."""
BOLD = 1.15
"""How much wider a column's name is set than the same text below it."""
TOGETHER = 12
"""Rows up to which a table stays on one page."""
WORD, FIGURES, TEXT = 24, 30, 200
"""Longest word, longest run of numbers and longest mean text that a column makes room for."""


def widths(block: Grid) -> list[float]:
    """Shares of the text width, summing to 1.

    Every column first gets room for its longest word, one of numbers for its longest cell where all of these
    fit the line; what is left of the line goes to the columns with more to say: first for the mean text of
    each, then for its longest.
    """
    least, *wishes = _room(block, whole=True)
    if sum(least) > LINE:
        least, *wishes = _room(block, whole=False)
    for wanted in wishes:
        room, more = LINE - sum(least), sum(wanted) - sum(least)
        if room > 0 and more > 0:
            share = min(1, room / more)
            least = [a + (w - a) * share for a, w in zip(least, wanted, strict=True)]
    return [a / sum(least) for a in least]


def _room(block: Grid, *, whole: bool) -> tuple[list[float], list[float], list[float]]:
    """Characters that each column needs, numbers on one line if `whole`; that it would like; that would let
    it stand on one line."""
    least, wanted, longest = list[float](), list[float](), list[float]()
    for i, head in enumerate(block.head):
        texts = ["".join(s.text for s in row[i]) for row in block.rows]
        word = min(WORD, max([_longest(head) * BOLD, *map(_longest, texts)]))
        if whole and i in block.numeric:
            word = max(word, min(FIGURES, max(map(len, texts), default=0)))
        mean = sum(map(len, texts)) / max(1, len(texts))
        least.append(word + GAP)
        wanted.append(max(word, min(TEXT, mean)) + GAP)
        longest.append(max(word, min(TEXT, max(map(len, texts), default=0))) + GAP)
    return least, wanted, longest


def _longest(text: str) -> int:
    """Letters of the longest part that a line break cannot fall into."""
    return max(map(len, re.split(r"[ -]", text)))
