"""Checks for sessions that stand under another person's code, or under another of the person's own dates.

Both rest on loads that a person moves steadily: where loads change by much from session to session, or where
two people use the same loads, an exchange cannot be seen. Check-ins do not say whose they are and cannot be
told apart at all.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

import numpy as np
import pandas as pd

from lagwise.caseload.remarks import Finding, at_row, finding, joined
from lagwise.core.results import Caseload

APART = 0.15
"""Least by which an exchanged load lies away from the person's own (log scale: 16 %)."""
NEAR = 0.06
"""Most by which it lies away from the other's."""
DAYS = 7
"""Two people's exchanges begin within so many days of each other."""
LEAST = 2
"""So many loads of each of the two people, or dates, must tell of the exchange."""
RARE = 0.1
"""An exercise done on at most this share of a person's days may be somebody else's."""
EDGE = 21
"""Of an exchange of more than twice so many days, the days at either end that are looked at."""
STEADY = 0.06
"""Most that a load may usually change from one session of an exercise to the next (median, log scale: 6 %).
"""
LEAPS, LEAPS_OF_DAYS = 0.25, 0.5
"""Share of a steady exercise's changes that may be as large as those at the seams of an exchange; of two
exchanged dates of one person, which have four seams."""
LEAST_SESSIONS = 6
MOST_ENDS = 60
MOST_PAIRS = 20_000
NEVER = 10**7

Cell = tuple[str, int, str]
"""Person, day since 1970, exercise."""


@dataclass(frozen=True)
class Course:
    """One person's loads: exercise -> (days since 1970, log kg), both (n,) in order of time; `steady` names
    the exercises with at least six sessions whose load usually changes little;
    `days` are all days of the person with any load."""

    loads: Mapping[str, tuple[np.ndarray, np.ndarray]]
    steady: frozenset[str]
    days: np.ndarray

    def level(self, exercise: str, start: int, end: int, each: int) -> float | None:
        """Median load of the `each` sessions of an exercise before `start` and the `each` from `end` on;
        None without any."""
        if exercise not in self.loads:
            return None
        days, loads = self.loads[exercise]
        first, last = np.searchsorted(days, (start, end))
        near = [*loads[max(first - each, 0) : first], *loads[last : last + each]]
        return float(median(near)) if near else None

    def within(self, start: int, end: int) -> list[tuple[int, str, float]]:
        """Day, exercise and load of every session cell from `start` to before `end`."""
        out = []
        for exercise, (days, loads) in self.loads.items():
            inside = (days >= start) & (days < end)
            out += [(int(d), exercise, float(x)) for d, x in zip(days[inside], loads[inside], strict=True)]
        return sorted(out)


def courses(sessions: pd.DataFrame, leaps: float) -> dict[str, Course]:
    """Everybody's course, by code; empty without loads. Steady is what changes little and, of its changes, at
    most the share `leaps` by much."""
    loaded = sessions[(sessions["load_kg"] > 0) & sessions["exercise"].notna()]
    if loaded.empty:
        return {}
    keys = ["person", "exercise"]
    top = loaded.groupby([*keys, "date"], sort=True)["load_kg"].max().reset_index()
    begin = np.flatnonzero(~top.duplicated(keys))
    runs = (np.split(values, begin[1:]) for values in (_days(top), np.log(top["load_kg"].to_numpy())))
    of: dict[str, dict[str, tuple[np.ndarray, np.ndarray]]] = {}
    steady: set[tuple[str, str]] = set()
    for person, exercise, days, loads in zip(*(top[k].iloc[begin] for k in keys), *runs, strict=True):
        of.setdefault(str(person), {})[str(exercise)] = days, loads
        if _calm(np.abs(np.diff(loads)), leaps):
            steady.add((str(person), str(exercise)))
    return {
        person: Course(
            own,
            frozenset(e for e in own if (person, e) in steady),
            np.unique(np.concatenate([days for days, _ in own.values()])),
        )
        for person, own in of.items()
    }


def _calm(changes: np.ndarray, leaps: float) -> bool:
    """Whether enough changes from session to session are mostly small, and few of them large."""
    enough = len(changes) >= LEAST_SESSIONS - 1 and np.median(changes) <= STEADY
    return bool(enough and (changes >= APART).mean() <= leaps)


