"""The legal values of a study plan: rules that the plan's fields carry, and how a broken one is said."""

from __future__ import annotations

import codecs
import difflib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime, time
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any, Literal

from pydantic import Field, GetCoreSchemaHandler, TypeAdapter, ValidationError
from pydantic_core import CoreSchema, core_schema

from lagwise.core.claim import coded
from lagwise.core.errors import StudyError, meant
from lagwise.core.variable import VARIABLES

Check = Callable[[Any], Any]
"""Takes a value as read; returns the value to keep or raises Illegal."""
_LARGEST = 1e300
_CHARSETS = """
ascii utf-8 utf-8-sig utf-16 utf-16-le utf-16-be utf-32 utf-32-le utf-32-be cp1250 cp1251 cp1252 cp1253
cp1254 cp1255 cp1256 cp1257 cp1258 iso8859-1 iso8859-2 iso8859-3 iso8859-4 iso8859-5 iso8859-6 iso8859-7
iso8859-8 iso8859-9 iso8859-10 iso8859-11 iso8859-13 iso8859-14 iso8859-15 iso8859-16 cp437 cp720 cp737
cp775 cp850 cp852 cp855 cp856 cp857 cp858 cp860 cp861 cp862 cp863 cp864 cp865 cp866 cp869 cp874 cp932
cp949 cp950 cp1125 cp1006 tis-620 koi8-r koi8-u koi8-t kz1048 ptcp154 mac-roman mac-cyrillic mac-greek
mac-iceland mac-latin2 mac-turkish mac-croatian mac-romanian hp-roman8 palmos shift_jis shift_jisx0213
shift_jis_2004 euc_jp euc_jisx0213 euc_jis_2004 gb2312 gbk gb18030 big5 big5hkscs euc_kr johab
"""
CHARSETS = frozenset(_CHARSETS.split())
"""Python's names of the sets in which a table may be written. Its other codecs are no sets of characters
(rot13, zip, punycode), or read text with escapes or shifts (unicode_escape, utf-7, iso-2022),
in which no table is exported."""
DAY = "day"
"""The date format of tables that number their days."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class Illegal(ValueError):
    """What is legal in place of a value, and what would mend it;
    `value` where it is one of several that is wrong."""

    def __init__(self, legal: str, mend: str = "", **value: Any) -> None:
        self.legal, self.mend, self.value = legal, mend, value
        super().__init__(legal)


@dataclass(frozen=True)
class Rule:
    """What a key of the plan may be: `check` keeps a value or raises Illegal, `kind` is its type for the
    plan's schema.
    """

    check: Check
    kind: Any

    def __call__(self, value: Any) -> Any:
        """The value to keep."""
        return self.check(value)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        kind = handler.generate_schema(self.kind)
        return core_schema.no_info_plain_validator_function(self.check, json_schema_input_schema=kind)


def rule(kind: Any) -> Callable[[Check], Rule]:
    """Make a check the rule of values of a kind."""
    return lambda check: Rule(check, kind)


def checked[T](kind: type[T], given: Any, at: str) -> T:
    """A section of the plan from the values under [`at`], every key and value checked by the
    rules of its fields."""
    try:
        return _adapter(kind).validate_python(mapping(at, given, (f.name for f in fields(kind))))  # type: ignore[arg-type]
    except ValidationError as error:
        first = error.errors()[0]
        raise _said(f"{at}.{first['loc'][0]}", first["input"], first["ctx"]["error"]) from None


@cache
def _adapter[T](kind: type[T]) -> TypeAdapter[T]:
    return TypeAdapter(kind)


def kept(key: str, value: Any, check: Check) -> Any:
    """One value by one rule."""
    try:
        return check(value)
    except Illegal as error:
        raise _said(key, value, error) from None


def _said(key: str, value: Any, error: Illegal) -> StudyError:
    return wrong(key, error.value.get("value", value), error.legal, error.mend)


def wrong(key: str, value: Any, legal: str, mend: str = "") -> StudyError:
    """The error of an illegal value: key, value, legal values."""
    try:
        shown = repr(value)
    except ValueError:
        shown = "a number of thousands of digits"
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    what = coded(f"{key} = {shown} is not allowed; {legal}", key=key, value=value)
    return StudyError(what, where="study.toml", mend=mend)


def unknown(key: str, known: Iterable[str], inside: str = "") -> StudyError:
    """The error of an unknown key, naming the nearest known one."""
    known = sorted(known)
    near = difflib.get_close_matches(key.lower(), known, n=1, cutoff=0.5)
    place = f" in [{inside}]" if inside else ""
    hint = meant(key, near[0]) if near else f"Known keys: {', '.join(known)}."
    what = coded(f"unknown key '{key[:60]}'{place}", key=f"{inside}.{key}")
    return StudyError(what, where="study.toml", mend=hint)


@rule(str)
def text(value: Any) -> str:
    """Text, trimmed."""
    if not isinstance(value, str):
        raise Illegal("it must be text in quotation marks")
    return value.strip()


@rule(str)
def filled(value: Any) -> str:
    """Text that is not empty."""
    if not text(value):
        raise Illegal("it must not be empty")
    return text(value)


def one_of(*choices: str) -> Rule:
    """One of the listed words, in any case."""

    @rule(Literal[choices])
    def check(value: Any) -> str:
        if not isinstance(value, str) or value.strip().lower() not in choices:
            raise Illegal(f"legal values are {', '.join(choices)}")
        return value.strip().lower()

    return check


def whole(low: int, high: int) -> Rule:
    """A whole number from low to high."""

    @rule(Annotated[int, Field(ge=low, le=high)])
    def check(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise Illegal(f"it must be a whole number from {low} to {high}")
        return value

    return check


def number(low: float, high: float, other: str = "") -> Rule:
    """A finite number from low to high."""

    @rule(Annotated[float, Field(ge=low, le=high)])
    def check(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise Illegal(other or f"it must be a number from {low:.9g} to {high:.9g}")
        return float(value)

    return check


def margin(low: float) -> Rule:
    """A finite number from `low` on; that it lies within the outcome's scale is looked at in `consistent`."""
    legal = f"it must be a number from {low:g} to 10, the scale's width, or that of the scale under [ratings]"
    return Rule(number(low, _LARGEST, legal).check, Annotated[float, Field(ge=low)])


