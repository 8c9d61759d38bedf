"""The legal keys and values of study.toml, section by section, and how each value is checked."""

from __future__ import annotations

import codecs
import difflib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from types import MappingProxyType
from typing import Any

from lagwise.core.columns import LOAD_MEASURES, RATINGS, TABLES
from lagwise.core.errors import StudyError
from lagwise.core.study import NO_LONGER_ASKED, AnalysisPlan, RatingPlan, Study
from lagwise.core.terms import PANEL
from lagwise.core.variable import VARIABLES

Check = Callable[[str, Any], Any]
"""Takes the key as 'section.key' and the value as read; returns the value to keep or raises StudyError."""

_LARGEST = 1e300
CHARSETS = frozenset(
    (
        "ascii", "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-le", "utf-32-be",
        *(f"cp{page}" for page in range(1250, 1259)), *(f"iso8859-{part}" for part in range(1, 17) if part != 12),
        "cp437", "cp720", "cp737", "cp775", "cp850", "cp852", "cp855", "cp856", "cp857", "cp858", "cp860", "cp861", "cp862", "cp863",
        "cp864", "cp865", "cp866", "cp869", "cp874", "cp932", "cp949", "cp950", "cp1125", "cp1006", "tis-620", "koi8-r", "koi8-u", "koi8-t",
        "kz1048", "ptcp154", "mac-roman", "mac-cyrillic", "mac-greek", "mac-iceland", "mac-latin2", "mac-turkish", "mac-croatian",
        "mac-romanian", "hp-roman8", "palmos", "shift_jis", "shift_jisx0213", "shift_jis_2004", "euc_jp", "euc_jisx0213", "euc_jis_2004",
        "gb2312", "gbk", "gb18030", "big5", "big5hkscs", "euc_kr", "johab",
    )
)  # fmt: skip
"""Python's names of the sets in which a table may be written. Its other codecs are no sets of characters (rot13, zip, punycode),
or read text with escapes or shifts (unicode_escape, utf-7, iso-2022), in which no table is exported."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def wrong(key: str, value: Any, legal: str, mend: str = "") -> StudyError:
    """The error of an illegal value: key, value, legal values."""
    try:
        shown = repr(value)
    except ValueError:
        shown = "a number of thousands of digits"
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    return StudyError(f"{key} = {shown} is not allowed; {legal}", where="study.toml", mend=mend)


def unknown(key: str, known: Iterable[str], inside: str = "") -> StudyError:
    """The error of an unknown key, naming the nearest known one."""
    known = sorted(known)
    near = difflib.get_close_matches(key.lower(), known, n=1, cutoff=0.5)
    place = f" in [{inside}]" if inside else ""
    hint = f"Did you mean '{near[0]}'?" if near else f"Known keys: {', '.join(known)}."
    return StudyError(f"unknown key '{key[:60]}'{place}", where="study.toml", mend=hint)


def text(key: str, value: Any) -> str:
    """Text, trimmed."""
    if not isinstance(value, str):
        raise wrong(key, value, "it must be text in quotation marks")
    return value.strip()


def filled(key: str, value: Any) -> str:
    """Text that is not empty."""
    if not text(key, value):
        raise wrong(key, value, "it must not be empty")
    return text(key, value)


def word(*choices: str) -> Check:
    """One of the listed words, in any case."""

    def check(key: str, value: Any) -> str:
        if not isinstance(value, str) or value.strip().lower() not in choices:
            raise wrong(key, value, f"legal values are {', '.join(choices)}")
        return value.strip().lower()

    return check


def whole(low: int, high: int) -> Check:
    """A whole number from low to high."""

    def check(key: str, value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise wrong(key, value, f"it must be a whole number from {low} to {high}")
        return value

    return check


def number(low: float, high: float) -> Check:
    """A finite number from low to high."""

    def check(key: str, value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise wrong(key, value, f"it must be a number from {low:g} to {high:g}")
        return float(value)

    return check


def margin(low: float) -> Check:
    """A finite number from `low` on; that it lies within the outcome's scale is looked at in `consistent`."""

    def check(key: str, value: Any) -> float:
        if not finite(value) or value < low:
            raise wrong(
                key,
                value,
                f"it must be a number from {low:g} to 10, the width of the scale, or of the scale that [ratings] declares",
            )
        return float(value)

    return check


def flag(key: str, value: Any) -> bool:
    """true or false."""
    if not isinstance(value, bool):
        raise wrong(key, value, "legal values are true, false")
    return value


def contrast(key: str, value: Any) -> float:
    """A number other than 0; that one of load lies above -1 is looked at in `consistent`."""
    if number(-100, 100)(key, value) == 0:
        raise wrong(key, value, "it must not be 0")
    return float(value)


def exposures(key: str, value: Any) -> tuple[str, ...]:
    """A list of different variables; which are known is looked at in `consistent`, when the study's own ratings are."""
    if not isinstance(value, list | tuple) or not value:
        raise wrong(key, value, f"it must be a list of exposures; legal values are {', '.join(VARIABLES)}")
    for term in value:
        if not isinstance(term, str):
            raise wrong(key, term, f"legal values are {', '.join(VARIABLES)}")
    if len(set(value)) < len(value):
        raise wrong(key, value, "each exposure may be named once")
    return tuple(value)


