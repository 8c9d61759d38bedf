"""Each person's course from the panel, as the findings hold it."""

from __future__ import annotations

from typing import Any

import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.variable import COUNTED, LOAD, PAIN
from lagwise.findings.facts import PersonEvent, PersonSeries
from lagwise.findings.plain import scalar

STATE_LETTER = {"trained": "t", "rest": "r", "unknown": "u"}


def person_series(panel: Panel, outcome: str = "") -> tuple[PersonSeries, ...]:
    """Each person's course, in the order of their codes; `outcome` is a rating other than the plan's."""
    frame = panel.frame.sort_values(["person", "step"], kind="stable")
    asked, events = outcome or panel.study.outcome.name, events_of(panel)
    onset = frame["flare_next"].eq(1).fillna(False).groupby(frame["person"]).shift(1, fill_value=False)
    reported = frame["flare_reported"].astype("boolean").astype(object)
    columns: dict[str, list[Any]] = {
        PAIN: _plain(frame[asked]),
        "load": _plain(frame["load"]),
        LOAD: _plain(frame[LOAD]),
        "ratings": _times(frame, asked).astype(int).tolist(),
        "flare": onset.astype(bool).tolist(),
        "reported": reported.where(reported.notna(), None).tolist(),
    }
    effort, states = frame["effort"], [STATE_LETTER[str(s)] for s in frame["state"]]
    out = []
    for person, at in frame.groupby("person", sort=True).indices.items():
        own = slice(at[0], at[-1] + 1)
        out.append(
            PersonSeries(
                person=str(person),
                state="".join(states[own]),
                effort=tuple(_plain(effort.iloc[own])) if effort.iloc[own].notna().any() else (),
                events=events.get(str(person), ()),
                began=str(scalar(frame["step_start"].iloc[at[0]]) or ""),
                **{name: tuple(values[own]) for name, values in columns.items()},
            )
        )
    return tuple(out)


def events_of(panel: Panel) -> dict[str, tuple[PersonEvent, ...]]:
    """What changed for each person, by date; without what has no date."""
    out: dict[str, tuple[PersonEvent, ...]] = {}
    told = ("person", "kind", "after", "until_step", "because")
    if not len(panel.events):
        return out
    for person, kind, after, until, because in panel.events[list(told)].itertuples(index=False):
        if pd.notna(after):
            last = None if pd.isna(until) else int(until)
            one = PersonEvent(kind=str(kind), start=int(after) + 1, until=last, because=str(because))
            out[str(person)] = (*out.get(str(person), ()), one)
    return out


def _times(frame: pd.DataFrame, asked: str) -> pd.Series:
    """How often it was rated in each step, where that is counted, else whether."""
    return frame[COUNTED[asked]].fillna(0) if asked in COUNTED else frame[asked].notna()


def _plain(values: pd.Series) -> list[Any]:
    return [scalar(v) for v in values.tolist()]
