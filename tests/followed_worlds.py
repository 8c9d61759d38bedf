"""A simulator of its own for what followed an event: felt pain, a rating of it, and events that answer one, the other or neither. It shares nothing with `lagwise.synthetic`."""

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

import lagwise as lw
from lagwise.core.results import Panel
from lagwise.core.study import Study

PLAN = Study("Simulated")
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
    P, T = rating.shape
    monday = pd.Timestamp("2024-01-01") + pd.to_timedelta(7 * np.tile(np.arange(T), P), unit="D")
    code = np.repeat([f"S{i:03d}" for i in range(P)], T)
    seen = rng.random((P, T)) >= world.missing
    checkins = pd.DataFrame({
        "person": code, "date": monday + pd.Timedelta(days=6), "pain": np.where(seen, rating, np.nan).ravel(),
        "sleep_hours": np.rint(2 * rng.normal(7, 1, P * T)) / 2,
    })  # fmt: skip
    had = np.flatnonzero(when < T)
    after = pd.Timestamp("2024-01-08") + pd.to_timedelta(7 * when[had], unit="D")
    events = pd.DataFrame({"person": [f"S{i:03d}" for i in had], "date": after, "kind": "technique_change"})
    return lw.build_panel(lw.from_frames(checkins=checkins, events=events, plan=PLAN))


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
