"""One trained step and the steps before it: what tasks on the usual load work on, and the slips that go with
it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Found
from lagwise.exercises.world import World
from lagwise.say.exercises import unknown_aside

ABOVE = (0.15, 1.0)
"""Load this far above usual, as a proportion, makes a row worth reading: neither the usual nor an outlier."""
EARLIER = 3
"""Known loads from before the window that are shown where there are some, so that looking back too far makes
a difference.
"""
ASKED = "this one"


@dataclass(frozen=True)
class Window:
    """A trained step of a person: the person's record, its position there, and over how many steps before it
    usual load is taken; `asked` is the column of what is asked about.
    """

    record: pd.DataFrame
    at: int
    back: int
    asked: str

    @property
    def load(self) -> float:
        """Load of the step itself."""
        return float(self.record["load"].iloc[self.at])

    @property
    def earlier(self) -> np.ndarray:
        """Known loads of all earlier steps."""
        return self.record["load"].iloc[: self.at].dropna().to_numpy(dtype=float)

    @property
    def known(self) -> np.ndarray:
        """Known loads of the window."""
        return self.record["load"].iloc[self.at - self.back : self.at].dropna().to_numpy(dtype=float)

    @property
    def usual(self) -> float:
        """Mean of the known loads of the window."""
        return float(self.known.mean())

    def pain(self, ahead: int) -> float:
        """Pain so many steps after the step; missing where there is none."""
        at = self.at + ahead
        return float(self.record[self.asked].iloc[at]) if 0 <= at < len(self.record) else float("nan")


def find(world: World, *, gap: bool) -> Window:
    """The first step that suits: trained, with a usual load, and with or without an unknown step in its
    window.

    Steps with a clear jump, some record before the window, a known next pain and no rest in the window come
    first.

    Raises
    ------
    LagwiseError
        When there is none.
    """
    back, step, asked = world.study.load.usual_steps, world.step, world.study.outcome
    best, best_rank = None, (9, 9, 9, 9)
    for _, record in world.loads.groupby("person", sort=False):
        load, usual, pain_next = (
            record[name].to_numpy(dtype=float) for name in ("load", "usual", asked.later)
        )
        for at in np.flatnonzero((load > 0) & (usual > 0)):
            window = load[max(0, at - back) : at]
            if len(window) < back or bool(np.isnan(window).any()) is not gap:
                continue
            short = int((~np.isnan(load[: at - back])).sum() < EARLIER)
            away = load[at] / usual[at] - 1
            rank = (
                int(not ABOVE[0] <= away <= ABOVE[1]),
                short,
                int(np.isnan(pain_next[at])),
                int((window == 0).any()),
            )
            if rank < best_rank:
                best, best_rank = Window(record, int(at), back, asked.name), rank
        if best_rank == (0, 0, 0, 0):
            break
    if best is None:
        raise LagwiseError(
            f"no trained {step} has an unknown {step} among the {back} before it, and a usual load all the "
            "same"
            if gap
            else f"no trained {step} has the loads of all {back} {step}s before it known"
        )
    return best


def shown(world: World, found: Window, *, following: int) -> pd.DataFrame:
    """The person's rows up to the step asked about and some after it, with that step marked."""
    first = max(0, found.at - found.back - EARLIER - 1)
    rows = found.record.iloc[first : found.at + 1 + following]
    marks = np.where(np.arange(first, first + len(rows)) == found.at, ASKED, "")
    table = rows.set_index("step")[["step_start", "state", "load", found.asked]].assign(asked=marks)
    return table.round({"load": 2, found.asked: 2})


def misread(found: Window) -> dict[str, float]:
    """Values that a usual load comes to when a step goes astray, by the name of what each looks like."""
    back, earlier, known = found.back, found.earlier, found.known
    unknown = {"zero": known.sum() / back, "further": earlier[-back:].mean()} if len(known) < back else {}
    out = unknown | {
        "itself": np.append(known, found.load).mean(),
        "all": earlier.mean(),
        "first": earlier[:back].mean(),
        "sum": known.sum(),
        "last": earlier[-1],
        "load": found.load,
    }
    return {name: float(value) for name, value in out.items()}


def usual_of(found: Window) -> Found:
    """The usual load of a window, within 0.05 or a thousandth of it."""
    n = len(found.known)
    slips = {f"looks.{name}": value for name, value in misread(found).items()}
    words = {"n": n, "back": found.back, "aside": unknown_aside(found.back - n)}
    return Found(found.usual, slips, words, max(0.05, found.usual / 1000))


def follows(found: Window, measure: Callable[[float], float]) -> dict[str, float]:
    """The slips of a number worked out from the usual load, when that was misread."""
    values = misread(found).items()
    return {f"follows.{name}": measure(value) for name, value in values if value > 0 and value != found.load}
