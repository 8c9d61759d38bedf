"""The records of an invented small shoulder-and-elbow practice, without any fault."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from lagwise.synthetic.messy_draft import Draft, Row

MONDAY = date(2024, 1, 8)
LIFTS = (("overhead press", 30.0, 8), ("cable row", 45.0, 10), ("biceps curl", 12.0, 12))
SESSIONS = ("person", "date", "exercise", "sets", "reps", "load_kg", "effort", "minutes")
CHECKINS = ("person", "date", "pain", "stress", "sleep_hours", "worry", "flare")


def people(n: int) -> list[str]:
    """Codes SE-01, SE-02, ..."""
    return [f"SE-{i:02d}" for i in range(1, n + 1)]


def sessions(folder: str, codes: Sequence[str], weeks: int, rng: np.random.Generator) -> Draft:
    """Two sessions a week of two exercises each; loads hardly vary, effort is in halves of a point."""
    rows: list[Row] = []
    for i, person in enumerate(codes):
        for week in range(weeks):
            for k, day in enumerate((i % 3, 3 + i % 2)):
                for name, kg, reps in (LIFTS[k], LIFTS[k + 1]):
                    load = round((kg + 5 * (i % 4)) / 2.5) * 2.5 + 2.5 * (week // 5)
                    effort = 6 + rng.integers(0, 6) / 2
                    sets = rng.integers(2, 5)
                    rows.append(
                        {
                            "person": person, "date": day_text(week, day), "exercise": name, "sets": str(sets),
                            "reps": str(reps), "load_kg": f"{load:g}", "effort": f"{effort:g}",
                            "minutes": str(3 * sets + rng.integers(1, 6)),
                        }
                    )  # fmt: skip
    return Draft(folder, "sessions", SESSIONS, rows)


def checkins(folder: str, codes: Sequence[str], weeks: int, rng: np.random.Generator) -> Draft:
    """One check-in a week, on Sunday; ratings that vary and do not favour 5 or 10."""
    rows: list[Row] = []
    for person in codes:
        usual = int(rng.integers(2, 5))
        for week in range(weeks):
            pain = usual + int(rng.integers(-1, 3))
            rows.append(
                {
                    "person": person, "date": day_text(week, 6), "pain": str(pain), "stress": str(rng.integers(1, 9)),
                    "sleep_hours": f"{rng.integers(11, 18) / 2:g}", "worry": str(rng.integers(0, 8)),
                    "flare": "yes" if pain > usual + 1 else "no",
                }
            )  # fmt: skip
    return Draft(folder, "checkins", CHECKINS, rows)


def day_text(week: int, day: int = 0, form: str = "%Y-%m-%d") -> str:
    """The date of a day (0 = Monday) of a week (0 = first)."""
    return (MONDAY + timedelta(days=7 * week + day)).strftime(form)


def in_form(draft: Draft, form: str, column: str = "date") -> None:
    """Write every date of a table in another form."""
    for row in draft.rows:
        row[column] = date.fromisoformat(row[column]).strftime(form)


def with_comma(draft: Draft, *columns: str) -> None:
    """Write decimals with a comma."""
    for row in draft.rows:
        for name in columns:
            row[name] = row[name].replace(".", ",")
