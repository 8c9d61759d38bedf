"""One cell's text -> its value, with the repairs it needed or the reason why it cannot be read."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from lagwise.caseload.check_edits import Edit
from lagwise.caseload.numerals import hours, listed, middle, plain
from lagwise.caseload.repairs import on
from lagwise.caseload.words import LISTS, words
from lagwise.core.claim import said
from lagwise.core.columns import Column

DECLARED_MISSING = "declared_missing"
"""Under this name marks that study.toml declares as 'not recorded' are counted, beside the repairs."""
MAX_CODE = 100
MAX_TEXT = 300
MAX_NUMBER = 60
"""Longer texts are no numbers, times or words; they are not looked at further, so that none can take long."""
POUND = 0.45359237
"""Kilograms in one pound."""


TOTALS = words(LISTS["totals"], "|")
"""What stands in the place of a code where a row sums others up."""
MISSING = words(LISTS["missing"], "|")
_BODY_WEIGHT = words(LISTS["body_weight"], "|")
_MISSING_CODE = re.compile(r"-9+|-1|-8+|-7+|99+")
NUMERAL = re.compile(r"[+-]?\d{1,9}(?:\.\d{1,6})?", re.ASCII)
_RATING = re.compile(r"(?:rpe|borg|@|nrs|vas)\s*[:=]?\s*(.+)", re.IGNORECASE)
_OUT_OF = re.compile(r"(\S+)\s*(?:/|of|out of|von|sur|de)\s*(\d+)", re.IGNORECASE)
_SETS = re.compile(r"(\d{1,3})\s*[x×*]\s*(\d{1,3})", re.IGNORECASE)
_UNIT = re.compile(r"(.*?\d)\s*([a-zµ%.]+)", re.IGNORECASE)
_UNIT_WORDS: Mapping[str, tuple[str, ...]] = {
    "load_kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kg."),
    "minutes": ("min", "mins", "minute", "minutes", "min.", "minuten"),
    "sleep_hours": ("h", "hr", "hrs", "hour", "hours", "std", "stunden", "h."),
    "sets": ("set", "sets", "sätze"),
    "reps": ("rep", "reps", "wdh", "x"),
    "reps_in_reserve": ("rir", "rep", "reps"),
    "months_with_pain": ("month", "months", "mo"),
    "training_years": ("y", "yr", "yrs", "year", "years"),
}
_POUND_WORDS = ("lb", "lbs", "lb.", "lbs.", "pound", "pounds")
_POINT_WORDS = ("pt", "pts", "point", "points", "punkte")
_YES = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
_YES_WORDS = {word: yes for yes, name in ((True, "yes"), (False, "no")) for word in words(LISTS[name])}
END_OF_DAY = "23:59"
"""What 24:00 is read as: the last minute of the day it is written beside."""
_DAY_BEFORE = re.compile(r"\d{4}-\d{2}-\d{2}[T ]")
_TIME = re.compile(r"(\d{2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?")
_OTHER_TIME = re.compile(r"(\d{1,2})(?:[:.hH](\d{2}))?\s*(?:uhr|h)?\s*([ap]\.?m\.?)?", re.IGNORECASE)


_QUICK = re.compile(r"[0-9]{1,6}(?:\.[0-9]{1,9})?")
"""A number as a program writes it, which needs no further look."""


@dataclass(frozen=True)
class Reading:
    """What one cell says: a value (None where it says nothing), or a reason code with its mend."""

    value: Any = None
    code: str = ""
    mend: str = ""
    repairs: tuple[str, ...] = ()
    extra: Any = None


Reader = Callable[[str], Reading]
_FORMULA = re.compile(r"=(?:'?[\w .]+'?!)?\$?[A-Z]{1,3}\$?\d+\b.*|=[A-Z][A-Z.]+\(.*", re.DOTALL)


def formula() -> Reading:
    """What a formula says whose value the file does not hold."""
    return Reading(code="formula_without_value", mend=said("mend.formula"))


class _Number(NamedTuple):
    """A number (None: none is read), repairs, factor of the cell's own unit, repetitions beside sets."""

    value: float | None = None
    repairs: tuple[str, ...] = ()
    scale: float | None = None
    extra: float | None = None


