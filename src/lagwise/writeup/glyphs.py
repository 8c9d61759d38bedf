"""Signs that the figures' and the PDF's own typeface lacks: the machine's typefaces that have them, or their
numbers.

Word, HTML and Markdown leave the choice of a typeface to the reader's program; a figure and a PDF must bring
it along.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pydantic import BaseModel

OWN = "DejaVu Sans"
"""The typeface of the figures and the PDF's second one; it comes with matplotlib, so it is the same on every
machine.
"""
_LAST_RESORT = "Last Resort"
_BEYOND_LATIN = re.compile("[^\x00-\u024f\u2010-\u2026\u2212]")


@dataclass(frozen=True)
class Typefaces:
    """What a text needs beyond `OWN`: (family, file) of each of the machine's typefaces to add, and the signs
    that none has.
    """

    added: tuple[tuple[str, Path], ...] = ()
    lacking: frozenset[str] = frozenset()

    @property
    def numbered(self) -> bool:
        """Whether a sign stands as its number; invisible ones are only left out."""
        return not all(map(_unseen, self.lacking))

    def shown(self, text: str) -> str:
        """The text with signs that cannot be shown as their Unicode numbers: '[80A9 95A2]'; invisible ones
        are left out.
        """
        if not self.lacking or self.lacking.isdisjoint(text):
            return text
        out: list[str] = []
        run: list[str] = []
        for sign in [*text, ""]:
            if sign and (sign in self.lacking or (run and _unseen(sign))):
                run += [] if _unseen(sign) else [f"{ord(sign):04X}"]
                continue
            if run:
                out.append(f"[{' '.join(run)}]")
                run = []
            out.append(sign)
        return "".join(out)


def _unseen(sign: str) -> bool:
    """Whether a sign only joins or varies its neighbours: a joiner, a variation selector."""
    return unicodedata.category(sign) == "Cf" or "\ufe00" <= sign <= "\ufe0f"


def typefaces(texts: Iterable[str]) -> Typefaces:
    """The typefaces that these texts need: none for what `OWN` has, else the fewest of the machine's that
    have the rest.
    """
    return _typefaces(
        frozenset(c for text in texts if not text.isascii() for c in _BEYOND_LATIN.findall(text))
    )


def sure(texts: Iterable[str]) -> Typefaces:
    """`OWN` alone, without unusual spaces and marks that join other signs: what can be laid out whatever the
    text.
    """
    signs = {c for text in texts for c in text} - set(" \u00a0\u200b")
    return Typefaces(
        lacking=frozenset(c for c in signs if ord(c) not in _own() or unicodedata.category(c)[0] in "MZC")
    )


@cache
def _typefaces(signs: frozenset[str]) -> Typefaces:
    if not signs:
        return Typefaces()
    wanted = {c for c in signs if ord(c) not in _own() and not c.isspace()}
    added: list[tuple[str, Path]] = []
    while wanted:
        best, had = max(_found(frozenset(wanted)), key=lambda f: len(f[1]), default=(None, frozenset[str]()))
        if best is None or not had:
            break
        added.append(best)
        wanted -= had
    return Typefaces(tuple(added), frozenset(wanted))


@cache
def _own() -> frozenset[int]:
    import matplotlib
    from matplotlib.ft2font import FT2Font

    return frozenset(
        FT2Font(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf").get_charmap()
    )


def _found(wanted: frozenset[str]) -> list[tuple[tuple[str, Path], frozenset[str]]]:
    """(family, file) of every upright typeface of this machine with the signs of `wanted` that it has, in a
    fixed order.
    """
    from matplotlib import font_manager
    from matplotlib.ft2font import FT2Font

    out = []
    for entry in sorted(font_manager.fontManager.ttflist, key=lambda e: (e.weight != 400, e.name, e.fname)):
        if entry.style != "normal" or entry.name.startswith(_LAST_RESORT):
            continue
        try:
            has = FT2Font(entry.fname, face_index=entry.index).get_charmap()
        except (OSError, RuntimeError):
            continue
        out.append(((entry.name, Path(entry.fname)), frozenset(c for c in wanted if ord(c) in has)))
    return out


def texts_of(part: object) -> list[str]:
    """Every text anywhere in plain data, in no particular order: mappings' values, sequences and models."""
    out: list[str] = []
    waiting: list[object] = [part]
    while waiting:
        one = waiting.pop()
        if isinstance(one, str):
            out.append(one)
        elif isinstance(one, BaseModel):
            waiting.extend(getattr(one, name) for name in type(one).model_fields)
        elif isinstance(one, dict):
            waiting.extend(one.values())
        elif isinstance(one, list | tuple):
            waiting.extend(v for v in one if not isinstance(v, float | int))
    return out


def with_texts[T](part: T, change: Callable[[str], str]) -> T:
    """Plain data with every text in it changed; the keys of mappings stay."""
    found: object = part
    if isinstance(part, float | int):
        return part
    if isinstance(part, str):
        found = change(part)
    elif isinstance(part, BaseModel):
        found = part.model_copy(
            update={n: with_texts(getattr(part, n), change) for n in type(part).model_fields}
        )
    elif isinstance(part, dict):
        found = {k: with_texts(v, change) for k, v in part.items()}
    elif isinstance(part, list | tuple):
        found = type(part)(with_texts(v, change) for v in part)
    return found  # type: ignore[return-value]
