"""Task 1: one person-step, its usual load and its jump, by hand."""

from __future__ import annotations

import math

import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Found
from lagwise.exercises.windows import find, follows, shown, usual_of
from lagwise.exercises.world import World


def given(world: World) -> pd.DataFrame:
    """One person's steps up to one that is marked, and the two after it."""
    return shown(world, find(world, gap=False), following=2)


def usual(world: World) -> Found:
    """Usual load of the marked step."""
    return usual_of(find(world, gap=False))


def percent(world: World) -> Found:
    """How far the marked step lies above its usual load, in percent."""
    found = find(world, gap=False)
    load, base = found.load, found.usual
    slips = {
        "of_usual": 100 * load / base,
        "ratio": load / base,
        "share": load / base - 1,
        "units": load - base,
        "of_load": 100 * (load - base) / load,
        **follows(found, lambda u: 100 * (load / u - 1)),
    }
    words = {"side": "above" if load > base else "below"}
    return Found(
        100 * (load / base - 1),
        slips,
        words,
        builds_on=("usual",),
        rework=lambda u: 100 * (load / u - 1) if u else None,
    )


def jump(world: World) -> Found:
    """Natural logarithm of load over usual of the marked step."""
    found = find(world, gap=False)
    ratio = found.load / found.usual
    slips = {"two": math.log2(ratio), "ten": math.log10(ratio), "ratio": ratio, "share": ratio - 1}
    slips |= follows(found, lambda u: math.log(found.load / u))
    own = lambda u: math.log(found.load / u) if u > 0 else None  # noqa: E731
    return Found(math.log(ratio), slips, builds_on=("usual",), rework=own)


def pain_next(world: World) -> Found:
    """Pain of the calendar step after the marked one."""
    found = find(world, gap=False)
    if math.isnan(found.pain(1)):
        raise LagwiseError(f"the {world.step} after the marked one has no pain rating")
    return Found(found.pain(1), {"same": found.pain(0), "before": found.pain(-1), "later": found.pain(2)})
