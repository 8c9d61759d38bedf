"""Person-steps at risk of an event, with what was known before it and the ratings that came after."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import coded
from lagwise.core.errors import ModelError
from lagwise.core.results import Panel
from lagwise.core.variable import JUMP
from lagwise.panel.derive import shifted

EARLIER, STALE = 3, 2
"""Known ratings that a history needs, and steps for which the last of them counts as the present one."""
HORIZON = 8
BEFORE = -2.0
"""The step of an event before the record; one before the record's first rating has -1."""
PRIOR = 3.0
"""Ratings at which a person's own mean counts as much as everybody's."""
LOAD = ("log_usual", JUMP, "rested")
BEHIND = 0.9
"""Share of events of a kind that come before their step's own rating, from which that step's load is known
before them all."""
_STILL = 1e-9
RECORDED = 0.5
"""Share of the steps at risk in which another rating must be known to be held equal."""


@dataclass(frozen=True)
class Steps:
    """Person-steps at risk, in the order of the panel; n rows.

    `person` (n,) codes, `step` (n,) numbers and `at` (n,) steps of the calendar since the
    first record of all; `X` (n, p) what was known before, constant 1 first, columns
    standardised and called `names`; `had` (n,) whether the event came between this step's rating and the
    next; `later` (n,) the row of the next step at risk, -1 where there is none; `Y` (n, H) the outcome 1 to H
    steps after, NaN where not rated; `last` (n,) the last rating and `before` (n,) the mean of the last three
    known. `people` are the codes' names. `left` counts events by why they are not among the rows, `other`
    (n,) says after how many ratings the next event of another kind came; 0 for none, and for steps without
    the event.
    """

    person: np.ndarray
    step: np.ndarray
    at: np.ndarray
    names: tuple[str, ...]
    X: np.ndarray
    had: np.ndarray
    later: np.ndarray
    Y: np.ndarray
    last: np.ndarray
    before: np.ndarray
    people: tuple[str, ...]
    left: Mapping[str, int]
    other: np.ndarray

    def take(self, rows: np.ndarray) -> Steps:
        """Some of the rows, as a mask; the steps after them are looked up anew."""
        place = np.cumsum(rows) - 1
        later = self.later[rows]
        kept = (later >= 0) & rows[np.maximum(later, 0)]
        names = ("person", "step", "at", "X", "had", "Y", "last", "before", "other")
        arrays: dict[str, Any] = {name: getattr(self, name)[rows] for name in names}
        arrays["later"] = np.where(kept, place[np.maximum(later, 0)], -1)
        return replace(self, **arrays)

    def with_events(self, had: np.ndarray, Y: np.ndarray | None = None) -> Steps:
        """The same steps with other events, and another outcome where one is given."""
        return replace(self, had=had, Y=self.Y if Y is None else Y)


@dataclass(frozen=True)
class Ratings:
    """A rating of every person-step, n rows by person and step: codes, step, calendar (in steps), values."""

    person: np.ndarray
    step: np.ndarray
    at: np.ndarray
    values: np.ndarray


def steps_at_risk(
    panel: Panel, kind: str, outcome: str, *, horizon: int = HORIZON, ratings: int = EARLIER
) -> Steps:
    """Every person-step at which the first event of a kind could have come, with the history before it.

    A person is at risk from the third known rating on until the first event of the kind; nobody is who had
    one before the record. What was known before: the last `ratings` known ratings of the outcome, the running
    own mean (as it is, and drawn towards everybody's while it rests on few), the other ratings, the usual
    load and the jump of the last step that ended before the event, the step and the calendar.

    Raises
    ------
    ModelError
        When no event of the kind is known, the outcome is not a rating of the panel, or no step is at risk.
    """
    frame, events = panel.frame, panel.events
    if outcome not in frame:
        raise ModelError(f"{outcome} is not a rating of this panel", where="outcome")
    code, people = pd.factorize(frame["person"], sort=False)
    first, other, left = _first(events, kind, people, np.bincount(code))
    own = events[events["kind"] == kind]
    lag = 0 if float(np.mean(own["step"] > own["after"])) > BEHIND else 1
    given = Ratings(code, frame["step"].to_numpy(), calendar(panel), frame[outcome].to_numpy(dtype=float))
    found = steps_of(given, first, horizon, ratings, lambda rows: _beside(panel, outcome, code, rows, lag))
    left["short"] = int(np.sum(np.isfinite(first) & (first > BEFORE)) - found.had.sum())
    other_kind = _soon(other, people, found.person, found.step, found.had)
    names = tuple(n.replace("rating", outcome, 1) if n.startswith("rating_") else n for n in found.names)
    return replace(found, names=names, people=tuple(people), left=left, other=other_kind)


