"""Task 7: an attempt to break the answer, and the truth that only an invented caseload has."""

from __future__ import annotations

from typing import Any

import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.exercises.task import Found
from lagwise.exercises.world import World


def given(world: World) -> pd.DataFrame:
    """What the truth beside the caseload says about the exposure that the plan asks about."""
    world.compared  # noqa: B018 - says in words when it was not recorded
    columns = ["kind", "outcome", "contrast", "scale", "adjustment", "pain_adjusted", "value"]
    return pd.DataFrame(_rows(world), columns=columns)


def _rows(world: World) -> list[dict[str, Any]]:
    return [v for v in world.truth["values"] if v.get("term") == world.term and v.get("scale") == "points"]


def _true(world: World, **where: Any) -> float:
    found = (v for v in _rows(world) if "value" in v and all(v.get(k) == value for k, value in where.items()))
    return float(next(found, {"value": "nan"})["value"])


def _same(world: World) -> dict[str, Any]:
    """What makes a true value one of the planned comparison."""
    row = world.primary()
    same = {name: row[name] for name in ("contrast", "pain_adjusted")}
    same |= {"outcome": world.study.outcome.column, "adjustment": "adjusted", "kind": "regression"}
    if pd.isna(_true(world, **same)):
        raise LagwiseError("the truth beside it has no value for the planned comparison")
    return same


def truth(world: World) -> Found:
    """The true value of the planned comparison."""
    same = _same(world)
    other = "before" if same["pain_adjusted"] == "during" else "during"
    slips = {
        "set": _true(world, kind="intervention", outcome=world.study.outcome.column),
        "per_unit": _true(world, **same | {"contrast": "per unit"}),
        "other": _true(world, **same | {"pain_adjusted": other}),
        "put_in": float(world.truth["structural"].get(world.term, "nan")),
        "same_week": _true(world, kind="same_week"),
        "estimate": round(float(world.primary()["estimate"]), 3),
    }
    return Found(_true(world, **same), slips)


def miss(world: World) -> Found:
    """Estimate less truth."""
    value, estimate = _true(world, **_same(world)), float(world.primary()["estimate"])
    slips = {
        "set": estimate - _true(world, kind="intervention", outcome=world.study.outcome.column),
        "percent": 100 * (estimate - value) / value if value else float("nan"),
        "estimate": estimate,
        "truth": value,
    }
    return Found(estimate - value, slips, builds_on=("truth",), rework=lambda true: estimate - true)


def covered(world: World) -> Found:
    """Whether the interval holds the truth."""
    row = world.primary()

    def held(value: float) -> str:
        return "yes" if row["low"] <= value <= row["high"] else "no"

    return Found(held(_true(world, **_same(world))), builds_on=("truth",), rework=held)


def shuffled(world: World) -> Found:
    """Whether the estimate lies inside the middle 95 of 100 shuffled ones, on both scales that are shown."""
    result = world.shuffled
    estimate = float(world.primary()["estimate"])
    bands = [row for row in result.numbers.to_dict("records") if row["key"] in ("band", "as_they_are")]
    sides = {"inside" if row["low"] <= estimate <= row["high"] else "outside" for row in bands}
    if len(sides) != 1:
        raise LagwiseError(
            "the estimate lies on the edge of the shuffled ones, and both readings could be argued"
        )
    return Found(sides.pop())


def survives(world: World) -> Found:
    """What may be said of an answer that one challenge did not break; the same for every caseload."""
    return Found("b")