@rule(bool)
def flag(value: Any) -> bool:
    """true or false."""
    if not isinstance(value, bool):
        raise Illegal("legal values are true, false")
    return value


@rule(float)
def contrast(value: Any) -> float:
    """A number other than 0; that one of load lies above -1 is looked at in `consistent`."""
    if number(-100, 100)(value) == 0:
        raise Illegal("it must not be 0")
    return float(value)


@rule(list[str])
def exposures(value: Any) -> tuple[str, ...]:
    """A list of different variables; which are known is looked at in `consistent`,
    when the study's own ratings are."""
    if not isinstance(value, list | tuple) or not value:
        raise Illegal(f"it must be a list of exposures; legal values are {', '.join(VARIABLES)}")
    for term in value:
        if not isinstance(term, str):
            raise Illegal(f"legal values are {', '.join(VARIABLES)}", value=term)
    if len(set(value)) < len(value):
        raise Illegal("each exposure may be named once")
    return tuple(value)


@rule(Literal[",", ";", "|", "tab"])
def separator(value: Any) -> str:
    """A cell separator: , ; | or a tab."""
    spelled = value.strip().lower() if isinstance(value, str) else ""
    named = {"tab": "\t", "\\t": "\t", "comma": ",", "semicolon": ";"}.get(spelled, value)
    if named not in (",", ";", "\t", "|"):
        raise Illegal("legal values are ',', ';', '|', 'tab'")
    return str(named)


@rule(str)
def encoding(value: Any) -> str:
    """The name of a character set (`CHARSETS`), under any of the names that Python knows for it."""
    name = filled(value)
    try:
        if len(name) <= 40 and codecs.lookup(name).name in CHARSETS:
            return name
    except (LookupError, ValueError):
        pass
    raise Illegal("it must name a character set such as utf-8, cp1252, latin-1 or utf-16-le")


