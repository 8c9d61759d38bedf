"""Numbers that know where they were taken from, through arithmetic and into the text that prints them.

A traced number prints as itself between two marks: a private-use character that stands for its place, and
`END`. Texts are put together as ever; `pieces` takes them apart again, and `bare` leaves the marks out.
"""

from __future__ import annotations

import math
import operator
import re
from collections.abc import Callable, Iterator
from typing import Any

_FIRST, _LAST = 0xF0000, 0x10FFFC
END = chr(_LAST + 1)
PLACES = _LAST - _FIRST + 1
"""How many places can be told apart."""
_MARKS = re.compile(f"[{chr(_FIRST)}-{END}]")
_MARKED = re.compile(f"([{chr(_FIRST)}-{chr(_LAST)}])([^{chr(_FIRST)}-{END}]*){END}")
_NUMBER = re.compile(r"\d+(?:[.,\u00a0]\d+)*")


class _Traced:
    """What traced numbers share: their place, and that it stays with what is made of them."""

    at: int

    def __format__(self, form: str) -> str:
        return marked(format(_plain(self), form), self.at)

    def __str__(self) -> str:
        return format(self, "")

    def __reduce__(self) -> Any:
        return traced, (_plain(self), self.at)


class _Float(_Traced, float):
    pass


class _Int(_Traced, int):
    pass


def _plain(value: Any) -> Any:
    return float(value) if isinstance(value, _Float) else int(value) if isinstance(value, _Int) else value


def traced(value: Any, at: int) -> Any:
    """A number with its place; anything else as it is."""
    if isinstance(value, bool) or not isinstance(value, int | float) or at >= PLACES:
        return value
    found = _Float(value) if isinstance(value, float) else _Int(value)
    found.at = at
    return found


def _carried(made: Callable[..., Any], turned: bool) -> Callable[..., Any]:
    def own(self: _Traced, *others: Any) -> Any:
        known = (_plain(self), *map(_plain, others))
        return traced(made(*(reversed(known) if turned else known)), self.at)

    return own


for _kind in (_Float, _Int):
    for _made in (operator.add, operator.sub, operator.mul, operator.truediv):
        setattr(_kind, f"__{_made.__name__}__", _carried(_made, False))
        setattr(_kind, f"__r{_made.__name__}__", _carried(_made, True))
    for _name, _one in (("neg", operator.neg), ("abs", abs), ("round", round), ("trunc", math.trunc)):
        setattr(_kind, f"__{_name}__", _carried(_one, False))


def marked(text: str, at: int) -> str:
    """A printed number with the marks of its place."""
    return f"{chr(_FIRST + at)}{text}{END}"


def all_marked(text: str, at: int) -> str:
    """A text with every number in it marked, where the whole of it comes from one place."""
    return _NUMBER.sub(lambda found: marked(found[0], at), bare(text))


def bare(text: str) -> str:
    """A text without marks."""
    return text if text.isascii() else _MARKS.sub("", text)


def pieces(text: str) -> Iterator[tuple[str, int | None]]:
    """The parts of a text in order, each with the place that it came from, None where it has none."""
    at = 0
    for found in _MARKED.finditer(text):
        if found.start() > at:
            yield bare(text[at : found.start()]), None
        yield found[2], ord(found[1]) - _FIRST
        at = found.end()
    if at < len(text):
        yield bare(text[at:]), None
