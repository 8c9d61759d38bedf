"""Task 8: a write-up with sentences that the findings do not carry."""

from __future__ import annotations

from lagwise.core.words import capital
from lagwise.exercises.primary_contrast import contrast, filled, lies, more
from lagwise.exercises.task import Found
from lagwise.exercises.world import World

PLANTED = {
    2: "it claims a cause",
    4: "its range is not the interval of the table",
    6: "it is surer than the interval",
    7: "it tells one person what to do",
    9: "it speaks of people where weeks were compared",
}
"""Sentences that the findings do not carry, whatever the caseload, and why."""
SIZE = {
    "within": "The whole interval lies within {edge} points either way, which the plan had called "
    "practically zero.",
    "beyond": "The whole interval lies beyond {edge} points, {below}.",
    "across": "The interval reaches across {edge} points, {below}, so its size stays open.",
}
BELOW = "below which the plan had called a difference practically zero"


def lines(world: World) -> tuple[str, ...]:
    """The sentences of the write-up, in order; numbers are the caseload's own."""
    from lagwise.say.phrases import difference, fixed, interval_of

    row, step, edge = world.primary(), world.step, fixed(world.study.analysis.practically_zero, 1)
    steps, planned, amount = more(world), contrast(world), fixed(abs(row["estimate"]), 2)
    low, high = row["low"], row["high"]
    near = [fixed(row["estimate"] + sign * row["std_error"], 2) for sign in (-1, 1)]
    if low <= 0 <= high:
        sure = "Load therefore has nothing to do with pain."
    else:
        sure = "This proves that the load decides how much it hurts."
    size = SIZE[lies(world)].format(edge=edge, below=BELOW)
    than = "more" if planned.endswith("above") else "less"
    return (
        f"{row['n_people']:.0f} people with {row['n_steps']:.0f} person-{step}s entered the main comparison.",
        f"Training {planned} the usual load led to a change of {amount} points in the pain of the {step} "
        "after.",
        f"{capital(steps)} were followed by pain {difference(row['estimate'], 2)} "
        f"({interval_of(low, high, 2)}) than {step}s at the usual load, at the same pain and with the other "
        "recorded exposures held equal.",
        f"Differences from {near[0]} to {near[1]} points fit these data; smaller and larger ones do not.",
        size,
        sure,
        f"A person with such pain should not train {planned} the usual load.",
        "That load came first and pain after is a sequence; whether one brought about the other is not "
        "shown.",
        f"People who train {than} than others therefore differ from them in pain by {amount} points.",
    )


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
    return Found(wanted, slips, {"whys": "; ".join(f"{n}: {why}" for n, why in PLANTED.items())})


def rewrite(world: World) -> Found:
    """Estimate, both limits and the counts of the planned comparison, said without a cause."""
    row = world.primary()
    numbers = (float(row["estimate"]), float(row["low"]), float(row["high"]))
    return Found((*numbers, (int(row["n_people"]), int(row["n_steps"]))), {})
