"""Task 1: one person-step, its usual load and its jump, by hand."""

from __future__ import annotations

import math

import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Key, Part, Slip, Task
from lagwise.exercises.windows import find, from_misread, shown, usual_key
from lagwise.exercises.world import World


def table(world: World) -> pd.DataFrame:
    """One person's steps up to one that is marked, and the two after it."""
    return shown(world, find(world, gap=False), following=2)


def usual(world: World) -> Key:
    """Usual load of the marked step."""
    return usual_key(find(world, gap=False), world)


def percent(world: World) -> Key:
    """How far the marked step lies above its usual load, in percent; within 1."""
    found = find(world, gap=False)
    load, base, step = found.load, found.usual, world.step
    slips = (
        Slip(100 * load / base, f"This is the {step} in percent of the usual load. Asked is how far above or below the usual it lies."),
        Slip(load / base, "This is load divided by usual. One more move turns it into percent above or below."),
        Slip(load / base - 1, "This is the difference as a share of 1. Percent are hundredths."),
        Slip(load - base, "This is the difference in units of load. In percent it is set against the usual load."),
        Slip(100 * (load - base) / load, f"The difference was divided by the {step}'s own load. What it is compared with stands below the line."),
        *from_misread(found, world, lambda u: 100 * (load / u - 1)),
    )  # fmt: skip
    side = "above" if load > base else "below"
    return Key(
        100 * (load / base - 1),
        f"The {step} lies so many percent {side} the person's own usual load.",
        slips,
        1.0,
    )


def jump(world: World) -> Key:
    """Natural logarithm of load over usual of the marked step; within 0.01."""
    found = find(world, gap=False)
    ratio = found.load / found.usual
    slips = (
        Slip(math.log2(ratio), "This is the logarithm to base 2, which counts doublings. The panel uses the natural logarithm."),
        Slip(math.log10(ratio), "This is the logarithm to base 10. The panel uses the natural logarithm."),
        Slip(ratio, "This is load divided by usual, before the logarithm."),
        Slip(ratio - 1, "This is the share above or below the usual load. The jump is a logarithm, so that half and double lie equally far from usual."),
        *from_misread(found, world, lambda u: math.log(found.load / u)),
    )  # fmt: skip
    return Key(
        math.log(ratio), "The natural logarithm of load over usual: 0 would be the usual load.", slips, 0.01
    )


def pain_next(world: World) -> Key:
    """Pain of the calendar step after the marked one; within 0.05."""
    found, step = find(world, gap=False), world.step
    if math.isnan(found.pain(1)):
        raise LagwiseError(f"the {step} after the marked one has no pain rating")
    slips = (
        Slip(found.pain(0), f"This is the pain of the marked {step} itself. It has already shaped that {step}'s load; the outcome comes after."),
        Slip(found.pain(-1), f"This is the pain of the {step} before."),
        Slip(found.pain(2), f"This lies one {step} too far ahead."),
    )  # fmt: skip
    return Key(found.pain(1), f"The outcome is the pain of the next calendar {step}.", slips, 0.05)


TASK = Task(
    1,
    "Read one panel row",
    table,
    (Part("usual", "number", usual), Part("percent", "number", percent), Part("jump", "number", jump), Part("pain_next", "number", pain_next)),
    (
        "Whether a week was a large one depends on who trained it. Begin with the weeks before the marked one: what did this person usually do?",
        "Usual load: add up the loads of the weeks the plan looks back on, all of them before the marked week, and divide by how many they are. "
        "Percent: take the usual from the week's load, divide by the usual, times one hundred.",
        "Another person, other numbers. The weeks before held 10, 12, 14 and 12 sets, and the week itself 18. Usual is 48 / 4 = 12. "
        "18 - 12 = 6, and 6 / 12 is one half, so the week lies 50 % above. The jump is math.log(18 / 12), about two fifths.",
    ),
)  # fmt: skip
