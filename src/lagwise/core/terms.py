"""Panel columns: the names and units that models, figures and write-up share."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from lagwise.core.question import Outcome
from lagwise.core.variable import JUMP, PAIN, VARIABLES, Variable

if TYPE_CHECKING:
    from lagwise.core.study import Study

EXPOSURES: Mapping[str, Variable] = MappingProxyType({k: v for k, v in VARIABLES.items() if not v.flares})
"""The contract's own exposures; `Study.variables` adds those of a study."""


def whole(term: str) -> bool:
    """True when an exposure enters models as it is; a study's own ratings never do."""
    return term in VARIABLES and VARIABLES[term].whole


def on_load_side(term: str) -> bool:
    """True when an exposure tells of load; a study's own ratings never do."""
    return term in VARIABLES and VARIABLES[term].load_side


def split_columns(study: Study | None = None) -> tuple[str, ...]:
    """Panel columns that also come as `<name>_within` and `<name>_between`: all that are not whole, and the
    outcome before."""
    outcome, variables = _asked(study)
    return (*(v.name for v in variables.values() if not v.whole), outcome.before)


def panel_units(study: Study | None = None) -> Mapping[str, str]:
    """Panel columns of a study in order, each with its unit; without a study those of a plan that leaves
    all as it is. What they mean is said in `lagwise.say.columns`.

    `X_within` is X minus the person's mean of X over their known steps; `X_between` is that mean minus the
    mean of such means over people (each person counted once). `_between` is filled on every row of a person
    with any known X.
    """
    outcome, variables = _asked(study)
    asked = _plural(outcome.variable)
    return MappingProxyType(
        _TRAINING
        | {v.name: _plural(v) for v in variables.values() if v.rated and not v.flares}
        | _COUNTS
        | {outcome.before: asked, outcome.later: asked, outcome.usual: asked}
        | dict.fromkeys(("at_risk", "flare_next", "flare_reported", "flare_reported_next"), "0/1")
    )


def panel_columns(study: Study | None = None) -> tuple[str, ...]:
    """All panel columns in order, the within and between parts last."""
    parts = (f"{name}_{part}" for name in split_columns(study) for part in ("within", "between"))
    return (*panel_units(study), *parts)


def _asked(study: Study | None) -> tuple[Outcome, Mapping[str, Variable]]:
    return (Outcome(VARIABLES[PAIN]), VARIABLES) if study is None else (study.outcome, study.variables)


def _plural(variable: Variable) -> str:
    return {"hour": "h"}.get(variable.unit, f"{variable.unit}s")


_TRAINING = {
    **dict.fromkeys(("person", "step", "step_start", "state"), ""),
    **{"load": "load", "partly_recorded": "0/1", "usual": "load"},
    **{JUMP: "log unit", "log_usual": "log unit", "rested": "0/1", "restarted": "0/1"},
    **{"effort": "points", "near_failure_share": "share"},
}
_COUNTS = {"n_checkins": "count", "n_ratings": "count", "n_sessions": "count", PAIN: "points"}
PANEL = tuple(panel_units())
"""Panel columns of a plan that leaves all as it is, in order. `SPLIT` adds their within and between parts."""
SPLIT: tuple[str, ...] = split_columns()
"""Panel columns of such a plan that also come as `<name>_within` and `<name>_between`."""
