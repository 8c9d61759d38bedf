"""A column of set numbers (the first, the second, the third set of an exercise) taken for a count of sets."""

from __future__ import annotations

import pandas as pd

from lagwise.caseload.places import Place
from lagwise.core.errors import CaseloadError

EXERCISES = 3
"""Exercises of a day with several rows that must count up, so that chance is out of the question."""
NEARLY_ALL = 0.95


def refuse_set_numbers(place: Place, frame: pd.DataFrame, header: str) -> None:
    """Raise CaseloadError when `sets` counts up 1, 2, 3 within each person's exercise and day.

    With `sets = "count"` under units the study says that it is how many, and nothing is asked.
    """
    rows = frame[frame["sets"].notna() & frame["person"].notna() & frame["date"].notna()]
    if place.source.units.get("sets") or len(rows) < 2 * EXERCISES:
        return
    by = rows.groupby(["person", "date", "exercise"], dropna=False, sort=False)["sets"]
    counts_up = rows["sets"] == by.cumcount() + 1
    several = by.transform("size") > 1
    if (
        counts_up.mean() < NEARLY_ALL
        or several.mean() < 0.5
        or (counts_up & several & (rows["sets"] == 1)).sum() < EXERCISES
    ):
        return
    declared = (
        f" and take sets = '{header}' out of [tables.sessions.columns]" if place.source.columns.get("sets") else ""
    )
    raise CaseloadError(
        "it counts up 1, 2, 3 within each exercise of a day; is this the number of the set, and not how many there were?",
        where=f"{place.shown}, column sets",
        mend=f"If each row is one set, write constant = {{ sets = 1 }} under [tables.sessions]{declared}. "
        'If it is how many sets were done, write sets = "count" under [tables.sessions.units].',
    )
