"""Variables: what a log can show of a step, with label, unit, range, worse end and coding, in one table."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from lagwise.core.numbers import FINEST, MINUS, MOST

JUMP, PAIN, WEEK = "jump", "pain", "week"
"""What load against the usual load, the rating of a plan's `[pain]` and a step of seven days are called."""


@dataclass(frozen=True)
class Variable:
    """Something a log can show of a step.

    `label` is its plain name in the middle of a sentence and `more` how a step with a higher value is
    described; `unit` names one unit; `low` and `high` are the ends of its scale, None where there is none;
    `worse` is the worse end, 'high', 'low' or 'neither'. `whole` is True when it enters models as it is
    (jump, relative to the person's own past already), False when as within- and between-person parts.
    `load_side` tells load from the psychosocial side; `rated` says that people rate it in check-ins; `own`
    that the study declares it itself.
    """

    name: str
    label: str
    unit: str
    more: str = ""
    low: float | None = None
    high: float | None = None
    worse: str = "neither"
    whole: bool = False
    load_side: bool = False
    rated: bool = False
    own: bool = False

    @property
    def flares(self) -> bool:
        """True of the rating that the plan's `[pain]` sums up; its turns for the worse are flare-ups."""
        return self.name == PAIN

    @property
    def width(self) -> float:
        """High end minus low end of the scale; NaN where it has none."""
        return float("nan") if self.low is None or self.high is None else self.high - self.low

    @property
    def tenth(self) -> float:
        """A tenth of a rating scale (1 of 0-10, 10 of 0-100); of sleep one hour, since a
        day's 24 hours are no rating scale.
        """
        return 1.0 if self.unit == "hour" else self.width / 10

    @property
    def places(self) -> int:
        """Decimals of what has no interval: `MOST`, and one more for each ten times that its scale is smaller
        than 0-10."""
        return min(FINEST, MOST + max(0, -math.ceil(math.log10(self.tenth)))) if self.tenth > 0 else MOST

    @property
    def span(self) -> str:
        """Ends of its scale: '0-10', '−3 to 3'; empty where it has none."""
        if self.low is None or self.high is None:
            return ""
        below = f"{self.low:g} to {self.high:g}".replace("-", MINUS)
        return below if self.low < 0 else f"{self.low:g}-{self.high:g}"


_TABLE: tuple[Variable, ...] = (
    Variable(JUMP, "load jump", "log unit", "trained above the usual load", whole=True, load_side=True),
    Variable("effort", "effort", "point", "trained at a higher effort", 0.0, 10.0, load_side=True),
    Variable(
        "near_failure_share",
        "share of sets near failure",
        "share",
        "did more of the sets near failure",
        0.0,
        1.0,
        load_side=True,
    ),
    Variable("stress", "stress", "point", "reported more stress", 0.0, 10.0, "high", rated=True),
    Variable("sleep_hours", "sleep", "hour", "slept longer", 0.0, 24.0, "low", rated=True),
    Variable("sleep_quality", "sleep quality", "point", "slept better", 0.0, 10.0, "low", rated=True),
    Variable(
        "worry", "worry about the pain", "point", "worried more about the pain", 0.0, 10.0, "high", rated=True
    ),
    Variable(
        "confidence",
        "confidence to train",
        "point",
        "felt more confident to train",
        0.0,
        10.0,
        "low",
        rated=True,
    ),
    Variable(PAIN, "pain", "point", "had more pain", 0.0, 10.0, "high", rated=True),
)
VARIABLES: Mapping[str, Variable] = MappingProxyType({v.name: v for v in _TABLE})
"""The contract's own variables. A study adds its ratings: `Study.variables`."""
LOAD = next(v.name for v in _TABLE if v.whole)
"""Load against the person's own past, of which curves and lags are."""
COUNTED: Mapping[str, str] = MappingProxyType({PAIN: "n_ratings"})
"""Panel columns of how often something was rated in a step, where that is counted."""


def with_ratings(declared: Mapping[str, Any]) -> Mapping[str, Variable]:
    """The contract's variables and a study's own: ratings on other scales in their place, further ones at the
    end.

    `declared` maps a name to an object with `label`, `low`, `high` and `worse`, as
    `lagwise.core.study.RatingPlan`.
    """
    out = dict(VARIABLES)
    for name, plan in declared.items():
        ends = {"low": plan.low, "high": plan.high}
        if name in out:
            worse, label = plan.worse or out[name].worse, plan.label or out[name].label
            out[name] = replace(out[name], worse=worse, label=label, **ends)
        else:
            label = plan.label or name.replace("_", " ")
            out[name] = Variable(
                name,
                label,
                "point",
                f"rated {label} higher",
                worse=plan.worse or "neither",
                rated=True,
                own=True,
                **ends,
            )
    return MappingProxyType(out)