def separator(key: str, value: Any) -> str:
    """A cell separator: , ; | or a tab."""
    spelled = value.strip().lower() if isinstance(value, str) else ""
    named = {"tab": "\t", "\\t": "\t", "comma": ",", "semicolon": ";"}.get(spelled, value)
    if named not in (",", ";", "\t", "|"):
        raise wrong(key, value, "legal values are ',', ';', '|', 'tab'")
    return str(named)


def encoding(key: str, value: Any) -> str:
    """The name of a character set (`CHARSETS`), under any of the names that Python knows for it."""
    name = filled(key, value)
    try:
        if len(name) <= 40 and codecs.lookup(name).name in CHARSETS:
            return name
    except (LookupError, ValueError):
        pass
    raise wrong(key, value, "it must name a character set such as utf-8, cp1252, latin-1 or utf-16-le")


def date_format(key: str, value: Any) -> str:
    """A date format that writes and reads day, month and year."""
    pattern = filled(key, value)
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
    raise wrong(key, value, "it must hold day, month and year, such as %d.%m.%Y, %m/%d/%Y or %Y-%m-%d")


def decimal(key: str, value: Any) -> str:
    """The decimal sign."""
    if value not in (".", ","):
        raise wrong(key, value, "legal values are '.', ','")
    return str(value)


SECTIONS: Mapping[str, Mapping[str, Check]] = MappingProxyType(
    {
        "clock": {
            "step_days": whole(1, 28),
            "week_starts": word(*WEEKDAYS),
            "checkin_time": word("morning", "evening", "unknown"),
        },
        "load": {
            "measure": word(*LOAD_MEASURES),
            "usual_steps": whole(1, 52),
            "usual_needs": whole(1, 52),
            "spike_ratio": number(1.01, 10),
            "no_sessions_means": word("rest", "unknown"),
            "hard_effort": number(0, 10),
            "near_failure_effort": number(0, 10),
        },
        "pain": {
            "summary": word("mean", "worst", "last"),
            "rated": word("end", "start"),
            "flare_rise": margin(0.1),
            "important_change": margin(0.1),
        },
        "analysis": {
            "exposures": exposures,
            "primary": filled,
            "primary_contrast": contrast,
            "practically_zero": margin(0),
            "headline": word("joint", "mixed"),
            "outcome": filled,
            "lag": whole(0, 1),
            "order": word("exposure_first", "unknown"),
        },
    }
)
_FIRST, _LAST = ("load_", "usual_"), ("_within", "_between", "_next", "_before", "_later")
"""How the panel's own names for what comes from a rating begin and end."""
RATING: Mapping[str, Check] = MappingProxyType(
    {
        "label": filled,
        "low": number(-1e6, 1e6),
        "high": number(-1e6, 1e6),
        "worse": word("high", "low", "neither"),
        "important_change": number(1e-6, 1e6),
        "practically_zero": number(0, 1e6),
        "flare_rise": number(1e-6, 1e6),
    }
)
"""Keys of `[ratings.NAME]`."""
_TABLES = {column.name for table in TABLES.values() for column in table} - set(RATINGS)
NOT_A_RATING = {*_TABLES, *PANEL, "row", "source", "recorded", "pain_mean", "pain_worst", "pain_last"} - set(RATINGS)
"""Names that mean something else in a table or in the panel."""
TOP: Mapping[str, Check] = MappingProxyType({"title": filled, "setting": text, "ethics": text})
SOURCE: Mapping[str, Check] = MappingProxyType(
    {
        "file": filled,
        "sheet": filled,
        "sep": separator,
        "decimal": decimal,
        "encoding": encoding,
        "date_format": date_format,
        "header_row": whole(1, 1000),
    }
)
UNITS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "load_kg": MappingProxyType({"kg": 1.0, "lb": 0.45359237}),
        "minutes": MappingProxyType({"min": 1.0, "h": 60.0}),
        "sleep_hours": MappingProxyType({"h": 1.0, "min": 1 / 60}),
        "sets": MappingProxyType({"count": 1.0}),
    }
)
"""Units a column may be declared in, each with its factor to the contract's unit."""


def mapping(key: str, value: Any) -> Mapping[str, Any]:
    """A TOML table."""
    if not isinstance(value, dict):
        raise wrong(key, value, f"it must be a section, written [{key}]")
    return value