def number_reader(
    column: Column, decimal: str, factor: float, repair: Mapping[str, bool], table: str = ""
) -> Reader:
    """A reader of numbers in `column`'s legal range after multiplying by `factor` (declared unit to ours)."""

    low, high = ends(column)

    def read(text: str) -> Reading:
        if decimal == "." and _QUICK.fullmatch(text):
            plain = float(text) * factor
            if low <= plain <= high and (column.kind == "number" or plain.is_integer()):
                return Reading(plain)
        if on(repair, "missing_words") and text.lower() in MISSING:
            return Reading(repairs=("missing_words",))
        if column.name == "load_kg" and on(repair, "body_weight") and text.lower() in _BODY_WEIGHT:
            return Reading(repairs=("body_weight",))
        if text.startswith("="):
            return formula()
        value, repairs, scale, extra = (
            _number(text, column, decimal, repair) if len(text) <= MAX_NUMBER else _Number()
        )
        if value is None:
            return Reading(code="bad_number", mend=_number_mend(text, decimal, column, table))
        value *= factor if scale is None else scale
        if math.isinf(value) or not low <= value <= high:
            coded = _MISSING_CODE.fullmatch(text) and column.low == 0  # as many exports write 'not recorded'
            more = {"mark": text, "edits": (_missing(text, table),)} if coded else {}
            return Reading(code="out_of_range", mend=range_mend(column, empty=True, **more))
        if column.kind == "count" and value != int(value) and "ranges" not in repairs:
            return Reading(code="not_whole", mend=said("mend.whole"))
        return Reading(value=value, repairs=repairs, extra=extra)

    return read


def ends(column: Column) -> tuple[float, float]:
    """The legal range of a column of numbers."""
    return (
        -math.inf if column.low is None else column.low,
        math.inf if column.high is None else column.high,
    )


def range_mend(column: Column, **numbers: Any) -> str:
    """What a value outside the legal range needs."""
    low, high = ends(column)
    return said("mend.range", low=low, high=high, unit=column.unit, **numbers)


def _missing(mark: str, table: str) -> Edit:
    """How a mark for 'not recorded' is declared."""
    return Edit(("tables", table or "NAME"), {"missing": [mark]})


_DATE = re.compile(r"\d{4}-\d{2}-\d{2}.*")
_FAILED = re.compile(r"#[A-ZÄÖÜ/0]{2,9}[!?]")
_GROUPED = re.compile(r"[+-]?\d{1,3}([.,]\d{3})+")
_SETS_AND_MORE = re.compile(r"\d+\s*[x×*]\s*\d+\D.*", re.IGNORECASE)
_LIMIT = re.compile(r"[<>≤≥~]\s*\d+([.,]\d+)?|\d+([.,]\d+)?\s*\+")


def _number_mend(text: str, decimal: str, column: Column, table: str) -> str:
    text = text[:MAX_NUMBER]
    why = {
        "turned_date": _DATE.fullmatch(text),
        "failed": _FAILED.fullmatch(text),
        "thousands": _GROUPED.fullmatch(text),
        "sets_reps_load": column.name == "sets" and _SETS_AND_MORE.fullmatch(text),
        "a_range": middle(text, decimal, {})[0] is not None,
        "limit": _LIMIT.fullmatch(text),
        "percentage": text.endswith("%"),
    }
    code = next((code for code, found in why.items() if found), "plain")
    edits = (Edit(("repair",), {"ranges": True}),) if code == "a_range" else ()
    if code != "plain":
        return said(f"mend.{code}", edits=edits)
    edits = () if re.search(r"\d", text) else (_missing("...", table),)
    return said("mend.plain", decimal=decimal, edits=edits)


def _number(text: str, column: Column, decimal: str, repair: Mapping[str, bool]) -> _Number:
    value, repairs = _plain(text, decimal, repair)
    if value is not None:
        return _Number(value, repairs)
    unit = _UNIT.fullmatch(text)
    word = unit[2].lower() if unit else ""
    own = _UNIT_WORDS.get(column.name, ())
    if column.name in ("sets", "reps") and (alone := _by_set(text, column, repair)) is not None:
        return alone
    if column.name in ("minutes", "sleep_hours") and on(repair, "hours_and_minutes"):
        # A number with the column's own unit behind it is left to `units_in_cell`.
        as_it_is = unit and word in own and not re.search(r"[:a-z]", unit[1], re.IGNORECASE)
        lasted = None if as_it_is else hours(text, decimal, repair)
        if lasted is not None:
            return _Number(lasted, ("hours_and_minutes",), 60.0 if column.name == "minutes" else 1.0)
    if column.unit == "points" and column.high is not None:
        own = _POINT_WORDS
        if (found := _RATING.fullmatch(text)) and on(repair, "rpe_words"):
            rated = _number(found[1].strip(), column, decimal, repair)
            return rated._replace(repairs=("rpe_words", *rated.repairs), extra=None)
        found = _OUT_OF.fullmatch(text)
        if found and float(found[2]) == column.high and on(repair, "out_of_ten"):
            value, repairs = _plain(found[1], decimal, repair)
            return _Number(value, ("out_of_ten", *repairs))
    if unit:
        value, repairs = _plain(unit[1].strip(), decimal, repair)
        if word in _POUND_WORDS and column.name == "load_kg" and on(repair, "pounds_in_cell"):
            return _Number(value, ("pounds_in_cell", *repairs), POUND)
        if word in own and on(repair, "units_in_cell"):
            return _Number(value, ("units_in_cell", *repairs), 1.0)
    return _Number()


