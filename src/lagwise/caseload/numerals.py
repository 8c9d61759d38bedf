"""Numbers as people write them -> float: decimal signs, thousands, fractions, digits of other scripts,
durations, lists."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

from lagwise.caseload.repairs import on

LONGEST = 40
"""Longer texts are no numbers and are not looked at further."""

_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)")
_SPACED = re.compile(r"([+-]?[1-9]\d{0,2}(?:[ '’]\d{3})+)(?:[.,](\d+))?")
_DOTTED = re.compile(r"([+-]?[1-9]\d{0,2}(?:\.\d{3})+),(\d+)|([+-]?[1-9]\d{0,2}(?:\.\d{3}){2,})")
_COMMAED = re.compile(r"([+-]?[1-9]\d{0,2}(?:,\d{3})+)\.(\d+)|([+-]?[1-9]\d{0,2}(?:,\d{3}){2,})")
_FRACTION = re.compile(r"(\d{1,4})?\s*(½|¼|¾|(?<=\d\s)(?:1/2|1/4|3/4))")
_PARTS = {"½": 0.5, "¼": 0.25, "¾": 0.75, "1/2": 0.5, "1/4": 0.25, "3/4": 0.75}
_SIGNS = str.maketrans({"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "．": ".", "，": ","})
_HOURS = r"h|hr|hrs|hour|hours|std|std\.|stunde|stunden|heures?|horas?|ore|uur"
_MINUTES = r"m|min|min\.|mins|minute|minutes|minuten|minutos?|minuti|'|′"
_CLOCK = re.compile(r"(\d{1,2}):([0-5]\d)(?::00)?")
_BOTH = re.compile(rf"(\d{{1,2}})\s*(?:{_HOURS})\s*(\d{{1,2}})\s*(?:{_MINUTES})?", re.IGNORECASE)
_ONLY_HOURS = re.compile(rf"([\d.,½¼¾]{{1,8}})\s*(?:{_HOURS})", re.IGNORECASE)
_ONLY_MINUTES = re.compile(rf"(\d{{1,4}})\s*(?:{_MINUTES})", re.IGNORECASE)
_RANGE = re.compile(r"(\d[\d.,]{0,8})\s*(?:[-–—−]|to|bis|à|a)\s*(\d[\d.,]{0,8})", re.IGNORECASE)
_LIST = re.compile(r"\d{1,3}(?:\s*([/+;,])\s*\d{1,3})(?:\s*\1\s*\d{1,3})*")


def plain(text: str, decimal: str, repair: Mapping[str, bool]) -> tuple[float | None, tuple[str, ...]]:
    """The number a text stands for and the repairs it took; None where it can be read in no way or
    in more than one.

    '1.250' with a decimal comma, or '1,250' with a decimal point,
    could be thousands or decimals and is not read.
    """
    if len(text) > LONGEST:
        return None, ()
    text, repairs = _folded(text, repair)
    found = _FRACTION.fullmatch(text)
    if found and on(repair, "fractions"):
        return float(found[1] or 0) + _PARTS[found[2]], (*repairs, "fractions")
    grouped = _thousands(text) if on(repair, "thousands") else None
    if grouped is not None:
        return grouped, (*repairs, "thousands")
    other = "," if decimal == "." else "."
    if other in text:
        could_be_thousands = re.fullmatch(rf"[+-]?[1-9]\d{{0,2}}{re.escape(other)}\d{{3}}", text)
        if could_be_thousands or text.count(other) > 1 or decimal in text or not on(repair, "decimal_sign"):
            return None, ()
        text, repairs = text.replace(other, "."), (*repairs, "decimal_sign")
    else:
        text = text.replace(decimal, ".")
    if not text.isascii() or not _PLAIN.fullmatch(text):
        return None, ()
    return float(text), repairs


def middle(text: str, decimal: str, repair: Mapping[str, bool]) -> tuple[float | None, tuple[str, ...]]:
    """The middle of a range from a lower to a higher number ('8-9', '7,5 bis 8', '40 to 45');
    None for anything else."""
    found = _RANGE.fullmatch(text) if len(text) <= LONGEST else None
    if not found:
        return None, ()
    (low, one), (high, other) = (plain(part, decimal, repair) for part in found.groups())
    if low is None or high is None or not low < high:
        return None, ()
    return (low + high) / 2, ("ranges", *dict.fromkeys((*one, *other)))


def hours(text: str, decimal: str, repair: Mapping[str, bool]) -> float | None:
    """Hours of '1:15', '1 h 15', '1h15min', '1,5 h' or '75 min'; None for anything else."""
    if len(text) > LONGEST:
        return None
    if found := _CLOCK.fullmatch(text) or _BOTH.fullmatch(text):
        return int(found[1]) + int(found[2]) / 60 if int(found[2]) < 60 else None
    if found := _ONLY_MINUTES.fullmatch(text):
        return int(found[1]) / 60
    if found := _ONLY_HOURS.fullmatch(text):
        return plain(found[1], decimal, repair)[0]
    return None


def listed(text: str) -> tuple[float, int] | None:
    """Mean and count of a list of whole numbers, one per set: '8/8/9', '8+8', '8, 8, 9';
    None for anything else.

    Two numbers with a comma between them are no list; they could be a decimal.
    """
    found = _LIST.fullmatch(text) if len(text) <= LONGEST else None
    if not found:
        return None
    numbers = [int(n) for n in re.findall(r"\d+", text)]
    if found[1] == "," and len(numbers) < 3:
        return None
    return sum(numbers) / len(numbers), len(numbers)


def _folded(text: str, repair: Mapping[str, bool]) -> tuple[str, tuple[str, ...]]:
    """Digits of another width or script as 0-9, signs and spaces that look alike as one."""
    if text.isascii():
        return text, ()
    text = text.translate(_SIGNS)
    if not on(repair, "other_digits"):
        return text, ()
    digits = "".join(
        str(unicodedata.decimal(c)) if unicodedata.decimal(c, None) is not None else c for c in text
    )
    return digits, ("other_digits",) if digits != text else ()


def _thousands(text: str) -> float | None:
    """A number whose thousands are set apart in a way that leaves no doubt which sign is the decimal one."""
    found = _SPACED.fullmatch(text) or _DOTTED.fullmatch(text) or _COMMAED.fullmatch(text)
    if not found:
        return None
    whole = next(part for part in (found[1], *found.groups()[2:]) if part)
    return float(re.sub(r"[ '’.,]", "", whole) + "." + (found[2] or "0"))