def exchanged_people(caseload: Caseload) -> list[Finding]:
    """Two people whose sessions change places on one date or for some weeks:
    each lifts what the other one usually does."""
    of = courses(caseload.sessions, LEAPS)
    best: dict[tuple[str, str, int], tuple[int, list[Cell]]] = {}
    for a, b, start in _candidates(of):
        told_of = [_exchanged(of, (a, b), start, end) for end in _ends((of[a], of[b]), start)]
        score, cells = max(told_of, key=lambda one: (one[0], len(one[1])))
        if score > 0:
            best[a, b, start] = score, cells
    rows = _rows(caseload.sessions, (cells for _, cells in best.values()))
    parts = caseload.sessions.attrs.get("parts", ())
    said: list[str] = []
    told: set[Cell] = set()
    for (a, b, _), cells in sorted(_surest(best).items(), key=lambda kv: (len(kv[1]), kv[0])):
        if not _beside(told, cells):
            said.append(f"{a} and {b}, {_span(cells)} ({_where(rows, cells, parts)})")
            told |= set(cells)
    return _finding("exchanged_people", said, rows, told)


def exchanged_days(caseload: Caseload) -> list[Finding]:
    """Two sessions of one person, each with the loads of the time of the other."""
    pairs: list[list[Cell]] = []
    for person, course in courses(caseload.sessions, LEAPS_OF_DAYS).items():
        taken: set[int] = set()
        for first, second in itertools.combinations(_strange_days(course), 2):
            if not taken & {first, second} and _fits(course, first, second) and _fits(course, second, first):
                taken |= {first, second}
                pairs.append([(person, d, e) for s in (first, second) for d, e, _ in course.within(s, s + 1)])
    rows, parts = _rows(caseload.sessions, pairs), caseload.sessions.attrs.get("parts", ())
    said = [f"{cells[0][0]}, {_span(cells, ' and ')} ({_where(rows, cells, parts)})" for cells in pairs]
    return _finding("exchanged_days", said, rows, [cell for cells in pairs for cell in cells])


def _candidates(of: Mapping[str, Course]) -> list[tuple[str, str, int]]:
    """Pairs who, within a week, begin to lift what the other one does; with the first day."""
    odd = sorted((day, person) for person, course in of.items() for day in _odd_days(course))
    found: set[tuple[str, str, int]] = set()
    for i, (day, person) in enumerate(odd):
        for j in range(i + 1, len(odd)):
            other_day, other = odd[j]
            if other_day > day + DAYS or len(found) > MOST_PAIRS:
                break
            if other != person:
                found.add((min(person, other), max(person, other), day))
    return sorted(one for one in found if _begins(of, one))


def _odd_days(course: Course) -> list[int]:
    """Days with a steady load that changes by at least `APART`, or an exercise that is hardly ever done."""
    most = RARE * len(course.days)
    out: set[int] = set()
    for exercise, (days, loads) in course.loads.items():
        if exercise in course.steady:
            out |= set(days[1:][np.abs(np.diff(loads)) >= APART].tolist())
        if len(days) <= most:
            out |= set(days.tolist())
    return sorted(out)


def _begins(of: Mapping[str, Course], candidate: tuple[str, str, int]) -> bool:
    """Whether each of the two lifts something of the other one's in the week from the first day on."""
    a, b, start = candidate
    week = start + DAYS + 1

    def told(person: str, other: str) -> bool:
        cells = of[person].within(start, week)
        return any(
            _told(of[person], of[other], e, x, start, end) for _, e, x in cells for end in (week, NEVER)
        )

    return told(a, b) and told(b, a)


def _told(mine: Course, other: Course, exercise: str, load: float, start: int, end: int) -> bool | None:
    """Whether a load within [start, end) is the other one's and not the person's own."""
    own = mine.level(exercise, start, end, 3)
    theirs = other.level(exercise, start, end, 3) if exercise in other.steady else None
    if own is not None and exercise not in mine.steady:
        return None
    if theirs is not None and abs(load - theirs) <= NEAR and (own is None or abs(load - own) >= APART):
        return True
    if theirs is None or (
        own is not None and abs(own - theirs) >= APART and abs(load - own) < abs(load - theirs)
    ):
        return False
    return None


def _ends(pair: tuple[Course, Course], start: int) -> list[int]:
    """Days before which an exchange may end: later days of training, and the end of the record."""
    later = np.unique(np.concatenate([course.days[course.days > start] for course in pair]))
    return [*(int(day) for day in later[:MOST_ENDS]), int(later[-1]) + 1] if len(later) else [start + 1]


def _exchanged(
    of: Mapping[str, Course], pair: tuple[str, str], start: int, end: int
) -> tuple[int, list[Cell]]:
    """How surely sessions in [start, end) are exchanged (cells for it, less thrice those against)."""
    cells: list[Cell] = []
    score = 0
    for person, other in (pair, pair[::-1]):
        mine = 0
        for day, exercise, load in of[person].within(start, end):
            beyond = _outside(day, start, end)
            told = _told(of[person], of[other], exercise, load, *beyond) if beyond else None
            mine += told is True
            score += 1 if told else -3 if told is False else 0
            if told is not False:
                cells.append((person, day, exercise))
        if mine < LEAST:
            return 0, []
    return max(score, 0), cells