def steps_of(
    given: Ratings,
    after: np.ndarray,
    horizon: int = HORIZON,
    ratings: int = EARLIER,
    beside: Callable[[np.ndarray], Mapping[str, np.ndarray]] = lambda rows: {},
) -> Steps:
    """Steps at risk of ratings alone: `after` (m,) per person the step after whose rating the event came (inf
    for never, below 0 for before the record); `beside` gives further columns of what was known before, of
    every person-step, for the mask of those at risk.

    Raises
    ------
    ModelError
        When no step is at risk.
    """
    code, values = given.person, given.values
    known = _known(values, code, max(ratings, EARLIER))
    at_risk = (known.count >= EARLIER) & (known.age < STALE) & (given.step <= after[code])
    at_risk[np.flatnonzero(np.diff(code, append=-1))] = False
    if not at_risk.any():
        raise ModelError(
            coded("no step has three earlier ratings and another one after it", "nobody_at_risk")
        )
    rows = np.flatnonzero(at_risk)
    everybody = float(known.mean[rows].mean())
    away, day = known.mean - everybody, given.at
    columns = {f"rating_{i + 1}_back": known.values[:, i] for i in range(ratings)}
    columns |= {"own_mean": away, "own_mean_shrunk": away * known.count / (known.count + PRIOR)}
    columns |= {**beside(at_risk), "calendar": day, "calendar_squared": (day - day[rows].mean()) ** 2}
    names, X = _standardised({**columns, "step": given.step}, rows)
    place = np.full(len(code) + 1, -1)
    place[rows] = np.arange(len(rows))
    later = np.where(code[rows] == np.append(code, -1)[rows + 1], place[rows + 1], -1)
    Y = np.column_stack([shifted(values, code, -h)[rows] for h in range(1, horizon + 1)])
    last, step = known.values[rows], given.step[rows]
    return Steps(
        code[rows],
        step,
        day[rows],
        names,
        X,
        step == after[code[rows]],
        later,
        Y,
        last[:, 0],
        last[:, :EARLIER].mean(axis=1),
        (),
        {},
        np.zeros(len(rows), dtype=int),
    )


@dataclass(frozen=True)
class _Known:
    """Of every panel row: the last known ratings, newest first (n, k), how old the newest is, how many there
    are up to here, and their mean."""

    values: np.ndarray
    age: np.ndarray
    count: np.ndarray
    mean: np.ndarray


def _known(values: np.ndarray, person: np.ndarray, back: int) -> _Known:
    known, row = ~np.isnan(values), np.arange(len(values))
    start = np.flatnonzero(np.diff(person, prepend=-1))[person]
    rank = np.cumsum(known)
    count = rank - np.where(start > 0, rank[start - 1], 0)
    places = np.flatnonzero(known)
    at = rank[:, None] - 1 - np.arange(back)
    told = np.arange(back) < count[:, None]
    newest = places[np.maximum(at, 0)] if len(places) else np.zeros_like(at)
    sums = np.concatenate([[0.0], np.cumsum(np.where(known, values, 0.0))])
    mean = (sums[row + 1] - sums[start]) / np.maximum(count, 1)
    age = np.where(count > 0, row - newest[:, 0], len(values))
    return _Known(np.where(told, values[newest], mean[:, None]), age, count, mean)


