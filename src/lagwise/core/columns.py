"""The column vocabulary of the input tables: name, unit, legal range and meaning in one place.

The reader's schemas, the data dictionary in the docs and the labels on figures are made from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

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
    meaning: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    rated: bool = False


_PERSON = Column("person", "code", "Code of the person; never a name", required=True)
_DATE = Column("date", "date", "Calendar date", required=True)
_SCALE: dict[str, Any] = {"unit": "points", "low": 0.0, "high": 10.0, "rated": True}

_RATINGS = (
    Column("pain", "number", "Pain on a 0-10 numerical rating scale", **_SCALE),
    Column("stress", "number", "Stress, 0 none to 10 most", **_SCALE),
    Column("sleep_hours", "number", "Hours slept per night", unit="h", low=0.0, high=24.0),
    Column("sleep_quality", "number", "Sleep quality, 0 worst to 10 best", **_SCALE),
    Column("worry", "number", "Worry about the pain or about moving, 0 none to 10 most", **_SCALE),
    Column("confidence", "number", "Confidence to train despite pain, 0 none to 10 full", **_SCALE),
    Column("flare", "yesno", "The person calls this a flare-up"),
)

SESSIONS = (
    _PERSON,
    _DATE,
    Column("time", "time", "Time the session began, HH:MM"),
    Column("exercise", "text", "Name of the exercise"),
    Column("sets", "count", "Working sets; 0 means 'came, did none'", unit="sets", low=0.0, high=100.0),
    Column("reps", "number", "Repetitions per set", unit="per set", low=0.0, high=200.0),
    Column("load_kg", "number", "Load on the bar, stack or in the hands", unit="kg", low=0.0, high=600.0),
    Column("effort", "number", "Rating of perceived exertion of the working sets, 0-10", **_SCALE),
    Column(
        "reps_in_reserve",
        "number",
        "Repetitions left in reserve; effort = 10 - this",
        unit="reps",
        low=0.0,
        high=20.0,
    ),
    Column("minutes", "number", "Duration of the session or exercise", unit="min", low=0.0, high=600.0),
)

CHECKINS = (_PERSON, _DATE, Column("time", "time", "Time of the rating, HH:MM"), *_RATINGS)

PEOPLE = (
    _PERSON,
    Column("site", "text", "Where the person trains"),
    Column("region", "text", "Where it hurts"),
    Column("age_band", "text", "Age band, such as 30-39"),
    Column("sex", "text", "Sex as recorded"),
    Column("months_with_pain", "number", "Months since this pain began", unit="months", low=0.0, high=1200.0),
    Column("training_years", "number", "Years of regular training", unit="years", low=0.0, high=100.0),
)

EVENT_KINDS = (
    "load_reduced", "load_resumed", "technique_change", "education", "exercise_added",
    "exercise_removed", "illness", "injury_elsewhere", "break",
)  # fmt: skip

EVENTS = (
    _PERSON,
    _DATE,
    Column("kind", "choice", "What changed", required=True, choices=EVENT_KINDS),
    Column("until", "date", "Last day of what lasted"),
    Column("because", "choice", "Why it changed", choices=("planned", "pain", "other")),
)

MEASURED = Column(
    "load", "number", "Training load of the row as it was measured, in any unit", unit="as measured", low=0.0
)
"""A column of sessions under `[load] measure = "measured"`."""

STATES = ("trained", "rest", "unknown")

WEEKS = (
    _PERSON,
    Column("week", "date", "Any date inside the week", required=True),
    Column(
        "load", "number", "Training load of the week in the unit the study names", unit="as measured", low=0.0
    ),
    Column(
        "effort", "number", "Mean rating of perceived exertion of the week's working sets, 0-10", **_SCALE
    ),
    *_RATINGS,
    Column("trained", "choice", "Training state of the week", choices=STATES),
)

TABLES: Mapping[str, tuple[Column, ...]] = MappingProxyType(
    {"sessions": SESSIONS, "checkins": CHECKINS, "people": PEOPLE, "events": EVENTS, "weeks": WEEKS}
)
"""Columns of every input table, in contract order."""
WHEN = MappingProxyType({
    table: c.name for table, own in TABLES.items() for c in own if c.kind == "date" and c.required
})  # fmt: skip
"""The column of each dated table that says of when a row is."""

PLACING = ("person", "date", "week", "time")
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
    declared: dict[str, dict[str, Any]] = {}
    for name in study.ratings:
        v = study.variables[name]
        said = f"{v.label[:1].upper()}{v.label[1:]}, {v.low:g} to {v.high:g}"
        declared[name] = {"meaning": said, "low": v.low, "high": v.high}
    own = tuple(
        Column(name, "number", unit="points", rated=True, **said)
        for name, said in declared.items()
        if name not in RATINGS
    )
    scores = tuple(
        Column(name, "number", "Baseline score", "points", *ends) for name, ends in study.scores.items()
    )
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
