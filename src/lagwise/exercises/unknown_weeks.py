"""Task 2: what was set aside, what is unknown, and what becomes of it."""

from __future__ import annotations

import pandas as pd

from lagwise.exercises.task import Found
from lagwise.exercises.windows import find, shown, usual_of
from lagwise.exercises.world import World


def given(world: World) -> pd.DataFrame:
    """One person's steps up to a marked one, with an unknown step among those before it."""
    return shown(world, find(world, gap=True), following=0)


def set_aside(world: World) -> Found:
    """Rows in quarantine, over all tables."""
    counts = world.caseload.counts
    used, read, aside = (int(counts[name].sum()) for name in ("used", "read", "quarantined"))
    of_one = {str(name): int(n) for name, n in zip(counts["table"], counts["quarantined"], strict=True) if n}
    slips = {"used": used, "read": read, **of_one, "remarks": len(world.caseload.remarks), "none": 0}
    return Found(aside, slips, {"weeks": "weeks"})  # the table, whatever a step is called


def unknown(world: World) -> Found:
    """Person-steps whose training state is unknown."""
    frame = world.loads
    n, rest, trained = (int(frame["state"].eq(state).sum()) for state in ("unknown", "rest", "trained"))
    slips = {
        "both": n + rest,
        "rest": rest,
        "trained": trained,
        "no_jump": int(frame[world.load_term].isna().sum()),
        "no_pain": int(frame[world.study.outcome.name].isna().sum()),
        "other": world.panel.states.get("would_change_under_other_reading", -1),
        "none": 0,
    }
    return Found(n, slips)


def load_is(world: World) -> Found:
    """What stands as load where there are check-ins and no sessions: decided by the plan."""
    world.loads  # noqa: B018 - says in words when no training is recorded
    return Found("zero" if world.study.load.no_sessions_means == "rest" else "missing")


def usual(world: World) -> Found:
    """Usual load where one of the steps before is unknown."""
    return usual_of(find(world, gap=True))