def _first(
    events: pd.DataFrame, kind: str, people: pd.Index, steps: np.ndarray
) -> tuple[np.ndarray, pd.DataFrame, dict[str, int]]:
    """(m,) per person the step after whose rating the first event came (inf for never, BEFORE for before the
    record), the events of other kinds, and why events are left out."""
    mine = events[events["person"].isin(people)]
    own, other = mine[mine["kind"] == kind], mine[mine["kind"] != kind]
    if own.empty:
        raise ModelError(f"no event of the kind {kind} is in the record", where="events")
    code = people.get_indexer(pd.Index(own["person"]))
    after, undated = own["after"].to_numpy(dtype=float), own["step"].isna().to_numpy()
    before = (own["step"] < 0).to_numpy()
    later = ~before & (own["step"].to_numpy() >= steps[code])
    first = np.full(len(people), np.inf)
    np.minimum.at(first, code[~undated & ~later], np.where(before, BEFORE, after)[~undated & ~later])
    inside = ~undated & ~before & ~later
    again = inside & ((after > first[code]) | own.duplicated(["person", "after"]).to_numpy())
    left = {"undated": undated.sum(), "before": before.sum(), "after": later.sum(), "again": again.sum()}
    return first, other, {k: int(v) for k, v in left.items()}


def _soon(
    other: pd.DataFrame, people: pd.Index, person: np.ndarray, step: np.ndarray, had: np.ndarray
) -> np.ndarray:
    """(n,) after how many ratings the next event of another kind came; 0 for none."""
    found = np.zeros(len(person), dtype=int)
    code, after = people.get_indexer(pd.Index(other["person"])), other["after"].to_numpy(dtype=float)
    for row in np.flatnonzero(had):
        away = after[code == person[row]] - step[row]
        if (away >= 0).any():
            found[row] = int(away[away >= 0].min()) + 1
    return found


def _beside(
    panel: Panel, outcome: str, code: np.ndarray, rows: np.ndarray, lag: int
) -> dict[str, np.ndarray]:
    """The other ratings at each step, and load `lag` steps before it, where they are mostly known."""
    frame = panel.frame
    ratings = [v.name for v in panel.study.variables.values() if v.rated and v.name != outcome]
    asked = [
        n for n in (*ratings, *LOAD) if n in frame and frame[n].notna().to_numpy()[rows].mean() >= RECORDED
    ]
    found = {n: frame[n].to_numpy(dtype=float) for n in asked}
    return {n: _carried(shifted(v, code, lag) if lag and n in LOAD else v, code) for n, v in found.items()}


def _standardised(columns: Mapping[str, np.ndarray], rows: np.ndarray) -> tuple[tuple[str, ...], np.ndarray]:
    """Columns at some rows with mean 0 and SD 1 after a constant, missing ones at the mean; what does not
    vary or runs with the calendar is left out."""
    X = np.column_stack([values[rows] for values in columns.values()]).astype(float)
    X = np.where(np.isnan(X), np.nanmean(X, axis=0), X)
    spread = X.std(axis=0)
    kept = spread > _STILL
    kept[-1] &= not np.allclose(X[:, -1] - X[:, -1].mean(), X[:, -3] - X[:, -3].mean())
    X = (X[:, kept] - X[:, kept].mean(axis=0)) / spread[kept]
    return tuple(n for n, keep in zip(columns, kept, strict=True) if keep), np.column_stack(
        [np.ones(len(X)), X]
    )


def calendar(panel: Panel) -> np.ndarray:
    """(n,) steps of the calendar, from the first record of all on, of every panel row."""
    start = panel.frame["step_start"]
    return (start - start.min()).dt.days.to_numpy() / panel.study.clock.step_days


def _carried(values: np.ndarray, code: np.ndarray) -> np.ndarray:
    """Values; where missing the last known one for a step, then the person's mean up to there."""
    known = _known(values, code, 1)
    return np.where(known.age < STALE, known.values[:, 0], np.where(known.count > 0, known.mean, np.nan))
