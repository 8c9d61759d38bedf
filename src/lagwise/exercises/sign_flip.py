"""Task 3: pain of the same step, of the next step, and which pain is held equal."""

from __future__ import annotations

from typing import Any

import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Key, Part, Slip, Task
from lagwise.exercises.world import World

READINGS = ("more", "less", "open")
REASONS = ("a", "b", "c", "d")
HELD = ("same", "before")
SIDES = {1: "more", -1: "less", 0: "open"}


def table(world: World) -> pd.DataFrame:
    """Slopes of pain on the load jump: same step, next step, and next step at the same pain now."""
    return _slopes(world).round({"slope": 2, "low": 2, "high": 2})


def _slopes(world: World) -> pd.DataFrame:
    from lagwise.describe import same_and_next

    found = same_and_next(world.jumps)
    if found[["slope", "low", "high"]].isna().to_numpy().any():
        raise LagwiseError("a slope with an interval takes two people or more with load and pain ratings")
    return found


def _rows(world: World) -> list[dict[str, Any]]:
    return [{str(name): value for name, value in row.items()} for _, row in _slopes(world).iterrows()]


def _side(low: float, high: float) -> int:
    return (low > 0) - (high < 0)


def _reading(world: World, at: int, right: str) -> Key:
    row = _rows(world)[at]
    side = _side(row["low"], row["high"])
    other = "An interval that includes 0 leaves the direction open, whatever the sign of the slope."
    slips = {
        "open": "Both ends of the interval lie on the same side of 0.",
        "more": other if side == 0 else "The sign of the slope was turned round.",
        "less": other if side == 0 else "The sign of the slope was turned round.",
    }
    value = SIDES[side]
    return Key(value, right, tuple(Slip(word, slips[word]) for word in READINGS if word != value))


def same(world: World) -> Key:
    """How the same-step slope reads."""
    return _reading(
        world,
        0,
        f"Within one {world.step} this number cannot tell whether pain answered load or load answered pain.",
    )


def following(world: World) -> Key:
    """How the next-step slope at the same pain reads."""
    return _reading(
        world,
        2,
        f"Of the three, this is the one that begins from equal pain and looks at the {world.step} after.",
    )


def change(world: World) -> Key:
    """How much the next-step slope moves when this step's pain is held equal; within 0.015."""
    first, second, third = (float(row["slope"]) for row in _rows(world))
    step = world.step
    slips = (
        Slip(
            third - first,
            f"This begins from the slope of the same {step}. Both numbers asked about speak of the {step} after.",
        ),
        Slip(
            second - first,
            f"This is the way from the same {step} to the {step} after. Asked is what holding pain equal adds.",
        ),
        Slip(third, "This is one slope. Asked is the difference of two."),
        Slip(second, "This is one slope. Asked is the difference of two."),
        Slip(third + second, "The two were added. A change is a difference."),
    )
    return Key(
        third - second,
        "By so much the slope moves when the pain that people started from is held equal.",
        slips,
        0.015,
    )


def reason(world: World) -> Key:
    """What can turn a sign by itself, even where load has no part in later pain. The same for every caseload, by construction."""
    world.jumps  # noqa: B018 - says in words when no jump is recorded
    slips = (
        Slip(
            "a",
            "Chance makes a number unsure, and the interval shows that. It does not pull many caseloads to the same side.",
        ),
        Slip(
            "c",
            "That would be a statement about bodies, and one that this log cannot show. The turn is seen also where load has no part in pain.",
        ),
        Slip(
            "d", "A person's general level was taken out: every value is set against that person's own mean."
        ),
    )
    return Key(
        "b", "When load answers pain, the two go together downwards even if pain never answers load.", slips
    )


def held(world: World) -> Key:
    """Which pain the primary comparison holds equal: decided by when ratings are made, as the plan says."""
    from lagwise.models.design import primary_adjustment

    step = world.step
    if primary_adjustment(world.study) == "during":
        right = f"The ratings cover the {step}, so the {step}'s own pain has already shaped its load."
        slip = Slip("before", f"The pain before is known too early here: what hurt during the {step} also shaped its load, and that would stay in the comparison.")  # fmt: skip
        return Key("same", right, (slip,))
    right = f"The ratings are made before the {step}'s sessions, so they are what load could answer."
    return Key(
        "before", right, (Slip("same", "Look at `rated` in the plan: it says when ratings are made."),)
    )


TASK = Task(
    3,
    "The sign flip",
    table,
    (
        Part("same", "choice", same, READINGS), Part("following", "choice", following, READINGS), Part("change", "number", change),
        Part("reason", "choice", reason, REASONS), Part("held", "choice", held, HELD),
    ),
    (
        "A slope above 0 means: more load, more pain. First read its interval: do both ends lie on the same side of 0?",
        "Think of one person in one week. It starts to hurt on Tuesday, and they leave out Thursday. What do load and pain of that week look like beside each other, "
        "and did load have any part in it?",
        "Other numbers. Slopes of -0.9 in the same week, 0.1 in the week after, and 0.4 in the week after at the same pain: "
        "holding pain equal moved the slope by 0.4 - 0.1. People who hurt trained less and hurt the week after too; holding pain equal takes that out.",
    ),
)  # fmt: skip
