"""Task 9: what followed an event that a bad stretch had set off, in a caseload invented for the student."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.core.results import Caseload
from lagwise.exercises.task import Found
from lagwise.exercises.world import SEED, World
from lagwise.say.changes.kinds import event

PEOPLE, STEPS = 40, 4
KINDS = ("education", "technique_change")
"""The kinds of event that are asked about; of those recorded the first."""
ADDED = (0.0, -0.6)
"""Points that an event may add to the pain rated after it."""


def _drawn(seed: int) -> tuple[str, float]:
    kind, added = np.random.default_rng(seed).integers(2, size=2)
    return KINDS[kind], ADDED[added]


def made(seed: int) -> Caseload:
    """A caseload of 40 people for task 9, whose events are set off by high ratings.

    The seed decides its rows, the kind of event, and whether anything follows it.
    """
    from lagwise.synthetic import CHANGES, CHANGES_HALL, simulate

    kind, added = _drawn(seed)
    change = replace(CHANGES[0], kind=kind, odds=-4.6, of_pain=1.0, pain=added, worry=0.0, confidence=0.0)
    return simulate(replace(CHANGES_HALL, n_people=PEOPLE), seed, changes=(change,))


def put_in(seed: int) -> float:
    """Points that an event of `made(seed)` adds to the pain rated after it: 0 or -0.6."""
    return _drawn(seed)[1]


def given(world: World) -> pd.DataFrame:
    """The events of the kind that is asked about."""
    events = world.panel.events
    kind = next((kind for kind in KINDS if (events["kind"] == kind).any()), None)
    if kind is None:
        raise LagwiseError("it records neither education nor a change of technique, and this asks about one")
    return events[events["kind"] == kind].reset_index(drop=True)


def difference(world: World) -> Found:
    """The mean of the four steps after, against steps of the same history."""
    from lagwise.events.change import Change, claim, effects
    from lagwise.events.history import HORIZON

    kind = given(world)["kind"].iloc[0]
    change = Change(world.panel, kind, world.study.outcome.name, STEPS, HORIZON, seed=SEED, quick=True)
    if claim(change).reason.partition(".")[0] in ("none", "picture"):
        raise LagwiseError(f"too few people can be compared before and after {event(kind)} for an estimate")
    rows = effects(change).set_index("engine")
    mean = rows[rows["contrast"].str.startswith("mean")]
    (_, planned), (_, alone) = mean.loc["risk_set"].iterrows()
    others = dict(zip(mean.index, mean["estimate"], strict=True))
    steps = rows[(rows["model"] == planned["model"]) & (rows["contrast"] != planned["contrast"])]
    slips = {
        "before_after": others["before_after"],
        "did": others["did"],
        "alone": float(alone["estimate"]),
        "step": steps["estimate"].tolist(),
        "end": [float(planned["low"]), float(planned["high"])],
    }
    return Found(float(planned["estimate"]), slips)
