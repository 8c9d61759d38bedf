"""What was recorded in which month of the calendar."""

from __future__ import annotations

import pandas as pd

from lagwise.core.results import Panel


def calendar_table(panel: Panel) -> pd.DataFrame:
    """One row per calendar month in which a step began.

    Returns
    -------
    DataFrame
        month ('2024-03'), n_steps and n_people with a step that began in it, rated (steps with the outcome
        rated) and n_people_rated. Empty where steps have no dates.
    """
    frame = panel.frame
    start = pd.to_datetime(frame["step_start"], errors="coerce")
    rated = frame["person"].where(frame[panel.study.outcome.name].notna())
    dated = frame.assign(month=start.dt.strftime("%Y-%m"), who=rated).dropna(subset=["month"])
    by = dated.groupby("month", sort=True)
    return pd.DataFrame(
        {
            "n_steps": by.size(), "n_people": by["person"].nunique(),
            "rated": by["who"].count(), "n_people_rated": by["who"].nunique(),
        }
    ).reset_index()  # fmt: skip
