"""One trained step and the steps before it: what tasks on the usual load work on, and the slips that go with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Key, Slip
from lagwise.exercises.world import World

ABOVE = (0.15, 1.0)
"""Load this far above usual, as a proportion, makes a row worth reading: neither the usual nor an outlier."""
EARLIER = 3
"""Known loads from before the window that are shown where there are some, so that looking back too far makes a difference."""
ASKED = "this one"


@dataclass(frozen=True)
class Window:
    """A trained step of a person: the person's record, its position there, and over how many steps before it usual load is taken."""

    record: pd.DataFrame
    at: int
    back: int

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
        return float(self.record["pain"].iloc[at]) if 0 <= at < len(self.record) else float("nan")


def find(world: World, *, gap: bool) -> Window:
    """The first step that suits: trained, with a usual load, and with or without an unknown step in its window.

    Steps with a clear jump, some record before the window, a known next pain and no rest in the window come first.

    Raises
    ------
    LagwiseError
        When there is none.
    """
    back, step = world.study.load.usual_steps, world.step
    best, best_rank = None, (9, 9, 9, 9)
    for _, record in world.loads.groupby("person", sort=False):
        load, usual, pain_next = (
            record[name].to_numpy(dtype=float) for name in ("load", "usual", "pain_next")
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
                best, best_rank = Window(record, int(at), back), rank
        if best_rank == (0, 0, 0, 0):
            break
    if best is None:
        had = (
            f"an unknown {step} among the {back} before it, and a usual load all the same"
            if gap
            else f"the loads of all {back} {step}s before it known"
        )
        raise LagwiseError(f"no trained {step} has {had}")
    return best


def shown(world: World, found: Window, *, following: int) -> pd.DataFrame:
    """The person's rows up to the step asked about and some after it, with that step marked."""
    first = max(0, found.at - found.back - EARLIER - 1)
    rows = found.record.iloc[first : found.at + 1 + following]
    marks = np.where(np.arange(first, first + len(rows)) == found.at, ASKED, "")
    table = rows.set_index("step")[["step_start", "state", "load", "pain"]].assign(asked=marks)
    return table.round({"load": 2, "pain": 2})


def misread(found: Window, world: World) -> list[tuple[float, str]]:
    """Values that a usual load comes to when a step goes astray, each with what it looks like."""
    step, back, earlier = world.step, found.back, found.earlier
    out = [
        (float(np.append(found.known, found.load).mean()),
         f"a mean with the {step} itself in it. Usual is what came before, so that the {step} is not compared with itself"),
        (float(earlier.mean()), f"the mean of all earlier {step}s. The plan looks back a fixed number of {step}s"),
        (float(earlier[:back].mean()), f"the mean of the first {step}s of the record. Usual load moves along with the person"),
        (float(found.known.sum()), f"a sum. The usual load of one {step} is a mean over {step}s"),
        (float(earlier[-1]), f"the load of the {step} before alone. One {step} is not yet a habit"),
        (found.load, f"the load of the {step} itself"),
    ]  # fmt: skip
    if len(found.known) == back:
        return out
    return [
        (float(found.known.sum() / back),
         f"a mean with the unknown {step} counted as zero. Unknown is not zero: nobody knows what was done in it, so it cannot pull the mean down"),
        (float(earlier[-back:].mean()),
         f"a mean that reached further back to make up for the unknown {step}. The window stays where the calendar puts it, with fewer {step}s known in it"),
        *out,
    ]  # fmt: skip


def usual_key(found: Window, world: World) -> Key:
    """The usual load of a window, within 0.05 or a thousandth of it."""
    step, n = world.step, len(found.known)
    slips = tuple(Slip(value, f"This looks like {says}.") for value, says in misread(found, world))
    unknown = found.back - n
    aside = (
        f"; the {unknown} unknown {'is' if unknown == 1 else 'are'} left out and not counted as zero"
        if unknown
        else ""
    )
    right = f"The mean of the {n} known {step}s among the {found.back} before{aside}."
    return Key(found.usual, right, slips, max(0.05, found.usual / 1000))


def from_misread(found: Window, world: World, measure: Callable[[float], float]) -> tuple[Slip, ...]:
    """The slips of a number worked out from the usual load, when that was misread."""
    return tuple(
        Slip(measure(value), f"It follows from a usual load that looks like {says}.")
        for value, says in misread(found, world)
        if value > 0 and value != found.load
    )
