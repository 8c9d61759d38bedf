"""What somebody may know of a person in a caseload, as points to look for: one kind of knowledge each."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import pandas as pd

from lagwise.caseload.repeats import step_of
from lagwise.caseload.singled_out import Share, singled_out
from lagwise.core.claim import said
from lagwise.core.columns import WHEN, ratings
from lagwise.core.study import Study

Frames = Mapping[str, pd.DataFrame]
"""The five tables of a caseload by name."""


@dataclass(frozen=True)
class Kind:
    """One kind of knowledge: for how many points it is counted, and the points of a caseload.

    `points` gives person, value and day (missing where no date is known with it). A kind with a `headline`,
    a number of points, is spoken of first: what is known in `words`, `spoken` in a sentence, `short` at the
    head of a column, as `about` gives them.
    """

    name: str
    counts: tuple[int, ...]
    points: Callable[[Frames, Study], pd.DataFrame]
    in_a_row: bool = False
    headline: int = 0
    words: str = ""
    spoken: str = ""
    short: str = ""

    def about(self, study: Study) -> Kind:
        """The same in the words of a study: what it asks about, and its steps, by name."""
        named = {"outcome": study.outcome.variable.label, "steps": f"{study.step}s"}
        words, spoken, short = (
            said(f"risk.{self.name}.{part}", **named) for part in ("words", "spoken", "short")
        )
        return replace(self, words=words, spoken=spoken, short=short)


def known(
    kind: Kind, frames: Frames, study: Study, *, moved: bool, counts: tuple[int, ...] = ()
) -> list[Share]:
    """How many people are singled out by 1, 2, ... such points in these tables.

    With `moved`, every person's dates were moved by an unknown number of whole weeks and steps: weekdays and
    the days between two known points are known, calendar dates are not. Without, a date is known as it is.
    """
    points = kind.points(frames, study)
    value = pd.factorize(points["value"], sort=True)[0].astype("int64")
    place = np.zeros(len(points), dtype="int64")
    if points["day"].notna().any():
        day = points["day"].to_numpy(dtype="int64")
        unit = 1 if kind.in_a_row else math.lcm(7, study.clock.step_days)
        if moved:
            value, place = value * unit + day % unit, day // unit
        else:
            value, day = value * (int(np.ptp(day)) + 1), day - day.min()
            value, place = value + day, day if kind.in_a_row else place
    placed = pd.DataFrame({"person": points["person"].to_numpy(), "value": value, "place": place})
    return singled_out(placed, counts or kind.counts, in_a_row=kind.in_a_row)


_step = partial(step_of, calendar=True)


def _points(frame: pd.DataFrame, value: pd.Series, day: pd.Series | None = None) -> pd.DataFrame:
    days = pd.Series(np.nan, index=frame.index) if day is None else (day - pd.Timestamp(1970, 1, 1)).dt.days
    return pd.DataFrame({"person": frame["person"], "value": value, "day": days}).dropna(subset=["value"])


def _weights(frames: Frames, study: Study, *, dated: bool) -> pd.DataFrame:
    s = frames["sessions"]
    return _points(s, s["load_kg"], s["date"] if dated else None)


def _lifts(frames: Frames, study: Study) -> pd.DataFrame:
    s = frames["sessions"].dropna(subset=["load_kg", "exercise"])
    return _points(s, s["exercise"].astype("str") + " " + s["load_kg"].astype("str"))


def _days(frames: Frames, study: Study) -> pd.DataFrame:
    s = frames["sessions"].drop_duplicates(["person", "date"])
    return _points(s, pd.Series(1, index=s.index), s["date"])


def _day_sets(frames: Frames, study: Study, *, told: tuple[str, ...]) -> pd.DataFrame:
    """One point for each day of training: all its rows, in these columns, in no order."""
    s = frames["sessions"].dropna(subset=[name for name in told if name == "load_kg"])
    told = tuple(name for name in told if s[name].notna().any())
    if s.empty or not told:
        return _points(s, pd.Series(dtype=object))
    whole = _together(s, told).groupby([s["person"], s["date"]]).agg(lambda rows: "\n".join(sorted(rows)))
    days = whole.rename("whole").reset_index()
    return _points(days, days["whole"])


def rated(frames: Frames) -> pd.DataFrame:
    """Check-ins, or the weeks in their place, with a date."""
    weeks = frames["weeks"].rename(columns={WHEN["weeks"]: WHEN["checkins"]})
    return frames["checkins"] if len(frames["checkins"]) else weeks


def _ratings(frames: Frames, study: Study) -> pd.DataFrame:
    c = rated(frames)
    return _points(c, c[study.outcome.name], c["date"])


def _whole_checkins(frames: Frames, study: Study) -> pd.DataFrame:
    c = rated(frames).dropna(subset=list(ratings(study)), how="all")
    return _points(c, _together(c, ratings(study)))


def _together(frame: pd.DataFrame, columns: Sequence[str]) -> pd.Series:
    """The cells of some columns as one text."""
    cells = frame[list(columns)].astype("str").fillna("")
    return (
        cells[columns[0]].str.cat(cells[list(columns[1:])], sep="|")
        if len(columns) > 1
        else cells[columns[0]]
    )


def _weekly_pain(frames: Frames, study: Study) -> pd.DataFrame:
    name = study.outcome.name
    c = rated(frames).dropna(subset=[name])
    step = _step(c["person"], c["date"], study.clock)
    mean = c[name].groupby([c["person"], step.rename("day")]).mean().round(2).rename("value").reset_index()
    return mean[["person", "value", "day"]]


def _trained(frames: Frames, study: Study) -> pd.DataFrame:
    s = frames["sessions"]
    steps = pd.DataFrame(
        {"person": s["person"], "day": _step(s["person"], s["date"], study.clock)}
    ).drop_duplicates()
    if steps.empty:
        return steps.assign(value=0)
    spans = steps.groupby("person")["day"].agg(["min", "max"])
    every = [(p, d) for p, low, high in spans.itertuples() for d in range(low, high + 1)]
    whole = pd.DataFrame(every, columns=["person", "day"]).merge(steps.assign(value=1), how="left")
    return whole.fillna({"value": 0})[["person", "value", "day"]]


def _events(frames: Frames, study: Study) -> pd.DataFrame:
    e = frames["events"]
    return _points(e, e["kind"], e["date"])


def _cells(frames: Frames, study: Study) -> pd.DataFrame:
    told = [name for name in frames["people"].columns if name not in ("person", "row")]
    long = frames["people"].melt("person", told, "column", "cell").dropna(subset=["cell"])
    return _points(long, long["column"] + "=" + long["cell"].astype("str"))


def _week_loads(frames: Frames, study: Study) -> pd.DataFrame:
    """The load of each step: of a weeks table, else the sets (or rows, without any) of its sessions."""
    w, s = frames["weeks"], frames["sessions"]
    if len(w):
        step, load, person = _step(w["person"], w[WHEN["weeks"]], study.clock), w["load"], w["person"]
    else:
        person, step = s["person"], _step(s["person"], s["date"], study.clock)
        load = s["sets"] if s["sets"].notna().any() else pd.Series(1.0, index=s.index)
    sums = load.groupby([person, step.rename("day")]).sum(min_count=1).rename("value").reset_index()
    return sums.assign(day=sums["day"] * study.clock.step_days)[["person", "value", "day"]].dropna()


KINDS = (
    Kind("dated_weights", (1, 2, 3, 4), partial(_weights, dated=True), headline=3),
    Kind("weights", (1, 2, 3, 4), partial(_weights, dated=False)),
    Kind("lifts", (1, 2, 3, 4), _lifts),
    Kind("training_days", (1, 2, 4, 8), _days),
    Kind("day_weights", (1,), partial(_day_sets, told=("load_kg",)), headline=1),
    Kind("whole_days", (1,), partial(_day_sets, told=("exercise", "sets", "reps", "load_kg"))),
    Kind("trained", (4, 8, 12), _trained, in_a_row=True),
    Kind("ratings", (1, 2, 3, 4), _ratings, headline=4),
    Kind("weekly_pain", (1, 2, 3, 4, 6), _weekly_pain, in_a_row=True, headline=4),
    Kind("whole_checkins", (1, 2), _whole_checkins),
    Kind("week_loads", (1, 2, 3, 4), _week_loads, headline=3),
    Kind("events", (1, 2), _events),
    Kind("cells", (1, 2, 3, 4), _cells),
)
"""Kinds of knowledge that are counted; a further one is a line here and a function that gives its points."""
