"""Task 8: a write-up with sentences that the findings do not carry."""

from __future__ import annotations

from lagwise.exercises.primary_contrast import filled, lies
from lagwise.exercises.sentence import Wanted
from lagwise.exercises.task import Found
from lagwise.exercises.world import World
from lagwise.say.exercises import PLANTED, write_up
from lagwise.say.notebooks import retold
from lagwise.say.voice import Voice


def lines(world: World) -> tuple[str, ...]:
    """The sentences of the write-up, in order; numbers are the caseload's own."""
    return write_up(world.primary(), world.study, lies(world))


def given(world: World) -> str:
    """The write-up, one numbered sentence after the other."""
    return "\n".join(filled(f"{n}. {line}", 3) for n, line in enumerate(lines(world), start=1))


def not_carried(world: World) -> Found:
    """The numbers of the planted sentences."""
    every, wanted = frozenset(range(1, len(lines(world)) + 1)), frozenset(PLANTED)
    slips = {
        "others": every - wanted,
        "all": every,
        "numbers": wanted - {4},
        "cause": frozenset({2}),
        "limits": wanted | {8},
        "size": wanted | {5},
    }
    whys = "; ".join(f"{n}: {retold(why, world.study)}" for n, why in PLANTED.items())
    return Found(wanted, slips, {"whys": whys})


def rewrite(world: World) -> Found:
    """The planned comparison as a sentence has to say it."""
    row = world.primary()
    estimate, low, high = (float(row[name]) for name in ("estimate", "low", "high"))
    people, steps = int(row["n_people"]), int(row["n_steps"])
    return Found(Wanted(estimate, low, high, people, steps, Voice.of(world.study)), {})
