"""Task 3: pain of the same step, of the next step, and which pain is held equal."""

from __future__ import annotations

import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Found
from lagwise.exercises.world import World
from lagwise.say.voice import Voice


def given(world: World) -> pd.DataFrame:
    """Slopes of the outcome on the primary exposure: same step, next, and next at the same outcome now."""
    return _slopes(world).round(dict.fromkeys(("slope", "low", "high"), world.study.outcome.variable.places))


def _slopes(world: World) -> pd.DataFrame:
    from lagwise.describe import same_and_next

    found = same_and_next(world.compared)
    if found[["slope", "low", "high"]].isna().to_numpy().any():
        v = Voice.of(world.study)
        raise LagwiseError(
            f"a slope with an interval takes two people or more with {v.exposure} and {v.asked} ratings"
        )
    return found


def _reading(world: World, at: int) -> Found:
    """How one of the slopes reads: more, less or open."""
    row = _slopes(world).iloc[at]
    if row["low"] > 0:
        return Found("more", {"turned": "less", "open": "open"})
    if row["high"] < 0:
        return Found("less", {"turned": "more", "open": "open"})
    return Found("open", {"unsure": ["more", "less"]})


def same(world: World) -> Found:
    """How the same-step slope reads."""
    return _reading(world, 0)


def following(world: World) -> Found:
    """How the next-step slope at the same pain reads."""
    return _reading(world, 2)


def change(world: World) -> Found:
    """How much the next-step slope moves when this step's pain is held equal."""
    one, two, three = _slopes(world)["slope"].astype(float).tolist()
    slips = {"from_same": three - one, "way": two - one, "one": [three, two], "added": three + two}
    return Found(three - two, slips)


def reason(world: World) -> Found:
    """What can turn a sign even where load has no part in later pain: the same for every caseload."""
    if world.term != world.load_term:
        raise LagwiseError(f"its plan asks about {world.exposure}, and the reasons given are of load")
    world.compared  # noqa: B018 - says in words when no jump is recorded
    return Found("b")


def held(world: World) -> Found:
    """Which pain the primary comparison holds equal: decided by when ratings are made, as the plan says."""
    from lagwise.models.design import primary_adjustment

    return Found("same" if primary_adjustment(world.study) == "during" else "before")
