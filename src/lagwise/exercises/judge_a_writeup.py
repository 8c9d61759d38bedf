"""Task 8: a write-up with sentences that the findings do not carry."""

from __future__ import annotations

from lagwise.exercises.primary_contrast import filled, more
from lagwise.exercises.task import Key, Part, Slip, Task
from lagwise.exercises.world import World

PLANTED = {
    2: "it claims a cause",
    4: "its range is not the interval of the table",
    6: "it is surer than the interval",
    7: "it tells one person what to do",
    9: "it speaks of people where weeks were compared",
}
"""Sentences that the findings do not carry, whatever the caseload, and why."""


def lines(world: World) -> tuple[str, ...]:
    """The sentences of the write-up, in order; numbers are the caseload's own."""
    from lagwise.say.phrases import difference, fixed, interval_of

    row, step, edge = world.primary(), world.step, world.study.analysis.practically_zero
    steps = more(world)
    capital = steps[:1].upper() + steps[1:]
    low, high = row["low"], row["high"]
    near = (row["estimate"] - row["std_error"], row["estimate"] + row["std_error"])
    if low <= 0 <= high:
        sure = "Load therefore has nothing to do with pain."
    else:
        sure = "This proves that the load decides how much it hurts."
    if -edge <= low and high <= edge:
        size = f"The whole interval lies within {fixed(edge, 1)} points either way, which the plan had called practically zero."
    elif low > edge or high < -edge:
        size = f"The whole interval lies beyond {fixed(edge, 1)} points, below which the plan had called a difference practically zero."
    else:
        size = f"The interval reaches across {fixed(edge, 1)} points, below which the plan had called a difference practically zero, so its size stays open."
    contrast = f"{abs(world.study.analysis.primary_contrast) * 100:g} %"
    side = "above" if world.study.analysis.primary_contrast > 0 else "below"
    return (
        f"{row['n_people']:.0f} people with {row['n_steps']:.0f} person-{step}s entered the main comparison.",
        f"Training {contrast} {side} the usual load led to a change of {fixed(abs(row['estimate']), 2)} points in the pain of the {step} after.",
        f"{capital} were followed by pain {difference(row['estimate'], 2)} ({interval_of(low, high, 2)}) than {step}s at the usual load, at the same pain and with the other recorded exposures held equal.",
        f"Differences from {fixed(near[0], 2)} to {fixed(near[1], 2)} points fit these data; smaller and larger ones do not.",
        size,
        sure,
        f"A person with such pain should not train {contrast} {side} the usual load.",
        "That load came first and pain after is a sequence; whether one brought about the other is not shown.",
        f"People who train {'more' if side == 'above' else 'less'} than others therefore differ from them in pain by {fixed(abs(row['estimate']), 2)} points.",
    )  # fmt: skip


def text(world: World) -> str:
    """The write-up, one numbered sentence after the other."""
    return "\n".join(filled(f"{n}. {line}", 3) for n, line in enumerate(lines(world), start=1))


def not_carried(world: World) -> Key:
    """The numbers of the planted sentences."""
    world.primary()
    wanted = frozenset(PLANTED)
    every = frozenset(range(1, len(lines(world)) + 1))
    slips = (
        Slip(every - wanted, "These are the ones the findings do carry; the others are asked for."),
        Slip(every, "All of them are marked. Some say no more than the table does."),
        Slip(wanted - {4}, "All that sound wrong are marked. One more sounds careful and has wrong numbers: set each number beside the table."),
        Slip(frozenset({2}), "A claim of cause is one way of saying too much. There are others: too sure, about the wrong people, an order to somebody, a number that is not in the table."),
        Slip(wanted | {8}, "One of the marked says how little is shown. A sentence that says this is carried by every finding."),
        Slip(wanted | {5}, "One of the marked compares the interval with what the plan called practically zero. Set both ends beside it again."),
    )  # fmt: skip
    return Key(
        wanted, "For each of these, " + "; ".join(f"{n}: {why}" for n, why in PLANTED.items()) + ".", slips
    )


def rewrite(world: World) -> Key:
    """Estimate, both limits and the counts of the planned comparison, said without a cause."""
    row = world.primary()
    wanted = (
        float(row["estimate"]),
        float(row["low"]),
        float(row["high"]),
        (int(row["n_people"]), int(row["n_steps"])),
    )
    return Key(wanted, "It has the difference, its interval and who was counted, and it tells a sequence.")


TASK = Task(
    8,
    "Judge a write-up",
    text,
    (Part("not_carried", "sentences", not_carried), Part("rewrite", "text", rewrite)),
    (
        "Read each sentence twice. First its words: does it tell a sequence, or claim more? Then its numbers: which row do they come from?",
        "Ask of each: does it claim a cause? Is it surer than the interval? Does it tell somebody what to do? Does it compare people where weeks were compared? "
        "Is each number the one of the planned contrast?",
        "From another study: 'Poor sleep makes pain worse by 0.2 points' claims a cause. 'Weeks with an hour less sleep were followed by pain 0.2 points higher "
        "(95 % interval 0.1 points lower to 0.5 points higher); 30 people, 400 person-weeks' tells a sequence, with its interval and who was counted.",
    ),
)  # fmt: skip