def _plain(text: str, decimal: str, repair: Mapping[str, bool]) -> tuple[float | None, tuple[str, ...]]:
    """A number, or the middle of a range where the study asks for it."""
    value, repairs = plain(text, decimal, repair)
    if value is None and on(repair, "ranges"):
        value, repairs = middle(text, decimal, repair)
    return value, repairs


def _by_set(text: str, column: Column, repair: Mapping[str, bool]) -> _Number | None:
    """Sets and repetitions in one cell: '3x8', or repetitions of each set ('8/8/9'); None for neither."""
    found = _SETS.fullmatch(text) if column.name == "sets" else None
    if found:
        told = on(repair, "sets_by_reps") and int(found[2]) <= 200
        return _Number(float(found[1]), ("sets_by_reps",), None, float(found[2])) if told else _Number()
    each = listed(text) if on(repair, "reps_listed") else None
    if not each:
        return None
    mean, count = each
    if column.name == "reps":
        return _Number(mean, ("reps_listed",), None, float(count))
    return _Number(float(count), ("reps_listed",), None, mean) if count >= 3 and mean <= 200 else _Number()


def declared_missing(read: Reader, marks: Collection[str]) -> Reader:
    """A reader that takes the marks declared in study.toml for 'not recorded', and leaves all else to `read`.

    Marks are compared without case; a mark that is a number also stands for its other
    spellings (-99 for -99.0).
    """
    words = {mark.lower() for mark in marks}
    numbers = {float(mark) for mark in marks if NUMERAL.fullmatch(mark)}

    def checked(text: str) -> Reading:
        numeral = len(text) <= MAX_NUMBER and NUMERAL.fullmatch(text)
        if text.lower() in words or (numeral and float(text) in numbers):
            return Reading(repairs=(DECLARED_MISSING,))
        return read(text)

    return checked


def yesno_reader(repair: Mapping[str, bool]) -> Reader:
    """A reader of yes/no."""

    def read(text: str) -> Reading:
        word = text.lower()
        if word in _YES:
            return Reading(value=_YES[word])
        if word in MISSING and on(repair, "missing_words"):
            return Reading(repairs=("missing_words",))
        if word in _YES_WORDS and on(repair, "yes_no_words"):
            return Reading(value=_YES_WORDS[word], repairs=("yes_no_words",))
        return Reading(code="bad_yes_no", mend=said("mend.yes_no"))

    return read


def time_reader(repair: Mapping[str, bool]) -> Reader:
    """A reader of times of day, as HH:MM."""

    def read(text: str) -> Reading:
        found = _TIME.fullmatch(text)
        if found and int(found[1]) < 24 and int(found[2]) < 60:
            return Reading(value=f"{found[1]}:{found[2]}")
        if text.lower() in MISSING and on(repair, "missing_words"):
            return Reading(repairs=("missing_words",))
        if on(repair, "time_words") and re.fullmatch(r"24:00(:00)?", text):
            return Reading(value=END_OF_DAY, repairs=("time_words",))
        if on(repair, "time_words") and _DAY_BEFORE.match(text):
            beside = read(text[11:])
            return beside if beside.code else replace(beside, repairs=("time_words",))
        found = _OTHER_TIME.fullmatch(text[:MAX_NUMBER])
        if found and (found[2] or found[3]) and on(repair, "time_words"):
            hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "").lower()[:1]
            if ((half and 1 <= hour <= 12) or (not half and hour < 24)) and minute < 60:
                hour = hour % 12 + (12 if half == "p" else 0) if half else hour
                return Reading(value=f"{hour:02d}:{minute:02d}", repairs=("time_words",))
        return Reading(code="bad_time", mend=said("mend.time"))

    return read


def choice_reader(column: Column, repair: Mapping[str, bool]) -> Reader:
    """A reader of listed words."""

    def read(text: str) -> Reading:
        if text in column.choices:
            return Reading(value=text)
        word = re.sub(r"[\s-]+", "_", text.lower())
        if word in column.choices and on(repair, "choice_words"):
            return Reading(value=word, repairs=("choice_words",))
        if text.lower() in MISSING and on(repair, "missing_words"):
            return Reading(repairs=("missing_words",))
        return Reading(code="bad_choice", mend=said("mend.choice", choices=", ".join(column.choices)))

    return read


def text_reader(column: Column, repair: Mapping[str, bool]) -> Reader:
    """A reader of short texts; exercise names are lower-cased. A code is kept as it is, whatever it says."""
    limit = MAX_CODE if column.kind == "code" else MAX_TEXT

    def read(text: str) -> Reading:
        if _FORMULA.fullmatch(text):
            return formula()
        if len(text) > limit:
            return Reading(code="too_long", mend=said("mend.long", limit=limit))
        if column.kind != "code" and text.lower() in MISSING and on(repair, "missing_words"):
            return Reading(repairs=("missing_words",))
        return Reading(value=text.lower() if column.name == "exercise" else text)

    return read
