"""Columns that are the same rating on several days: weekdays, weeks, study days, dates as headers."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from lagwise.caseload.words import words
from lagwise.core.claim import said
from lagwise.drafts.guess import Certainty

_DAYS = """
mon monday mo montag lun lundi lunes lunedi
tue tues tuesday di dienstag mar mardi martes martedi
wed wednesday mi mittwoch mer mercredi mié miércoles mercoledi
thu thur thurs thursday do donnerstag jeu jeudi jue jueves giovedi
fri friday fr freitag ven vendredi vie viernes venerdi
sat saturday sa samstag sonnabend sam samedi sáb sábado sabato
sun sunday so sonntag dim dimanche dom domingo domenica
"""
WEEKDAYS: Mapping[str, int] = {
    name: day for day, names in enumerate(_DAYS.strip().splitlines()) for name in names.split()
}
_STEPS: Mapping[str, tuple[int, str]] = {
    **dict.fromkeys(words("w wk week weeks woche kw sem semaine semana"), (7, "week")),
    **dict.fromkeys(words("d day days tag jour dia studyday"), (1, "day")),
    **dict.fromkeys(words("m mo month months monat mois"), (30, "month")),
    **dict.fromkeys(words("t v visit time wave tp timepoint session s"), (7, "visit")),
}
_UNIT = "|".join(sorted(_STEPS, key=len, reverse=True))
_BEHIND = re.compile(rf"(.*?)(?:(?:^|(?<=[\s_.\-(]))({_UNIT}))?[\s_.-]*(\d{{1,3}})\)?", re.IGNORECASE)
_BEFORE = re.compile(rf"({_UNIT})[\s_.-]*(\d{{1,3}})[\s_.-]+(.+)", re.IGNORECASE)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}|\d{1,2}\.\d{1,2}\.\d{4}")
FEWEST = 3


@dataclass(frozen=True)
class Run:
    """Headers that say the same of several days: what they share (`stem`), days after the first,
    the kind of step in words, and how sure that step is. `start` is the date of day 0 of headers that are
    dates."""

    stem: str
    days: Mapping[str, int]
    step: str
    certainty: Certainty
    why: str
    start: date | None = None


def runs(headers: Sequence[str]) -> list[Run]:
    """The runs of columns among the headers of a sheet."""
    return [*_weekdays(headers), *_dated(headers), *_numbered(headers)]


def _weekdays(headers: Sequence[str]) -> list[Run]:
    by_stem: dict[str, dict[str, int]] = {}
    for header in headers:
        tokens = re.findall(r"[^\W_]+", header.lower())
        named = [t for t in tokens if t in WEEKDAYS]
        if len(named) == 1 and len(tokens) <= 4:
            stem = " ".join(t for t in tokens if t not in WEEKDAYS)
            by_stem.setdefault(stem, {})[header] = WEEKDAYS[named[0]]
    return [
        Run(stem, days, "weekday", "sure", "a weekday")
        for stem, days in by_stem.items()
        if len(set(days.values())) == len(days) >= 5
    ]


def from_date(run: Run, weekdays: Sequence[int]) -> tuple[dict[str, int], Certainty, str]:
    """Days from the row's own date to every weekday of a run; `weekdays` are those of the rows' dates."""
    usual = max(set(weekdays), key=list(weekdays).count, default=0)
    order = list(run.days.values())
    if usual == 6 and order[0] == 0:
        return {h: d - 6 for h, d in run.days.items()}, "look at this", said("draft.sundays")
    days = {h: (d - usual) % 7 for h, d in run.days.items()}
    if usual == order[0] and set(weekdays) == {usual}:
        return days, "sure", said("draft.first_days")
    return days, "look at this", said("draft.after_date")


def _dated(headers: Sequence[str]) -> list[Run]:
    at = {header: day for header in headers if (day := _day(header))}
    if len(at) < FEWEST or list(at.values()) != sorted(set(at.values())):
        return []
    start = min(at.values())
    return [Run("", {h: (d - start).days for h, d in at.items()}, "date", "sure", "a date as header", start)]


def _day(header: str) -> date | None:
    if not _DATE.fullmatch(header):
        return None
    parts = [int(p) for p in re.split(r"[-.]", header)]
    try:
        return date(*(parts if parts[0] > 31 else parts[::-1]))
    except ValueError:
        return None


def _numbered(headers: Sequence[str]) -> list[Run]:
    by_stem: dict[tuple[str, str], dict[str, int]] = {}
    for header in headers:
        if found := _BEFORE.fullmatch(header):
            unit, number, stem = found.groups()
        elif found := _BEHIND.fullmatch(header):
            stem, unit, number = found.groups()
        else:
            continue
        key = (" ".join(re.findall(r"[^\W_]+", stem.lower())), (unit or "").lower())
        by_stem.setdefault(key, {})[header] = int(number)
    out = []
    kept = {k: v for k, v in by_stem.items() if len(set(v.values())) == len(v) >= FEWEST}
    for (stem, unit), at in kept.items():
        first = min(n for (_, u), other in kept.items() if u == unit for n in other.values())
        length, step = _STEPS.get(unit, (7, ""))
        clear = step in ("week", "day")
        why = f"a {step}" if clear else said("draft.step_taken", step=step or "number", days=length)
        certainty: Certainty = "sure" if clear else "look at this"
        out.append(
            Run(stem, {h: (n - first) * length for h, n in at.items()}, step or "number", certainty, why)
        )
    return out
