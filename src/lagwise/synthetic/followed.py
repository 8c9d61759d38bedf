"""The true difference after an event on each rating, and what before-and-after would say, by simulation."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.synthetic.changes import ADDED, RAISED, STEPS, Change, Changed, set_off
from lagwise.synthetic.fast import RATINGS
from lagwise.synthetic.observe import Records, observe
from lagwise.synthetic.process import run
from lagwise.synthetic.spec import Spec
from lagwise.synthetic.truth import PEOPLE, SEED

MEANS = ("rated", "felt", "planned", "added", "difference", "before_after")
"""What is explained beside the numbers, in words of `lagwise.say.made`."""


def true_changes(spec: Spec, changes: tuple[Change, ...], events: pd.DataFrame) -> dict[str, Any]:
    """What each kind of event is set off by, how often it is in a table of events, and what truly followed.

    Returns
    -------
    dict, JSON-able
        `parameters` of the process; `people_simulated`; `means`; `changes`: kind -> {set_off and its
        parameters, people, events, differences: rating -> {added, difference, mc_error, before_after,
        before_after_mc_error}} in points. mc_error is the Monte Carlo standard error.
    """
    found = followed(spec, changes)
    own = {change.kind: events[events["kind"] == change.kind] for change in changes}
    return {
        "parameters": spec.plain() | {f"{name}_raised": points for name, points in RAISED.items()},
        "people_simulated": PEOPLE,
        "means": {name: str(said(f"followed.{name}")) for name in MEANS},
        "changes": {
            change.kind: change.plain()
            | {"people": own[change.kind]["person"].nunique(), "events": len(own[change.kind])}
            | {"differences": {name: dict(found[change.kind, name]) for name in RATINGS}}
            for change in changes
        },
    }


@lru_cache(maxsize=8)
def followed(
    spec: Spec, changes: tuple[Change, ...], n_people: int = PEOPLE, seed: int = SEED
) -> dict[tuple[str, str], dict[str, float]]:
    """(kind, rating) -> added, difference, before_after and their Monte Carlo errors."""
    rng = np.random.default_rng(seed)
    big = replace(spec, n_people=n_people)
    weeks = run(big, rng)
    records = observe(weeks, big, rng)
    changed = set_off(weeks, records, changes, rng)
    return {
        (change.kind, name): _after(records, changed, k, name, getattr(change, name, 0.0))
        for k, change in enumerate(changes)
        for name in RATINGS
    }


def _after(records: Records, changed: Changed, k: int, name: str, added: float) -> dict[str, float]:
    mine = changed.kind == k
    i, t = changed.person[mine], changed.week[mine]
    made = records.made[:, :, -1]
    with_it = changed.ratings.mean(name) if name in ADDED else getattr(records, name)[:, :, -1]
    without = changed.ratings.mean(name, added) if name in ADDED else with_it
    after, before = t[:, None] + np.arange(STEPS), t[:, None] - 1 - np.arange(STEPS)
    who = i[:, None]
    seen = made[who, after]
    earlier = _mean(with_it[who, before], made[who, before])
    change = _mean(with_it[who, after] - without[who, after], seen)
    naive = _mean(with_it[who, after], seen) - earlier
    out = {"added": added}
    for label, values in (("difference", change), ("before_after", naive)):
        at = ~np.isnan(values)
        value, error = _clustered(values[at], i[at])
        error_name = "mc_error" if label == "difference" else "before_after_mc_error"
        out |= {label: round(value, 3) + 0.0, error_name: round(error, 3)}
    return out


def _mean(values: np.ndarray, made: np.ndarray) -> np.ndarray:
    n = made.sum(axis=1)
    return np.divide((values * made).sum(axis=1), n, out=np.full(len(n), np.nan), where=n > 0)


def _clustered(values: np.ndarray, person: np.ndarray) -> tuple[float, float]:
    """Mean over events, and its standard error with whole people."""
    mean = float(values.mean())
    spread = np.bincount(person, weights=values - mean)
    return mean, float(np.sqrt(np.sum(spread**2)) / len(values))
