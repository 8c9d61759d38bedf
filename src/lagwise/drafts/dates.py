"""How the dates of a column are written: the order of day and month, numbers of days, times at night."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from lagwise.caseload.dates import date_reader
from lagwise.caseload.places import Place
from lagwise.caseload.words import words
from lagwise.core.claim import said
from lagwise.core.errors import CaseloadError
from lagwise.core.study import TableSource
from lagwise.drafts.cells import numbers
from lagwise.drafts.guess import Guess, look, sure

_WRITTEN = re.compile(r"(\d{1,2})([-/.])\s?(\d{1,2})\2\s?(\d{4}|\d{2})(?!\d)(.*)")
_CLOCK = re.compile(r".*?\b(\d{1,2})[:h](\d{2})(?::\d{2})?\s*([ap])?\.?m?\.?\s*", re.IGNORECASE)
DAY_NUMBERS = words("day days visit tag studyday session wave beep week wk kw woche time t")
PLACE = Place("checkins", Path("draft.csv"), "", TableSource())
"""A place for readers that ask for one, in which nothing is declared."""
WEEKS = words("week weeks wk kw woche wochen semana semaine")
LATEST = 4
"""Hours after midnight that may belong to the evening before."""


@dataclass(frozen=True)
class Dates:
    """Share of the filled cells that read as dates, the guesses on how they are written,
    whether they are numbers of days, the first of these, and whether they name weeks (2025-W36) or number
    them."""

    share: float = 0.0
    guesses: tuple[Guess, ...] = ()
    numbered: bool = False
    weekly: bool = False
    weeks: bool = False
    first: int = 1


def dates(values: pd.Series, place: Place, told: frozenset[str]) -> Dates:
    """How a column is written as dates; `told` are the words of its header, which numbers of days need."""
    texts = values.dropna().str.strip()
    if texts.empty:
        return Dates()
    weeks = float(texts.str.fullmatch(r"\d{4}-?W\d{2}").mean())
    if weeks >= 0.6:
        return Dates(weeks, weekly=True)
    guesses, pattern = _format(Counter(texts))
    try:
        read = date_reader(texts.unique(), _with(place, pattern), "date", {})
        share = float(texts.map({t: read(t).value is not None for t in texts.unique()}).mean())
    except CaseloadError:  # ambiguous, which the guesses say
        share = float(texts.str.fullmatch(_WRITTEN).mean())
    if share >= 0.6:
        return Dates(share, guesses)
    seen = numbers(values)
    if told & DAY_NUMBERS and seen.share >= 0.9 and seen.whole and seen.low >= 0 and seen.high <= 5000:
        ends, weekly = {"low": seen.low, "high": seen.high}, bool(told & WEEKS)
        why = said("draft.weeks_numbered" if weekly else "draft.numbered", **ends)
        guess = (look if weekly else sure)("date_format", "day", why)
        return Dates(seen.share, (guess,), True, weeks=weekly, first=int(min(seen.low, 1)))
    return Dates(share)


def _with(place: Place, pattern: str) -> Place:
    return replace(place, source=replace(place.source, date_format=pattern))


def _format(texts: Counter[str]) -> tuple[tuple[Guess, ...], str]:
    """Guesses on the format, and the format for trying it out; none where the reader needs none."""
    found = [(text, m) for text in texts if (m := _WRITTEN.match(text))]
    if len(found) < 0.5 * len(texts):
        return (), ""
    day = next((t for t, m in found if int(m[1]) > 12 >= int(m[3])), "")
    month = next((t for t, m in found if int(m[3]) > 12 >= int(m[1])), "")
    sign = Counter(m[2] for _, m in found).most_common(1)[0][0]
    year = "%y" if sum(len(m[4]) == 2 for _, m in found) * 2 > len(found) else "%Y"
    first, second = f"%d{sign}%m{sign}{year}", f"%m{sign}%d{sign}{year}"
    if bool(day) != bool(month):
        one, text = (first, day) if day else (second, month)
        why = said("draft.one_first", text=text, first="day" if day else "month")
        return (sure("date_format", one, why),), one
    if sign == "." and not month:
        return (look("date_format", first, said("draft.points", text=found[0][0])),), first
    why = said("draft.both_ways", day=day, month=month) if day else said("draft.either_way", text=found[0][0])
    return (
        look("date_format", first, why, on=False),
        look("date_format", second, "or here", on=False),
    ), first


def days(values: pd.Series, when: Dates, place: Place) -> pd.Series:
    """Every cell as a number of days, missing where it is none."""
    if when.numbered:
        return pd.to_numeric(values, errors="coerce")
    pattern = next((str(g.value) for g in when.guesses if g.key == "date_format"), "")
    try:
        read = date_reader(values.dropna().unique(), _with(place, pattern), "date", {})
    except CaseloadError:
        return pd.Series(float("nan"), index=values.index)
    told = {t: at.toordinal() for t in values.dropna().unique() if (at := read(t.strip()).value) is not None}
    return values.map(told).astype("float64")


def after_midnight(values: pd.Series) -> int:
    """How many cells have a time between midnight and four o'clock, where most are of the evening."""
    found = values.dropna().str.extract(_CLOCK)
    hour = pd.to_numeric(found[0], errors="coerce")
    half = found[2].str.lower()
    hour = hour.mask((half == "a") & (hour == 12), 0).mask((half == "p") & (hour < 12), hour + 12)
    known, minute = hour.dropna(), pd.to_numeric(found[1], errors="coerce")
    early = (hour < LATEST) & ~((hour == 0) & (minute == 0))
    return int(early.sum()) if len(known) and (known >= 17).mean() >= 0.5 else 0