def finite(value: Any) -> bool:
    """True for a finite number that is no true/false."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _LARGEST


def ratings(given: Any) -> Mapping[str, RatingPlan]:
    """`[ratings.NAME]` sections: a rating of the study's own with its range, or one of the contract's on another scale."""
    out = {}
    for name, keys in mapping("ratings", given).items():
        inside = f"ratings.{name}"
        if not re.fullmatch(r"[a-z][a-z0-9_]{0,39}", name):
            legal = "the name of a rating is lower-case letters, digits and underscores"
            raise wrong(inside, name, legal, "Rename it; its label and its column may be called anything.")
        known = VARIABLES.get(name)
        if name in NOT_A_RATING or name.startswith(_FIRST) or name.endswith(_LAST):
            raise wrong(inside, name, "that is the name of something else in the tables", "Rename it.")
        for key in mapping(inside, keys):
            if key not in RATING:
                raise unknown(key, RATING, inside)
        values = {key: RATING[key](f"{inside}.{key}", value) for key, value in keys.items()}
        if known is None and not {"low", "high"} <= set(values):
            raise StudyError(
                f"[{inside}] has no range",
                where="study.toml",
                mend="Write the ends of its scale, such as low = 1 and high = 5.",
            )
        plan = RatingPlan(**({"low": known.low, "high": known.high} | values if known else values))
        if not plan.low < plan.high:
            raise wrong(inside, {"low": plan.low, "high": plan.high}, "low must lie below high")
        for key in ("important_change", "practically_zero", "flare_rise"):
            if (getattr(plan, key) or 0) > plan.high - plan.low:
                raise wrong(f"{inside}.{key}", getattr(plan, key), f"the whole range is {plan.high - plan.low:g}")
        out[name] = plan
    return MappingProxyType(out)


def consistent(study: Study) -> Study:
    """The plan, when its keys go together.

    Raises
    ------
    StudyError
        With key, value and what is legal.
    """
    a, known = study.analysis, study.variables
    if study.load.usual_needs > study.load.usual_steps:
        raise wrong("load.usual_needs", study.load.usual_needs, f"at most usual_steps = {study.load.usual_steps}")
    for key, asked in (("exposures", a.exposures), ("primary", (a.primary,)), ("outcome", (a.outcome,))):
        legal = [name for name, v in known.items() if v.rated or key != "outcome"]
        for name in asked:
            if name not in legal:
                near = difflib.get_close_matches(name, legal, n=1)
                hint = (
                    f"Did you mean '{near[0]}'?"
                    if near
                    else "A rating of your own needs [ratings.NAME] with low and high."
                )
                raise wrong(f"analysis.{key}", name, f"legal values are {', '.join(legal)}", hint)
    for table, source in study.tables.items():
        for name in source.units:
            if name in study.ratings and name not in UNITS:
                place = f"tables.{table}.units.{name}"
                ways = f"With units it is read as points from 0 to 10, with [ratings.{name}] on its own scale: take out one of the two."
                raise wrong(place, source.units[name], f"[ratings.{name}] declares its scale already", ways)
    asked_about = study.outcome
    for key, size in (
        ("pain.flare_rise", asked_about.rise), ("pain.important_change", asked_about.important), ("analysis.practically_zero", asked_about.zero)
    ):  # fmt: skip
        if size > asked_about.variable.width:
            raise wrong(key, size, f"the whole scale of {asked_about.name} is {asked_about.variable.width:g} wide")
    if a.outcome in a.exposures:
        raise wrong(
            "analysis.outcome",
            a.outcome,
            "it is among the exposures",
            "Take it out of exposures: what is asked about is not one.",
        )
    if a.primary not in a.exposures:
        raise wrong(
            "analysis.primary",
            a.primary,
            f"it must be one of the exposures: {', '.join(a.exposures)}",
            "Name the primary exposure, or add it to exposures.",
        )
    if a.primary == "jump" and a.primary_contrast < -0.99:
        raise wrong(
            "analysis.primary_contrast", a.primary_contrast, "load cannot fall by all of it: from -0.99 for jump"
        )
    if a.lag == 0 and a.order != "exposure_first":
        raise wrong(
            "analysis.lag",
            0,
            'within one step the order must be declared: order = "exposure_first"',
            "Write it only where what is asked about comes after the exposures, as today's rating after last night's sleep.",
        )
    return study


def exposures_but(outcome: str, asked: tuple[str, ...] = AnalysisPlan.exposures) -> tuple[str, ...]:
    """The exposures of a plan that names none, or of one whose outcome changes: without the outcome."""
    return tuple(term for term in asked if term != outcome)


def changed_plan(study: Study, changes: Mapping[str, Any]) -> Study:
    """A plan with some keys changed; raises as `Study.with_` says."""
    parts: dict[str, Any] = {}
    homes = {key: section for section, keys in SECTIONS.items() for key in keys if key not in NO_LONGER_ASKED}
    for key, value in changes.items():
        if key in homes:
            section = homes[key]
            parts.setdefault(section, {})[key] = SECTIONS[section][key](f"{section}.{key}", value)
        elif key in TOP:
            parts[key] = TOP[key](key, value)
        elif key == "ratings":
            parts[key] = ratings(value)
        else:
            raise unknown(key, (*homes, *TOP, "ratings"))
    analysis = parts.get("analysis", {})
    if "outcome" in analysis and "exposures" not in analysis:
        analysis["exposures"] = exposures_but(analysis["outcome"], study.analysis.exposures)
    made = {k: replace(getattr(study, k), **v) if k in SECTIONS else v for k, v in parts.items()}
    return consistent(replace(study, **made))
