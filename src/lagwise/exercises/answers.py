"""An answer as a student may type it -> a plain value, or a sentence on what would be understood."""

from __future__ import annotations

import math
from decimal import Decimal
from numbers import Integral, Real
from typing import Any

from lagwise.exercises.task import Part
from lagwise.say.exercises import CALLED, TEXTS


def unanswered(answer: Any) -> bool:
    """Whether nothing was filled in: None, the three dots, blank text, or an empty collection."""
    if answer is None or answer is ...:
        return True
    if isinstance(answer, str):
        return answer.strip() in ("", "...", "\u2026")
    return isinstance(answer, dict | set | frozenset | list | tuple) and not answer


def understood(part: Part, answer: Any) -> tuple[Any, str]:
    """The answer as a value of the part's kind, and '' or why it cannot be understood."""
    answer = _single(answer)
    if part.kind in ("number", "count"):
        return _number(answer, whole=part.kind == "count")
    if part.kind == "choice":
        return _choice(answer, part.choices)
    if part.kind == "sentences":
        return _sentences(answer)
    if isinstance(answer, str):
        return " ".join(answer.split()), ""
    return None, TEXTS["no_sentence"].format(this=_called(answer))


def _single(answer: Any) -> Any:
    """The one value inside an array or a column of length 1; anything else as it is."""
    return answer.item() if getattr(answer, "size", None) == 1 and hasattr(answer, "item") else answer


def _number(answer: Any, *, whole: bool) -> tuple[float | None, str]:
    if isinstance(answer, tuple | list) and len(answer) == 2 and all(isinstance(v, Real) for v in answer):
        return None, TEXTS["two_numbers"]
    if isinstance(answer, str):
        return None, TEXTS["text"]
    if isinstance(answer, bool) or type(answer).__name__ in ("bool", "bool_"):
        return None, TEXTS["logical"]
    if not isinstance(answer, Real | Decimal):
        return None, TEXTS["no_number"].format(this=_called(answer))
    value = float(answer)
    if not math.isfinite(value):
        return None, TEXTS["missing"]
    if whole and value != round(value):
        return None, TEXTS["no_count"]
    return value, ""


def _choice(answer: Any, choices: tuple[str, ...]) -> tuple[str | None, str]:
    listed = ", ".join(f'"{choice}"' for choice in choices)
    if set(choices) == {"yes", "no"} and type(answer).__name__ in ("bool", "bool_"):
        return ("yes" if answer else "no"), ""
    if isinstance(answer, str):
        word = answer.strip().strip("().'\"").lower()
        if word in choices:
            return word, ""
    return None, TEXTS["no_choice"].format(choices=listed)


def _sentences(answer: Any) -> tuple[frozenset[int] | None, str]:
    if isinstance(answer, Integral) and not isinstance(answer, bool):
        return frozenset({int(answer)}), ""
    several = isinstance(answer, set | frozenset | list | tuple)
    if several and all(isinstance(v, Integral) and not isinstance(v, bool) for v in answer):
        return frozenset(int(v) for v in answer), ""
    return None, TEXTS["no_sentences"].format()


def _called(answer: Any) -> str:
    name = type(answer).__name__
    found = (words for words, kinds in CALLED.items() if name in kinds.split())
    return next(found, f"something else ({name})")
