"""Date columns: how a column is written is decided from the whole column,
or the reading stops with a question."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, timedelta
from datetime import time as clock_time

import numpy as np
import pandas as pd

from lagwise.caseload.cells import END_OF_DAY, MISSING, Reading, formula
from lagwise.caseload.check_edits import Edit
from lagwise.caseload.convert import Converted
from lagwise.caseload.grid import EXCEL_DAY_0
from lagwise.caseload.places import Place
from lagwise.caseload.repairs import on
from lagwise.caseload.words import LISTS, words
from lagwise.core.claim import said
from lagwise.core.study import Clock

MAX_DATE = 60
"""Longer texts are no dates; they are not looked at further, so that none can take long."""
ISO = "YYYY-MM-DD"
FIRST, LAST = date(1950, 1, 1), date(2100, 12, 31)
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}")
_WEEK = re.compile(r"\d{4}-?W\d{2}")
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])\s?(\d{1,2})\2\s?(\d{4})\.?")
_SHORT_YEAR = re.compile(r"\d{1,2}([-/.])\d{1,2}\1\d{2}")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_CLOCK = re.compile(
    r"(.+?)(?:[T ,]|[ ,][-–] )\s*(\d{1,2})[:h](\d{2})(?::\d{2}(?:[.,]\d+)?)?\s*(?:uhr)?"
    r"(?:([ap])\.?m\.?)?\s*(Z|(?:UTC|GMT)(?:[+-]\d{1,2}(?::?\d{2})?)?|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
_DAY_NAME = r"(?:[a-zäàéèûôçñ]{2,10}\.?,?\s+)?"
_NAMED = re.compile(
    _DAY_NAME
    + r"(\d{1,2})(?:\.|st|nd|rd|th|er)?[\s-]+(?:de\s+|of\s+)?"
    + r"([a-zäàéèûôçñ]{3,10})\.?,?[\s-]+(?:de\s+)?(\d{4})",
    re.IGNORECASE,
)
_NAMED_US = re.compile(_DAY_NAME + r"([a-zä]{3,9})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})", re.IGNORECASE)
_WEEKDAY_BEFORE = re.compile(
    r"(?:mon|tues?|wed|thu|thurs?|fri|sat|sun|monday|tuesday|wednesday|thursday|friday|saturday|sunday|"
    r"mo|di|mi|do|fr|sa|so|montag|dienstag|mittwoch|donnerstag|freitag|samstag|sonnabend|sonntag|"
    r"lundi|mardi|mercredi|jeudi|vendredi|samedi|dimanche)\b\.?,?\s*(?=\d)",
    re.IGNORECASE,
)
_SERIAL = re.compile(r"([2-7]\d{4})(?:[.,](\d{1,15}))?")
_MONTHS_ELSEWHERE = dict(pair.split(":") for pair in words(LISTS["months"]))
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def date_reader(
    texts: Iterable[str], place: Place, column: str, repair: Mapping[str, bool], day_0: date = EXCEL_DAY_0
) -> Callable[[str], Reading]:
    """A reader of dates for a column whose distinct texts are `texts`.

    A clock behind the date goes into `extra` as HH:MM; midnight, which spreadsheets write for 'no time', does
    not. Day and clock are those of the zone that the file writes them in; none is moved to another zone. With
    a declared format that is read; as a counted repair also its order of day, month and year in another
    spelling, and YYYY-MM-DD. Without, YYYY-MM-DD; further, as counted repairs, other spellings that can be
    read in one way. Raises CaseloadError when day and month could be either way round and no row of
    the column decides.
    """
    table, date_format = place.table, place.source.date_format
    day_first = None if date_format or not on(repair, "date_words") else _order(texts, place, column)

    def read(text: str) -> Reading:
        repairs: tuple[str, ...] = ()
        if text.startswith("="):
            return formula()
        spelt = date_format or ISO
        if len(text) > MAX_DATE:
            return Reading(code="bad_date", mend=said("mend.date", spelt=spelt))
        if text.lower() in MISSING and on(repair, "missing_words"):
            return Reading(repairs=("missing_words",))
        day, time = _declared(text, date_format)
        clock = _CLOCK.fullmatch(text) if day is None else None
        if clock and clock[5] and not on(repair, "time_zones"):
            return Reading(code="bad_date", mend=said("mend.zone"))
        if clock and on(repair, "date_times"):
            text, repairs, time = clock[1].strip(), ("date_times",), _time(clock)
            repairs = (*repairs, "time_zones") if clock[5] else repairs
            day, _ = _declared(text, date_format)
        serial = _SERIAL.fullmatch(text) if day is None and on(repair, "date_serials") else None
        if serial and (on(repair, "date_times") or not int(serial[2] or 0)):
            at = datetime.combine(day_0, clock_time()) + timedelta(minutes=_serial_minutes(serial))
            day, repairs = at.date(), (*repairs, "date_serials")
            if _hhmm(at):
                time, repairs = _hhmm(at), (*repairs, "date_times")
        if day is None and table == "weeks" and _WEEK.fullmatch(text) and on(repair, "date_words"):
            day, repairs = _declared(text, "", week=True)[0], (*repairs, "date_words")
        if day is None and on(repair, "date_words"):
            day = _near(text, date_format) if date_format else _other(text, day_first)
            repairs = (*repairs, "date_words")
        if day is None:
            short = not date_format and _SHORT_YEAR.fullmatch(text)
            edits = (Edit(("tables", table), {"date_format": "%d.%m.%y"}),) if short else ()
            mend = said("mend.date", spelt=spelt, table="" if date_format else table, edits=edits)
            return Reading(code="bad_date", mend=mend)
        if not FIRST <= day <= LAST:
            return Reading(code="out_of_range", mend=_years())
        return Reading(value=day, repairs=repairs, extra=time)

    return read


_NUMBERED = re.compile(r"(?:[^\W\d]{1,12}[.:]?[ _-]?)?(-?\d{1,5})(?:[.,]0+)?")


def day_reader(clock: Clock, days: int) -> Callable[[str], Reading]:
    """A reader of numbers of days ('12', 'Day 12', 'T12'), or of steps of so many days, as dates:
    the first (`clock.first_day`) is the start of the study."""

    def read(text: str) -> Reading:
        if text.lower() in MISSING:
            return Reading(repairs=("missing_words",))
        found = _NUMBERED.fullmatch(text) if len(text) <= MAX_DATE else None
        if not found:
            return Reading(code="bad_date", mend=said("mend.numbered_day"))
        at = clock.start.toordinal() + (int(found[1]) - clock.first_day) * days
        if not FIRST.toordinal() <= at <= LAST.toordinal():
            return Reading(code="out_of_range", mend=said("mend.far_day"))
        return Reading(value=date.fromordinal(at))

    return read


def _time(clock: re.Match[str]) -> str | None:
    """HH:MM of a clock as written, whatever its time zone; None for midnight and for no time of day."""
    hour, minute, half = int(clock[2]), int(clock[3]), (clock[4] or "").lower()
    if (hour, minute, half) == (24, 0, ""):
        return END_OF_DAY
    if minute > 59 or hour > 23 or (half and not 1 <= hour <= 12):
        return None
    hour = hour % 12 + (12 if half == "p" else 0) if half else hour
    return f"{hour:02d}:{minute:02d}" if hour or minute else None


def _hhmm(at: datetime) -> str | None:
    """The clock as HH:MM; None for midnight, which spreadsheets write for 'no time'."""
    return f"{at:%H:%M}" if at.hour or at.minute else None


def _serial_minutes(serial: re.Match[str]) -> int:
    """Minutes since Excel's day 0, to the nearest minute."""
    return int(serial[1]) * 1440 + round(float(f"0.{serial[2] or 0}") * 1440)


