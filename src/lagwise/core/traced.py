"""Numbers that know where they were taken from, through arithmetic and into the text that prints them.

A traced number prints as itself between two marks: a private-use character that stands for its place, and
`END`. Texts are put together as ever; `pieces` takes them apart again, and `bare` leaves the marks out.
"""

from __future__ import annotations

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
        plain = float(self) if isinstance(self, float) else int(self)  # type: ignore[call-overload]
        return marked(format(plain, form), self.at)

    def __str__(self) -> str:
        return format(self, "")

    def __reduce__(self) -> Any:
        return traced, (float(self) if isinstance(self, float) else int(self), self.at)  # type: ignore[call-overload]


class _Float(_Traced, float):
    pass


class _Int(_Traced, int):
    pass


def traced(value: Any, at: int) -> Any:
    """A number with its place; anything else as it is."""
    if isinstance(value, bool) or not isinstance(value, int | float) or at >= PLACES:
        return value
    found = _Float(value) if isinstance(value, float) else _Int(value)
    found.at = at
    return found


def _carried(kind: type, name: str) -> Callable[..., Any]:
    own = getattr(kind, name)

    def made(self: Any, *others: Any) -> Any:
        return traced(own(self, *others), self.at)

    return made


for _kind, _base in ((_Float, float), (_Int, int)):
    for _name in ("add", "radd", "sub", "rsub", "mul", "rmul", "truediv", "rtruediv", "neg", "abs", "round", "trunc"):  # fmt: skip
        setattr(_kind, f"__{_name}__", _carried(_base, f"__{_name}__"))


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
