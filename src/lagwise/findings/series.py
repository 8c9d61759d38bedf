"""Each person's course from the panel, as the findings hold it."""

from __future__ import annotations

from typing import Any

import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.variable import COUNTED, LOAD
from lagwise.findings.facts import PersonEvent, PersonSeries
from lagwise.findings.plain import scalar

STATE_LETTER = {"trained": "t", "rest": "r", "unknown": "u"}


def person_series(panel: Panel, outcome: str = "") -> tuple[PersonSeries, ...]:
    """Each person's course, in the order of their codes; `outcome` is a rating other than the plan's."""
    frame = panel.frame.sort_values(["person", "step"], kind="stable")
    asked, events = outcome or panel.study.outcome.name, events_of(panel)
    out = []
    for person, one in frame.groupby("person", sort=True):
        onset = one["flare_next"].eq(1).fillna(False).shift(1, fill_value=False)
        out.append(
            PersonSeries(
                person=str(person),
                state="".join(STATE_LETTER[str(s)] for s in one["state"]),
                pain=_series(one[asked]),
                load=_series(one["load"]),
                jump=_series(one[LOAD]),
                ratings=tuple(int(v) for v in _times(one, asked)),
                flare=tuple(bool(v) for v in onset),
                reported=tuple(None if pd.isna(v) else bool(v) for v in one["flare_reported"]),
                effort=_series(one["effort"]) if one["effort"].notna().any() else (),
                events=events.get(str(person), ()),
                began=str(scalar(one["step_start"].iloc[0]) or ""),
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


def _times(one: pd.DataFrame, asked: str) -> pd.Series:
    """How often it was rated in each step, where that is counted, else whether."""
    return one[COUNTED[asked]].fillna(0) if asked in COUNTED else one[asked].notna()


def _series(values: pd.Series) -> tuple[Any, ...]:
    return tuple(scalar(v) for v in values.tolist())