def _declared(text: str, date_format: str, *, week: bool = False) -> tuple[date | None, str | None]:
    """Day and clock of a text in the declared format, or of YYYY-MM-DD where none is declared."""
    try:
        if date_format:
            at = datetime.strptime(text, date_format)
            return at.date(), _hhmm(at)
        return (date.fromisoformat(text) if week or _ISO.fullmatch(text) else None), None
    except ValueError:
        return None, None


def _near(text: str, date_format: str) -> date | None:
    """A date in the declared order with other signs or another length of year, or as YYYY-MM-DD."""
    if _ISO.fullmatch(text) and not date_format.startswith("%Y"):
        return _declared(text, "")[0]
    tidy = re.sub(r"\s*[-/.]\s*", ".", text).rstrip(".")
    pattern = re.sub(r"[-/.]\s*", ".", date_format)
    for year in ("%Y", "%y"):
        day, _ = _declared(tidy, re.sub("%[Yy]", year, pattern))
        if day is not None:
            return day
    return None


def _order(texts: Iterable[str], place: Place, column: str) -> bool | None:
    """True when the column's dates are day first, False when month first, None when none is so written."""
    votes: set[bool] = set()
    open_text = ""
    for text in map(str.strip, map(str, texts)):
        if len(text) > MAX_DATE or text[:3].isdigit():  # a year, or a serial day number, has no such question
            continue
        text = _WEEKDAY_BEFORE.sub("", text)
        clock = _CLOCK.fullmatch(text)
        found = _YEAR_LAST.fullmatch(clock[1].strip() if clock else text)
        first, second = (int(found[1]), int(found[3])) if found else (0, 0)
        if not (first and second):
            continue
        if (first > 12) != (second > 12):
            votes.add(first > 12)
        elif first != second and first <= 12:
            open_text = open_text or text
    if len(votes) == 1 or not (open_text or votes):
        return next(iter(votes), None)
    ways = [Edit(("tables", place.table), {"date_format": way}) for way in ("%d/%m/%Y", "%m/%d/%Y")]
    raise place.error(
        (f"is '{open_text}'" if open_text else "are these dates")
        + " day first or month first?"
        + (" (some rows can only be day first, others only month first)" if votes else ""),
        said("mend.date_order", edits=ways),
        column,
    )


