"""Who the people are: numbers, groups and events."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.columns import PEOPLE
from lagwise.core.results import Caseload, Panel
from lagwise.describe.numbers import SUMMARY, label_of, ratings_of, summarise, unit_of

COUNTED = ("n_sessions", "n_checkins")
"""Counts of rows: where there is none at all, that kind of log was not kept, and 0 of it would say something
else."""
GROUPED = ("site", "region", "age_band", "sex")
NOT_RECORDED = "not recorded"
_COLUMNS = ("variable", "label", "unit", "level", "n_people", "n_steps", *SUMMARY)


def cohort_table(panel: Panel, caseload: Caseload | None = None) -> pd.DataFrame:
    """Each variable described over person-steps and over people.

    Parameters
    ----------
    panel : Panel
    caseload : Caseload, optional
        Adds the numeric columns of its people table.

    Returns
    -------
    DataFrame
        variable, label, unit, level, n_people, n_steps, mean, sd, median, q1, q3, low, high. At level 'step'
        every known person-step counts once, so people with long records weigh more; at level 'person' every
        person's mean counts once. Numbers of the people table have level 'person' and no n_steps. Variables
        that are never known are left out, and so are sessions or check-ins where nobody has any. sd is the
        standard deviation with n - 1; q1 and q3 are quartiles; low and high the extremes.
    """
    frame, study = panel.frame, panel.study
    first, *others = ratings_of(study)
    rows = [_baseline("steps", "steps per person", "steps", frame.groupby("person").size())]
    for name in (first, "load", "usual", "jump", *others, *COUNTED):
        values = frame[name]
        if not values.notna().any() or (name in COUNTED and not values.any()):
            continue
        means = values.groupby(frame["person"]).mean()
        common = {
            "variable": name, "label": label_of(name, study), "unit": unit_of(name, study),
            "n_people": int(means.notna().sum()), "n_steps": int(values.notna().sum()),
        }  # fmt: skip
        rows.append(common | {"level": "step"} | summarise(values.to_numpy(dtype=float)))
        rows.append(common | {"level": "person"} | summarise(means.to_numpy(dtype=float)))
    if caseload is not None:
        rows += [
            _baseline(name, label, unit, values)
            for name, label, unit, values in _baseline_columns(caseload, panel)
        ]
    return pd.DataFrame(rows, columns=list(_COLUMNS)).astype({"n_steps": "float64"})


def groups_table(caseload: Caseload, panel: Panel) -> pd.DataFrame:
    """People of the panel by site, region, age band and sex: variable, value, n_people, share.

    People whose value is empty or who are not in the people table count as 'not recorded'; columns in which
    nobody has a value are left out.
    """
    people = _people_of(caseload, panel)
    rows = []
    for name in GROUPED:
        if not people[name].notna().any():
            continue
        counts = people[name].fillna(NOT_RECORDED).value_counts().sort_index()
        rows += [(name, str(value), int(n), n / len(people)) for value, n in counts.items()]
    return pd.DataFrame(rows, columns=["variable", "value", "n_people", "share"])


def events_table(caseload: Caseload) -> pd.DataFrame:
    """Events by kind: kind, n_events, n_people."""
    grouped = caseload.events.groupby("kind")["person"]
    out = pd.DataFrame({"n_events": grouped.size(), "n_people": grouped.nunique()})
    return out.sort_index().reset_index()


def _people_of(caseload: Caseload, panel: Panel) -> pd.DataFrame:
    known = caseload.people.drop_duplicates("person").set_index("person")
    return known.reindex(pd.unique(panel.frame["person"]))


def _baseline_columns(caseload: Caseload, panel: Panel) -> list[tuple[str, str, str, pd.Series]]:
    people = _people_of(caseload, panel)
    units = {c.name: c.unit for c in PEOPLE if c.kind == "number"} | dict.fromkeys(
        caseload.study.scores, "points"
    )
    return [
        (name, name.replace("_", " "), unit, people[name])
        for name, unit in units.items()
        if name in people and people[name].notna().any()
    ]


def _baseline(name: str, label: str, unit: str, values: pd.Series) -> dict[str, Any]:
    return {
        "variable": name, "label": label, "unit": unit, "level": "person", "n_people": int(values.notna().sum()),
        "n_steps": np.nan, **summarise(values.to_numpy(dtype=float)),
    }  # fmt: skip
