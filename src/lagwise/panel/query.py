"""The SQL that sums session rows per person-step; the same rules as `lagwise.panel.training`, row by row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from lagwise.core.columns import LOAD_MEASURES
from lagwise.core.study import LoadPlan
from lagwise.panel.training import OF_SETS

MINUTES = 1440
"""Stands for 'no time recorded' in `opening` = day of the step x 1441 + minute."""
LACKS = 28
TRAINED, REST, UNNAMED = 1 << 40, 1 << 41, 1 << 42
"""Bits of `flags`. Below LACKS: a bit per day with a session; LACKS + i: a row lacked what the i-th load measure needs; then:
a trained row, a rest row, a row that may be training and does not name its exercise."""


class Facts(NamedTuple):
    """Columns that hold NaN, columns in which every cell holds a number, and whether every row has sets above 0."""

    with_nan: frozenset[str]
    full: frozenset[str]
    all_trained: bool


def value_checks(names: Sequence[str]) -> str:
    """One row with the lowest, the highest and the number of known values of each column; a highest of NaN means NaN is there."""
    return f"SELECT {', '.join(f'min({n}::DOUBLE), max({n}::DOUBLE), count({n})' for n in names)}, count(*) FROM given"


def highest_number(name: str) -> str:
    """The highest value of a column with NaN left out."""
    return f"SELECT max({name}::DOUBLE) FILTER (WHERE NOT isnan({name}::DOUBLE)) FROM given"


def can_sum(measure: str, there: Sequence[str]) -> bool:
    """False where the file lacks the column without which no trained row has this load."""
    return ("sets" if measure in OF_SETS else "minutes") in there


def step_sums(there: Sequence[str], facts: Facts, step_days: int, plan: LoadPlan, groups: Sequence[str]) -> str:
    """One row per grid row from the tables given (sessions), people (person, anchor, first_row) and members.

    Columns: grid_row; flags; the known sum of every load measure (without groups: that `can_sum`); weighted and weight
    (effort times sets, sets with effort; 1 where sets are not recorded); opening (earliest day and minute) where times
    are there; rated (sets with effort) where sets are not always known, else it equals weight; and for each group
    its own sums and flags. What `facts` settles beforehand is not asked of every row again.
    """

    def number(name: str) -> str:
        if name not in there:
            return "NULL::DOUBLE"
        plain = f"s.{name}::DOUBLE"
        return f"CASE WHEN isnan({plain}) THEN NULL ELSE {plain} END" if name in facts.with_nan else plain

    reserve = number("reps_in_reserve")
    minute = _MINUTE if "time" in there else "NULL::INTEGER"
    exercise = "lower(trim(s.exercise))" if "exercise" in there and groups else "NULL::VARCHAR"
    days = "(s.date::DATE - DATE '1970-01-01' - p.anchor)::INTEGER"
    loads = {
        "sets": "sets",
        "reps": "sets * reps",
        "tonnage": "sets * reps * load_kg",
        "session_rpe": "effort * minutes",
        "hard_sets": f"sets * (effort >= {plan.hard_effort})::DOUBLE",
        "near_failure_sets": f"sets * (effort >= {plan.near_failure_effort})::DOUBLE",
    }
    row_loads = ", ".join(
        f"{loads[m]} AS l_{m}"
        if facts.full.issuperset(_OF[m])
        else f"coalesce({loads[m]}, CASE WHEN {'sets = 0' if m in OF_SETS else 'rest'} THEN 0 END) AS l_{m}"
        for m in LOAD_MEASURES
    )
    summed = [m for m in LOAD_MEASURES if groups or can_sum(m, there)]
    lacks = " + ".join(
        f"(l_{m} IS NULL)::BIGINT * {1 << i + LACKS}"
        for i, m in enumerate(LOAD_MEASURES)
        if m in summed and not facts.full.issuperset(_OF[m])
    )
    lacks = lacks or "0::BIGINT"
    unnamed = f" + (exercise IS NULL AND NOT rest)::BIGINT * {UNNAMED}" if groups else ""
    inside = "".join(
        f", coalesce(exercise IN (SELECT exercise FROM members WHERE member = '{g}'), false) AS in_{g}" for g in groups
    )
    sums = [f"coalesce(sum(l_{m}), 0) AS {m}" for m in summed]
    if "time" in there:
        sums.append(f"min(day * {MINUTES + 1} + coalesce(minute, {MINUTES})) AS opening")
    if "sets" not in facts.full:
        sums.append("coalesce(sum(sets + 0 * effort), 0) AS rated")
    for g in groups:
        sums += [f"coalesce(sum(l_{m}) FILTER (WHERE in_{g}), 0) AS {g}_{m}" for m in summed]
        sums.append(f"coalesce(bit_or({lacks}) FILTER (WHERE in_{g}), 0) AS {g}_flags")
    trained, rest = "true", "false"
    if not facts.all_trained:
        trained = "coalesce(greatest(sets, minutes, load_kg) > 0, false)"
        rest = "coalesce(sets = 0 AND NOT trained, false)"
    return f"""
    WITH placed AS (
      SELECT p.first_row + {days} // {step_days} AS grid_row, {days} % {step_days} AS day, {minute} AS minute,
        {number("sets")} AS sets, {number("reps")} AS reps, {number("load_kg")} AS load_kg,
        {number("minutes")} AS minutes, {exercise} AS exercise,
        coalesce({number("effort")}, CASE WHEN {reserve} > 10 THEN 0 ELSE 10 - {reserve} END) AS effort
      FROM given s JOIN people p ON s.person::VARCHAR = p.person
    ), told AS (SELECT *, {trained} AS trained FROM placed
    ), resting AS (SELECT *, {rest} AS rest FROM told
    ), loaded AS (SELECT *, {row_loads}{inside} FROM resting)
    SELECT grid_row,
      bit_or((1::BIGINT << day) + {lacks} + trained::BIGINT * {TRAINED} + rest::BIGINT * {REST}{unnamed}) AS flags,
      {", ".join(sums)},
      coalesce(sum(coalesce(sets, 1) * effort), 0) AS weighted,
      coalesce(sum(coalesce(sets, 1) + 0 * effort), 0) AS weight
    FROM loaded GROUP BY grid_row"""


_OF: Mapping[str, tuple[str, ...]] = {
    "sets": ("sets",),
    "reps": ("sets", "reps"),
    "tonnage": ("sets", "reps", "load_kg"),
    "session_rpe": ("effort", "minutes"),
    "hard_sets": ("sets", "effort"),
    "near_failure_sets": ("sets", "effort"),
}
"""Columns a load measure is made of."""

_MINUTE = " + ".join(
    rf"try_cast(regexp_extract(s.time::VARCHAR, '^(\d{{1,2}}):(\d{{2}})', {part}) AS INTEGER) * {worth}"
    for part, worth in ((1, 60), (2, 1))
)
