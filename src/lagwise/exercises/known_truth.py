"""Task 7: an attempt to break the answer, and the truth that only an invented caseload has."""

from __future__ import annotations

from typing import Any

import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Key, Part, Slip, Task
from lagwise.exercises.world import World

SIDES = ("inside", "outside")
LETTERS = ("a", "b", "c")
BANDS = (
    "middle 95 of 100 shuffled estimates, on the study's standard error",
    "middle 95 of 100 shuffled estimates, as they are",
)


def table(world: World) -> pd.DataFrame:
    """What the truth beside the caseload says about the load jump."""
    world.jumps  # noqa: B018 - says in words when no jump is recorded
    columns = ["kind", "outcome", "contrast", "scale", "adjustment", "pain_adjusted", "value"]
    rows = [v for v in world.truth["values"] if v.get("term") == "jump" and v.get("scale") == "points"]
    return pd.DataFrame(rows, columns=columns)


def _true(world: World, **where: Any) -> float:
    rows = [v for v in world.truth["values"] if v.get("term") == "jump" and v.get("scale") == "points"]
    found = [
        v["value"] for v in rows if "value" in v and all(v.get(k) == value for k, value in where.items())
    ]
    return float(found[0]) if found else float("nan")


def _same(world: World) -> dict[str, Any]:
    """What makes a true value one of the planned comparison."""
    row = world.primary()
    same = {"outcome": "pain_next", "contrast": row["contrast"], "adjustment": "adjusted", "pain_adjusted": row["pain_adjusted"], "kind": "regression"}  # fmt: skip
    if pd.isna(_true(world, **same)):
        raise LagwiseError("the truth beside it has no value for the planned comparison")
    return same


def truth(world: World) -> Key:
    """The true value of the planned comparison; within 0.0006."""
    same = _same(world)
    other = "before" if same["pain_adjusted"] == "during" else "during"
    slips = (
        Slip(_true(world, kind="intervention", outcome="pain_next"), "This is what would be seen if the load itself were set, which only the maker of a caseload can do. Asked is what the comparison of the plan comes to."),
        Slip(_true(world, **same | {"contrast": "per unit"}), "This is per unit of the jump, a load almost three times the usual. The plan asks about a smaller contrast."),
        Slip(_true(world, **same | {"pain_adjusted": other}), "In this row another pain is held equal than the plan asks for."),
        Slip(float(world.truth["structural"].get("jump", "nan")), "This is what the makers put in per unit of the jump, before anything is compared."),
        Slip(_true(world, kind="same_week"), f"This is about load and pain of the same {world.step}."),
        Slip(round(float(world.primary()["estimate"]), 3), "This is the estimate. The truth stands beside the caseload, in a file of its own."),
    )  # fmt: skip
    return Key(
        _true(world, **same),
        "In a very large caseload of such people, the comparison of the plan would come to this.",
        slips,
        0.0006,
    )


def miss(world: World) -> Key:
    """Estimate less truth; within 0.012."""
    value, estimate = _true(world, **_same(world)), float(world.primary()["estimate"])
    slips = (
        Slip(estimate - _true(world, kind="intervention", outcome="pain_next"), "The estimate was set against what would be seen if the load itself were set."),
        Slip(100 * (estimate - value) / value if value else float("nan"), "This is in percent. Near a truth of zero a percentage grows without end; points are asked for."),
        Slip(estimate, "This is the estimate itself."),
        Slip(value, "This is the truth itself."),
    )  # fmt: skip
    return Key(
        estimate - value,
        "By so much this one caseload misses. Another of the same size would miss by another amount.",
        slips,
        0.012,
    )


def covered(world: World) -> Key:
    """Whether the interval holds the truth."""
    value, row = _true(world, **_same(world)), world.primary()
    if row["low"] <= value <= row["high"]:
        return Key("yes", "Intervals made this way are meant to hold the truth in 95 of 100 caseloads. In a real one nobody can look.",
                   (Slip("no", "Does the truth lie between low and high? It need not lie in the middle."),))  # fmt: skip
    return Key("no", "An interval is meant to miss in 5 of 100 caseloads, and this is one of them, or something is amiss. In a real one nobody can look.",
               (Slip("yes", "Does the truth lie between low and high?"),))  # fmt: skip


def shuffled(world: World) -> Key:
    """Whether the estimate lies inside the middle 95 of 100 shuffled ones, on both scales that are shown."""
    result = world.shuffled
    estimate = float(world.primary()["estimate"])
    bands = [row for row in result.numbers.to_dict("records") if row["quantity"] in BANDS]
    sides = {"inside" if row["low"] <= estimate <= row["high"] else "outside" for row in bands}
    if len(sides) != 1:
        raise LagwiseError(
            "the estimate lies on the edge of the shuffled ones, and both readings could be argued"
        )
    value = sides.pop()
    right = {
        "inside": "Series that do not belong together give as much. That is what is expected where there is nothing to find, and also where too little was recorded to find it.",
        "outside": "Series that do not belong together rarely give as much. It still cannot say which of the two came first.",
    }
    wrong = SIDES[1 - SIDES.index(value)]
    return Key(
        value,
        right[value],
        (Slip(wrong, "Set the estimate of the study beside the two ends of the shuffled ones."),),
    )


def survives(world: World) -> Key:
    """What may be said of an answer that one challenge did not break; the same for every caseload."""
    slips = (
        Slip(
            "a",
            "A challenge looks at one way of being wrong. A common source of load and pain that nobody wrote down would pass it.",
        ),
        Slip(
            "c",
            "Challenges are no score. Each has a question and limits of its own, and there is nothing to add up.",
        ),
    )
    return Key("b", "It did not break here. What the challenge cannot see stands in its limits.", slips)


TASK = Task(
    7,
    "Try to break it",
    table,
    (
        Part("shuffled", "choice", shuffled, SIDES), Part("truth", "number", truth), Part("covered", "choice", covered, ("yes", "no")),
        Part("miss", "number", miss), Part("survives", "choice", survives, LETTERS),
    ),
    (
        "Sliding a person's loads along in time keeps every load and every pain and breaks only what belongs together. What should be left of a difference?",
        "For the truth, find the row that matches the planned comparison in everything: the outcome, the contrast, what was held equal, which pain. "
        "Then see on which side of it low and high lie.",
        "Other numbers. Shuffled estimates mostly lie between -0.2 and 0.2, and the study's own is 0.5: outside. Were the truth 0.6 and the interval 0.1 to 0.9, "
        "the interval would hold it, and the estimate would miss by 0.5 - 0.6 = -0.1.",
    ),
)  # fmt: skip
