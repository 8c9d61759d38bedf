"""The numbers of a sentence as people write them: words, fractions, decimal commas, dashes between them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from lagwise.say.sentence_words import FRACTIONS, ONES, TENS, either

_NUMBER = re.compile(r"(?<![\w.])([+-]?)(\d+)(\.\d+)?(~?)(?![\w.]*\d)\s*(%|per ?cent)?")
_WORDS = re.compile(rf"\b(?:{either([*ONES, *TENS, 'hundred'])}(?:[ -](?:and )?)?)+(?<=\w)(?=\W|$)")
_PART = re.compile(
    rf"\b(?:(an?|{either(ONES)}) )?({either(FRACTIONS)})s?(?: of)?(?: an?)? (?=(?:points?|hours?)\b)"
)
_FOLDED = str.maketrans({"\u2212": "-", "\u2013": "–", "\u2014": "–", "\u00a0": " ", "\u202f": " ", "’": "'"})


@dataclass(frozen=True)
class Number:
    """A number with its sign as written ('' where there is none), the size of its last digit, whether it is a
    percentage, and where it stands.
    """

    size: float
    sign: str
    step: float
    percent: bool
    start: int
    end: int


def plain(text: str) -> str:
    """A sentence in lower case with its numbers as 0.32: of '0,32', '.32', 'forty'; a fraction as 0.33~."""
    text = " ".join(text.lower().translate(_FOLDED).split())
    text = re.sub(r"(?<![\d.,])([1-9]\d{0,2})[, ](\d{3})(?![\d.,])", r"\1\2", text)
    text = re.sub(r"(?<![\d.,])(\d{1,3}),(\d{1,3})(?!\d|[.,]\d)", r"\1.\2", text)
    text = re.sub(r"(?<![\d.])\.(?=\d)", "0.", text)
    text = _PART.sub(_share, text)
    text = _WORDS.sub(lambda m: str(_whole(m[0])), text)
    return re.sub(r"(\d)\s*[-–]\s*(?=[+-]?\d)", r"\1 to ", text).replace("–", "-")


def numbers_in(text: str) -> list[Number]:
    """The numbers of a text that `plain` made, in order."""
    return [
        Number(
            float(m[2] + (m[3] or "")),
            m[1],
            0.1 if m[4] else 10.0 ** -max(0, len(m[3] or "") - 1),
            bool(m[5]),
            m.start(),
            m.end(4),
        )
        for m in _NUMBER.finditer(text)
    ]


def _share(found: re.Match[str]) -> str:
    above = ONES.get(found[1] or "", 1)
    return f"{above / FRACTIONS[found[2]]:.2f}~ "


def _whole(text: str) -> int:
    total = 0
    for word in re.findall(r"[a-z]+", text):
        total = max(total, 1) * 100 if word == "hundred" else total + ({**ONES, **TENS}.get(word, 0))
    return total
