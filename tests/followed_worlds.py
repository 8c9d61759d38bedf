"""A simulator of its own for what followed an event: felt pain, a rating of it, and events that answer one, the other or neither. It shares nothing with `lagwise.synthetic`."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

import lagwise as lw
from lagwise.core.results import Panel
from lagwise.core.study import Study

PLAN, KIND = Study("Simulated"), "technique_change"
SUNDAY = pd.Timestamp("2024-01-07")
FIRST = 2
"""Weeks rated before an event can come, counted from 0."""


@dataclass(frozen=True)
class World:
    """People's levels (SD 1 around 4) and felt pain around them (AR(1), SD 1), rated once a week in whole points with error; from the week after their event
    felt pain is `truth` points higher. At most one event a person, `share` of them: `trigger` rated (log odds `slope` a point of the rating above 4),
    felt (of felt pain) or planned (a date drawn beforehand). `missing` of the ratings are lost; a lost rating sets off what it would have."""

    people: int
    weeks: int
    truth: float = 0.0
    trigger: str = "rated"
    share: float = 0.5
    missing: float = 0.0
    carry: float = 0.6
    error: float = 0.7
    slope: float = 0.8


def panel(world: World, seed: int) -> Panel:
    """One caseload, read and built as any other."""
    rating, when, rng = lived(world, base(world), seed)
    seen = rng.random(rating.shape) >= world.missing
    pain = {f"S{i:03d}": row for i, row in enumerate(np.where(seen, rating, np.nan))}
    events = [(f"S{i:03d}", int(when[i]), KIND) for i in np.flatnonzero(when < world.weeks)]
    return recorded(pain, events, sleep_hours=np.rint(2 * rng.normal(7, 1, rating.size)) / 2)


def recorded(
    pain: Mapping[str, Sequence[float]], events: Sequence[tuple], plan: Study = PLAN, **more: np.ndarray
) -> Panel:
    """A panel of people's ratings, one on each Sunday, and of events (person, week, kind[, because]) on the Monday after that week's rating; `more` ratings run by person and week."""
    week = np.concatenate([np.arange(len(row)) for row in pain.values()])
    checkins = pd.DataFrame({
        "person": np.repeat([*pain], [len(row) for row in pain.values()]), "date": SUNDAY + pd.to_timedelta(7 * week, unit="D"),
        "pain": np.concatenate([np.asarray(row, dtype=float) for row in pain.values()]), **more,
    })  # fmt: skip
    rows = [(p, SUNDAY + pd.Timedelta(days=round(7 * w) + 1), *rest) for p, w, *rest in events]
    named = pd.DataFrame(rows, columns=["person", "date", "kind", "because"][: len(rows[0]) if rows else 4])
    return lw.build_panel(lw.from_frames(checkins=checkins, events=named, plan=plan))


def lived(world: World, start: float, seed: int) -> tuple[np.ndarray, np.ndarray, np.random.Generator]:
    """Ratings (people, weeks), the week after whose rating the event comes (`weeks` for never) and the generator."""
    w, rng = world, np.random.default_rng(seed)
    P, T = w.people, w.weeks
    level, state = rng.normal(4, 1, P), rng.normal(0, 1, P)
    planned = np.where(rng.random(P) < w.share, rng.integers(FIRST, T - 1, P), T)
    when, rating = np.full(P, T), np.empty((P, T))
    for t in range(T):
        felt = level + state + w.truth * (t > when)
        rating[:, t] = np.clip(np.rint(felt + rng.normal(0, w.error, P)), 0, 10)
        answers = {"rated": rating[:, t], "felt": felt, "planned": felt}[w.trigger]
        chosen = rng.random(P) < 1 / (1 + np.exp(-start - w.slope * (answers - 4)))
        chosen = planned == t if w.trigger == "planned" else chosen
        when = np.where(chosen & (when == T) & (FIRST <= t < T - 1), t, when)
        state = w.carry * state + rng.normal(0, np.sqrt(1 - w.carry**2), P)
    return rating, when, rng


@cache
def base(world: World) -> float:
    """Log odds of an event in a week of usual pain at which `share` of people have one."""
    if world.trigger == "planned":
        return 0.0
    many, low, high = World(4000, **{k: v for k, v in vars(world).items() if k != "people"}), -9.0, 0.0
    for _ in range(12):
        middle = (low + high) / 2
        more = float((lived(many, middle, 0)[1] < world.weeks).mean()) > world.share
        low, high = (low, middle) if more else (middle, high)
    return (low + high) / 2