def _surest(
    best: Mapping[tuple[str, str, int], tuple[int, list[Cell]]],
) -> dict[tuple[str, str, int], list[Cell]]:
    """Of exchanges of two people that begin within a week of each other the surest."""
    out: dict[tuple[str, str, int], list[Cell]] = {}
    for key, (_, cells) in sorted(best.items(), key=lambda kv: (-kv[1][0], kv[0])):
        if not any(key[:2] == other[:2] and abs(key[2] - other[2]) <= DAYS for other in out):
            out[key] = cells
    return out


def _beside(told: set[Cell], cells: list[Cell]) -> bool:
    """Whether these days lie within two weeks of an exchange told of both people: its mirror image."""
    people = {person for person, _, _ in cells}
    days = [day for _, day, _ in cells]
    near = {p for p, day, _ in told if p in people and min(days) - 2 * DAYS <= day <= max(days) + 2 * DAYS}
    return near == people


def _outside(day: int, start: int, end: int) -> tuple[int, int] | None:
    """Days before and from which the loads lie that a load is compared with:
    of a long exchange those of its nearer end, for loads grow in the meantime; None in the middle of it."""
    if end - start <= 2 * EDGE:
        return start, end
    return (start, NEVER) if day < start + EDGE else (-NEVER, end) if day >= end - EDGE else None


def _strange_days(course: Course) -> list[int]:
    """Days on which at least two loads, and three of four, lie far from those of the sessions around."""
    strange: dict[int, list[bool]] = {}
    for exercise in course.steady:
        days, loads = course.loads[exercise]
        odd = np.abs(loads - _around(loads)) >= APART * 2 / 3
        for day, far in zip(days.tolist(), odd.tolist(), strict=True):
            strange.setdefault(day, []).append(far)
    return sorted(day for day, far in strange.items() if _most(far))


def _around(loads: np.ndarray) -> np.ndarray:
    """(n,) median of the two loads before and the two after each of several."""
    padded = np.pad(loads, 2, constant_values=np.nan)
    near = np.sort(
        [padded[:-4], padded[1:-3], padded[3:-1], padded[4:]], axis=0
    )  # what is not there comes last
    n, at = np.isfinite(near).sum(axis=0), np.arange(len(loads))
    return (near[(n - 1) // 2, at] + near[n // 2, at]) / 2


def _fits(course: Course, day: int, elsewhere: int) -> bool:
    """Whether at least two loads of `day`, and three of four, are those of the sessions around another."""
    near = []
    for _, exercise, load in course.within(day, day + 1):
        level = course.level(exercise, elsewhere, elsewhere + 1, 2) if exercise in course.steady else None
        if level is not None:
            near.append(abs(load - level) <= NEAR)
    return _most(near)


def _most(told: list[bool]) -> bool:
    return sum(told) >= max(LEAST, 0.75 * len(told))


def _rows(sessions: pd.DataFrame, groups: Iterable[list[Cell]]) -> dict[Cell, list[int]]:
    """Row numbers of the cells."""
    out: dict[Cell, list[int]] = {cell: [] for group in groups for cell in group}
    some = sessions[sessions["person"].isin({person for person, _, _ in out})]
    for person, day, exercise, row in zip(
        some["person"], _days(some), some["exercise"], some["row"], strict=True
    ):
        if (person, int(day), exercise) in out:
            out[person, int(day), exercise].append(int(row))
    return out


def _days(table: pd.DataFrame) -> np.ndarray:
    """Days since 1970."""
    return table["date"].to_numpy().astype("datetime64[D]").astype("int64")


def _span(cells: list[Cell], between: str = " to ") -> str:
    days = [day for _, day, _ in cells]
    ends = [date(1970, 1, 1) + timedelta(days=day) for day in dict.fromkeys([min(days), max(days)])]
    return between.join(day.isoformat() for day in ends)


def _where(rows: Mapping[Cell, list[int]], cells: list[Cell], parts: Sequence[str]) -> str:
    own = sorted(row for cell in cells for row in rows[cell])
    return joined([at_row(row, parts) for row in own]) if parts else "row " + joined(list(map(str, own)))


def _finding(
    code: str, said: list[str], rows: Mapping[Cell, list[int]], cells: Iterable[Cell]
) -> list[Finding]:
    count = sum(len(rows[cell]) for cell in cells)
    return [finding(code, "sessions", joined(said, "; "), count)] if said else []