def _other(text: str, day_first: bool | None) -> date | None:
    text = _WEEKDAY_BEFORE.sub("", text)
    if found := _YEAR_FIRST.fullmatch(text) or _COMPACT.fullmatch(text):
        return _day(found[1], found[2], found[3])
    if found := _YEAR_LAST.fullmatch(text):
        first, second = found[1], found[3]
        return _day(found[4], second, first) if day_first is not False else _day(found[4], first, second)
    if found := _NAMED.fullmatch(text):
        return _named(found[3], found[2], found[1])
    if found := _NAMED_US.fullmatch(text):
        return _named(found[3], found[1], found[2])
    return None


def _named(year: str, month: str, day: str) -> date | None:
    short = _MONTHS_ELSEWHERE.get(month.lower()[:4], month.lower()[:3])
    short = _MONTHS_ELSEWHERE.get(short, short)
    return _day(year, str(_MONTHS.index(short) + 1), day) if short in _MONTHS else None


def _day(year: str, month: str, day: str) -> date | None:
    try:
        return date(int(year), int(month), int(day))
    except ValueError:
        return None


OUTSIDE, CLOCK, ZONE = range(3)
CLOCKS = pd.Series(
    [None] + [f"{minute // 60:02d}:{minute % 60:02d}" for minute in range(1, 1440)], dtype="str"
)
"""The clock of every minute of a day; none for midnight."""


def typed_dates(raw: pd.Series, repair: Mapping[str, bool]) -> Converted:
    """Days of a column of timestamps, and the clock beside them as HH:MM in `extra`.

    Day and clock are those of the column's own time zone, which is how they were written. Midnight stands for
    'no time'. With `date_times` or `time_zones` switched off,
    the rows they would mend have a problem instead.
    """
    wall = raw.dt.tz_localize(None) if raw.dt.tz is not None else raw
    days = wall.dt.floor("D").astype("datetime64[us]")
    given = days.notna().to_numpy()
    outside = given & ~days.between(pd.Timestamp(FIRST), pd.Timestamp(LAST)).to_numpy()
    timed = given & (wall - days >= pd.Timedelta(minutes=1)).to_numpy() & ~outside
    untidy = given & (wall != days).to_numpy() & ~outside
    zoned = given & ~outside & (raw.dt.tz is not None)
    problem = np.full(len(raw), -1)
    if not on(repair, "date_times"):
        problem[untidy] = CLOCK
    if not on(repair, "time_zones"):
        problem[zoned] = ZONE
    problem[outside] = OUTSIDE
    good = problem < 0
    touched = {"date_times": np.flatnonzero(untidy & good), "time_zones": np.flatnonzero(zoned & good)}
    extra = None
    if (timed & good).any():
        minute = (wall - days).dt.total_seconds().fillna(0).floordiv(60).astype("int64").to_numpy()
        extra = CLOCKS.take(np.where(timed & good, minute, 0)).set_axis(raw.index)
    touched = {name: at for name, at in touched.items() if len(at)}
    problems = (
        ("out_of_range", _years()),
        ("bad_date", said("mend.date", spelt=ISO)),
        ("bad_date", said("mend.zone")),
    )
    return Converted(days.mask(~good), problem, problems, raw, given, touched, extra)


def _years() -> str:
    return said("mend.years", first=FIRST.year, last=LAST.year)
