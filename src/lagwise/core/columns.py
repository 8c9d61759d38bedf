"""The column vocabulary of the input tables: name, unit and legal range in one place.

The reader's schemas, the data dictionary in the docs and the labels on figures are made from it; what each
column means is said in `lagwise.say.columns`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from lagwise.core.variable import PAIN, VARIABLES, WEEK

if TYPE_CHECKING:
    from lagwise.core.study import Study

Kind = Literal["code", "date", "time", "text", "number", "count", "yesno", "choice"]


@dataclass(frozen=True)
class Column:
    """One column of an input table.

    `low` and `high` are inclusive legal limits in `unit`; `choices` lists the legal words of a `choice`;
    `rated` is True for points on a scale between them.
    """

    name: str
    kind: Kind
    unit: str = ""
    low: float | None = None
    high: float | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    rated: bool = False


_PERSON = Column("person", "code", required=True)
_DATE = Column("date", "date", required=True)
_SCALE: dict[str, Any] = {"unit": "points", "low": 0.0, "high": 10.0, "rated": True}

_RATINGS = (
    *(
        Column(v.name, "number", "points" if points else "h", v.low, v.high, rated=points)
        for v in sorted(VARIABLES.values(), key=lambda v: not v.flares)
        if v.rated
        for points in (v.unit == "point",)
    ),
    Column("flare", "yesno"),
)

SESSIONS = (
    _PERSON,
    _DATE,
    Column("time", "time"),
    Column("exercise", "text"),
    Column("sets", "count", unit="sets", low=0.0, high=100.0),
    Column("reps", "number", unit="per set", low=0.0, high=200.0),
    Column("load_kg", "number", unit="kg", low=0.0, high=600.0),
    Column("effort", "number", **_SCALE),
    Column("reps_in_reserve", "number", unit="reps", low=0.0, high=20.0),
    Column("minutes", "number", unit="min", low=0.0, high=600.0),
)

CHECKINS = (_PERSON, _DATE, Column("time", "time"), *_RATINGS)

PEOPLE = (
    _PERSON,
    Column("site", "text"),
    Column("region", "text"),
    Column("age_band", "text"),
    Column("sex", "text"),
    Column("months_with_pain", "number", unit="months", low=0.0, high=1200.0),
    Column("training_years", "number", unit="years", low=0.0, high=100.0),
)

EVENT_KINDS = (
    "load_reduced", "load_resumed", "technique_change", "education", "exercise_added",
    "exercise_removed", "illness", "injury_elsewhere", "break",
)  # fmt: skip

EVENTS = (
    _PERSON,
    _DATE,
    Column("kind", "choice", required=True, choices=EVENT_KINDS),
    Column("until", "date"),
    Column("because", "choice", choices=("planned", PAIN, "other")),
)

MEASURED = Column("load", "number", unit="as measured", low=0.0)
"""A column of sessions under `[load] measure = "measured"`."""

STATES = ("trained", "rest", "unknown")

WEEKS = (
    _PERSON,
    Column(WEEK, "date", required=True),
    Column("load", "number", unit="as measured", low=0.0),
    Column("effort", "number", **_SCALE),
    *_RATINGS,
    Column("trained", "choice", choices=STATES),
)

TABLES: Mapping[str, tuple[Column, ...]] = MappingProxyType(
    {"sessions": SESSIONS, "checkins": CHECKINS, "people": PEOPLE, "events": EVENTS, "weeks": WEEKS}
)
"""Columns of every input table, in contract order."""
WHEN = MappingProxyType({
    table: c.name for table, own in TABLES.items() for c in own if c.kind == "date" and c.required
})  # fmt: skip
"""The column of each dated table that says of when a row is."""

PLACING = ("person", "date", WEEK, "time")
"""Columns that say whose a row is and of when."""

RATINGS = tuple(column.name for column in _RATINGS if column.kind == "number")
"""The rated columns of a check-in: pain, stress, sleep_hours, sleep_quality, worry, confidence."""

LOAD_MEASURES: Mapping[str, str] = MappingProxyType(
    {
        "sets": "working sets",
        "reps": "repetitions",
        "tonnage": "kg lifted (sets x reps x load)",
        "session_rpe": "effort x minutes",
        "hard_sets": "sets at or above the hard effort",
        "near_failure_sets": "sets at or above the near-failure effort",
        "measured": "load as measured",
    }
)
"""Ways of measuring a step's load, each with what one unit of it is."""

LOAD_NEEDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "sets": ("sets",),
        "reps": ("sets", "reps"),
        "tonnage": ("sets", "reps", "load_kg"),
        "session_rpe": ("effort", "minutes"),
        "hard_sets": ("sets", "effort"),
        "near_failure_sets": ("sets", "effort"),
        "measured": ("load",),
    }
)
"""Columns of sessions that each measure of load is made of."""


def names(table: str) -> tuple[str, ...]:
    """Column names of an input table in contract order."""
    return tuple(column.name for column in TABLES[table])


def tables(study: Study) -> Mapping[str, tuple[Column, ...]]:
    """Columns of every input table under a plan: the contract's, ratings on the scale that the plan declares,
    the study's own ratings behind those of check-ins and weeks, its baseline scores behind those of people,
    its kinds of events beside the contract's, and load where it is taken as measured."""
    declared: dict[str, dict[str, Any]] = {
        name: {"low": study.variables[name].low, "high": study.variables[name].high} for name in study.ratings
    }
    own = tuple(
        Column(name, "number", unit="points", rated=True, **ends)
        for name, ends in declared.items()
        if name not in RATINGS
    )
    scores = tuple(Column(name, "number", "points", *ends) for name, ends in study.scores.items())
    measured = (replace(MEASURED, unit=study.load.unit or MEASURED.unit),)
    more = {"checkins": own, "weeks": own, "people": scores}
    if study.load.measure == "measured":
        more["sessions"] = measured
    if study.events.kinds:
        declared["kind"] = {"choices": (*EVENT_KINDS, *study.events.kinds)}
    return {
        table: (
            *(replace(c, **declared[c.name]) if c.name in declared else c for c in columns),
            *more.get(table, ()),
        )
        for table, columns in TABLES.items()
    }


def ratings(study: Study) -> tuple[str, ...]:
    """The rated columns of check-ins under a plan: `RATINGS` and the study's own."""
    return (*RATINGS, *(name for name in study.ratings if name not in RATINGS))


def scales_of_ten(study: Study) -> list[str]:
    """The ratings of check-ins that are made from 0 to 10 under a plan."""
    return [c.name for c in tables(study)["checkins"] if c.rated and (c.low, c.high) == (0, 10)]
