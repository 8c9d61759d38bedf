"""What each person lifts over time: the heaviest load per exercise and day, and where it changes by much."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

STEADY = 0.06
"""Most that a load may usually change from one session of an exercise to the next (median, log scale: 6 %)."""
LEAST_SESSIONS = 6


@dataclass(frozen=True)
class Course:
    """One person's loads: exercise -> (days since 1970, log kg), both (n,) in order of time; `steady` names the exercises
    with at least six sessions whose load usually changes little; `days` are all days of the person with any load."""

    loads: Mapping[str, tuple[np.ndarray, np.ndarray]]
    steady: frozenset[str]
    days: np.ndarray

    def level(self, exercise: str, start: int, end: int, each: int) -> float | None:
        """Median load of the `each` sessions of an exercise before `start` and the `each` from `end` on; None without any."""
        if exercise not in self.loads:
            return None
        days, loads = self.loads[exercise]
        near = np.r_[loads[days < start][-each:], loads[days >= end][:each]]
        return float(np.median(near)) if len(near) else None

    def within(self, start: int, end: int) -> list[tuple[int, str, float]]:
        """Day, exercise and load of every session cell from `start` to before `end`."""
        out = []
        for exercise, (days, loads) in self.loads.items():
            inside = (days >= start) & (days < end)
            out += [(int(d), exercise, float(x)) for d, x in zip(days[inside], loads[inside], strict=True)]
        return sorted(out)


def courses(sessions: pd.DataFrame) -> dict[str, Course]:
    """Everybody's course, by code; empty without loads."""
    loaded = sessions[(sessions["load_kg"] > 0) & sessions["exercise"].notna()]
    if loaded.empty:
        return {}
    keys = ["person", "exercise"]
    top = loaded.groupby([*keys, "date"], sort=True)["load_kg"].max().reset_index()
    top["load"] = np.log(top["load_kg"])
    top["day"] = top["date"].to_numpy().astype("datetime64[D]").astype("int64")
    change = top.groupby(keys)["load"].diff().abs().groupby([top[k] for k in keys]).agg(["median", "size"])
    steady = set(change.index[(change["median"] <= STEADY) & (change["size"] >= LEAST_SESSIONS)])
    out = {}
    for person, own in top.groupby("person", sort=True):
        loads = {str(e): (g["day"].to_numpy(), g["load"].to_numpy()) for e, g in own.groupby("exercise", sort=True)}
        out[str(person)] = Course(
            loads, frozenset(e for e in loads if (person, e) in steady), np.sort(own["day"].unique())
        )
    return out