@rule(str)
def date_format(value: Any) -> str:
    """A date format that writes and reads day, month and year; or 'day', for numbers of days."""
    pattern = filled(value)
    if pattern.lower() == DAY:
        return DAY
    day = datetime(2024, 11, 23)
    parts = re.findall(r"%(.?)", pattern.replace("%%", "")) if len(pattern) <= 60 else []
    alike = ("Yy", "mbBj", "dj", "aA", "HI")
    once = len(set(parts)) == len(parts) and all(len(set(parts) & set(same)) < 2 for same in alike)
    try:
        if (
            once
            and set(parts) & {"Y", "y"}
            and set(parts) <= set("dmYyjbBaAHMSIp")
            and datetime.strptime(day.strftime(pattern), pattern).date() == day.date()
        ):
            return pattern
    except (ValueError, re.error):
        pass
    raise Illegal(
        "it must hold day, month and year, such as %d.%m.%Y, %m/%d/%Y or %Y-%m-%d, or 'day' for day numbers"
    )


@rule(str)
def day(value: Any) -> str:
    """A calendar date, kept as YYYY-MM-DD."""
    try:
        if isinstance(value, date):
            return value.strftime("%Y-%m-%d")
        return date.fromisoformat(filled(value)).isoformat()
    except ValueError:
        raise Illegal("it must be a date written as 2025-09-01") from None


@rule(str)
def small_hour(value: Any) -> str:
    """A time of day before noon, kept as HH:MM."""
    text = value.strftime("%H:%M") if isinstance(value, time) else value
    if not isinstance(text, str) or not re.fullmatch(r"(0?\d|1[01]):[0-5]\d", text.strip()):
        raise Illegal('it must be a time before noon, such as "04:00"')
    return text.strip().zfill(5)


@rule(list[str])
def names(value: Any) -> tuple[str, ...]:
    """A list of different names."""
    if not isinstance(value, list | tuple) or not value:
        raise Illegal('it must be a list of names, such as ["first", "second"]')
    kept = tuple(" ".join(filled(name).split()) for name in value)
    if len(set(kept)) < len(kept):
        raise Illegal("each name may stand there once")
    return kept


def worded(name: str) -> str:
    """The name of a kind of event as tables hold it: lower case, with underscores."""
    return re.sub(r"[\s-]+", "_", name.strip().lower())


@rule(list[str])
def kinds(value: Any) -> tuple[str, ...]:
    """Kinds of events: words in lower case with underscores."""
    kept = tuple(map(worded, names(value)))
    if len(set(kept)) < len(kept):
        raise Illegal("each kind may stand there once")
    return kept


def by_kind(each: Rule) -> Rule:
    """By kind of event a value of its own; which kinds are known is looked at in `consistent`."""

    @rule(dict[str, each.kind])  # type: ignore[name-defined]
    def check(value: Any) -> Mapping[str, Any]:
        if not isinstance(value, Mapping):
            raise Illegal("it stands in a section of the kind of event, such as [events.education]")
        return MappingProxyType({str(kind): each.check(one) for kind, one in value.items()})

    return check


@rule(list[str] | Literal["*"])
def sheets(value: Any) -> tuple[str, ...]:
    """Sheets of a workbook: a list of names, or '*' for all of them."""
    return ("*",) if value in ("*", ["*"], ("*",)) else names(value)


@rule(Literal[".", ","])
def decimal(value: Any) -> str:
    """The decimal sign."""
    if value not in (".", ","):
        raise Illegal("legal values are '.', ','")
    return str(value)


UNITS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "load_kg": MappingProxyType({"kg": 1.0, "lb": 0.45359237}),
        "minutes": MappingProxyType({"min": 1.0, "h": 60.0}),
        "sleep_hours": MappingProxyType({"h": 1.0, "min": 1 / 60}),
        "sets": MappingProxyType({"count": 1.0}),
    }
)
"""Units a column may be declared in, each with its factor to the contract's unit."""


def mapping(key: str, value: Any, known: Iterable[str] = ()) -> Mapping[str, Any]:
    """A TOML table, every key one of the `known` ones where these are given."""
    if not isinstance(value, dict):
        raise wrong(key, value, f"it must be a section, written [{key}]")
    known = tuple(known)
    for name in value if known else ():
        if name not in known:
            raise unknown(name, known, key)
    return value


def finite(value: Any) -> bool:
    """True for a finite number that is no true/false."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _LARGEST
