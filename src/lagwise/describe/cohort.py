"""Who the people are: numbers, groups, events, and one row for each."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.columns import PEOPLE, STATES
from lagwise.core.results import Caseload, Panel
from lagwise.core.variable import JUMP
from lagwise.describe.numbers import SUMMARY, label_of, people_of, ratings_of, summarise, unit_of

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
        person's mean counts once. Load jump is given as load in percent of the usual one, over steps trained
        at a usual load, a person's mean being that of the logs. Numbers of the people table have level
        'person' and no n_steps. Variables that are never known are left out, and so are sessions or check-ins
        where nobody has any. sd is the standard deviation with n - 1; q1 and q3 are quartiles; low and high
        the extremes.
    """
    frame, study, person = panel.frame, panel.study, people_of(panel.frame)
    first, *others = ratings_of(study)
    rows = [_baseline("steps", f"{study.step}s per person", "steps", frame.groupby(person).size())]
    for name in (first, "load", "usual", JUMP, *others, *COUNTED):
        values = frame[name] if name != JUMP else frame[JUMP].where(_trained_as_usual(frame))
        if not values.notna().any() or (name in COUNTED and not values.any()):
            continue
        means = values.groupby(person).mean()
        unit = "% of usual" if name == JUMP else unit_of(name, study)
        common = {
            "variable": name, "label": label_of(name, study), "unit": unit,
            "n_people": int(means.notna().sum()), "n_steps": int(values.notna().sum()),
        }  # fmt: skip
        for level, found in (("step", values), ("person", means)):
            known = found.to_numpy(dtype=float)
            shown = 100 * np.exp(known) if name == JUMP else known
            rows.append(common | {"level": level} | summarise(shown))
    if caseload is not None:
        people = _people_of(caseload, panel)
        units = {c.name: c.unit for c in PEOPLE if c.kind == "number"}
        units |= dict.fromkeys(caseload.study.scores, "points")
        there = (name for name in units if name in people and people[name].notna().any())
        rows += [_baseline(name, name.replace("_", " "), units[name], people[name]) for name in there]
    return pd.DataFrame(rows, columns=list(_COLUMNS)).astype({"n_steps": "float64"})


def _trained_as_usual(frame: pd.DataFrame) -> pd.Series:
    """Steps trained at a usual load, of which load against the usual one speaks."""
    return frame["rested"].ne(1) & frame["restarted"].ne(1)


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
    known = caseload.people.drop_duplicates("person").set_index("person").drop(columns="row")
    return known.reindex(pd.unique(panel.frame["person"]))


def _baseline(name: str, label: str, unit: str, values: pd.Series) -> dict[str, Any]:
    who: dict[str, Any] = {"variable": name, "label": label, "unit": unit, "level": "person"}
    who |= {"n_people": int(values.notna().sum()), "n_steps": np.nan}
    return who | summarise(values.to_numpy(dtype=float))


def people_table(caseload: Caseload, panel: Panel) -> pd.DataFrame:
    """Each person's record in one row, with what the people table says of them.

    Returns
    -------
    DataFrame
        person and the columns of the people table; steps, complete (steps that enter the main question),
        trained, rest, unknown (steps of each state), sessions, checkins; of the outcome, by its name:
        pain_steps, mean_pain, sd_pain, lowest_pain, highest_pain, pain_trend (points per step, least squares
        over known steps); mean_load, sd_jump, flare_onsets (by the outcome), flares_reported (steps the
        person called a flare-up; missing when never asked), events.

    These rows are trajectories of single people: personal data, whatever the code.
    """
    frame, person = panel.frame, people_of(panel.frame)
    grouped = frame.groupby("person", sort=True)
    name = panel.study.outcome.name
    rating = grouped[name]
    out = pd.DataFrame({"steps": grouped.size()})
    out["complete"] = panel.coverage().set_index("person")["complete"]
    for state in STATES:
        out[state] = np.bincount(person[frame["state"].eq(state)], minlength=len(out))
    out["sessions"], out["checkins"] = grouped["n_sessions"].sum(), grouped["n_checkins"].sum()
    out[f"{name}_steps"] = rating.count()
    out[f"mean_{name}"], out[f"sd_{name}"] = rating.mean(), rating.std()
    out[f"lowest_{name}"], out[f"highest_{name}"] = rating.min(), rating.max()
    out[f"{name}_trend"] = _trend(frame, name)
    out["mean_load"], out["sd_jump"] = grouped["load"].mean(), grouped[JUMP].std()
    out["flare_onsets"] = grouped["flare_next"].sum().astype("int64")
    out["flares_reported"] = grouped["flare_reported"].sum(min_count=1)
    out["events"] = caseload.events["person"].value_counts().reindex(out.index).fillna(0).astype("int64")
    known = _people_of(caseload, panel).reindex(out.index)
    return known.join(out).rename_axis("person").reset_index()


def _trend(frame: pd.DataFrame, name: str) -> pd.Series:
    """Least-squares slope of a rating over steps, per person; missing with fewer than two known steps."""
    known = frame.loc[frame[name].notna(), ["person", "step", name]]
    parts = known.groupby("person")[["step", name]].transform("mean")
    x, y = known["step"] - parts["step"], known[name] - parts[name]
    xy, xx = (x * y).groupby(known["person"]).sum(), (x**2).groupby(known["person"]).sum()
    return xy / xx.where(xx > 0, np.nan)
