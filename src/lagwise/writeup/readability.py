"""How hard a text is to read: the Flesch-Kincaid grade."""

from __future__ import annotations

import re
from functools import cache

_WORD = re.compile(r"[A-Za-z]+(?:['\u2019-][A-Za-z]+)*")
_SENTENCE_END = re.compile(r"[.!?]+(?:\s|$)|\n+")
_VOWELS = re.compile(r"[aeiouy]+")


def reading_grade(text: str) -> float:
    """Flesch-Kincaid grade of an English text: 0.39 words / sentences + 11.8 syllables / words - 15.59.

    A grade of 8 is read with ease by most people of about fourteen. Figures are not counted as words; a sentence ends at a full
    stop, question mark, exclamation mark or line break. Syllables are the larger of pyphen's hyphenation and the groups of
    vowels, since hyphenation leaves out breaks that no printer would make ('about' counts as one).

    Raises
    ------
    ValueError
        For a text without words.

    Source: Kincaid, Fishburne, Rogers and Chissom 1975, Naval Technical Training Command, Research Branch Report 8-75.
    """
    parts = [words for part in _SENTENCE_END.split(text) if (words := _WORD.findall(part))]
    words = [word for part in parts for word in part]
    if not words:
        raise ValueError("a text without words has no reading grade")
    return 0.39 * len(words) / len(parts) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59


def syllables(word: str) -> int:
    """Syllables of an English word: the larger of its hyphenation and its groups of vowels, a silent e at the end left out."""
    flat = "".join(c for c in word.lower() if c.isalpha())
    vowels = len(_VOWELS.findall(flat))
    if vowels > 1 and re.search(r"[^aeiouyl]e$|[^aeiouytd]ed$|[^aeiouyszxcg]es$", flat):
        vowels -= 1
    return max(1, vowels, len(_hyphens().inserted(word.lower()).split("-")))


@cache
def _hyphens():
    from pyphen import Pyphen

    return Pyphen(lang="en_US")
