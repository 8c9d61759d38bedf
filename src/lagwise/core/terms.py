"""Panel columns: the units and meanings that models, figures and write-up share."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from lagwise.core.question import Outcome
from lagwise.core.variable import VARIABLES, Variable

if TYPE_CHECKING:
    from lagwise.core.study import Study

EXPOSURES: Mapping[str, Variable] = MappingProxyType({k: v for k, v in VARIABLES.items() if k != "pain"})
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


def panel_terms(study: Study | None = None) -> Mapping[str, tuple[str, str]]:
    """Panel columns of a study in order: unit and definition; without a study those of a plan that leaves all
    as it is.

    `X_within` is X minus the person's mean of X over their known steps; `X_between` is that mean minus the
    mean of such means over people (each person counted once). `_between` is filled on every row of a person
    with any known X.
    """
    outcome, variables = _asked(study)
    rated = [v for v in variables.values() if v.rated and v.name != "pain"]
    return MappingProxyType(
        _TRAINING
        | {v.name: ({"hour": "h"}.get(v.unit, f"{v.unit}s"), "Mean of the step's ratings") for v in rated}
        | _COUNTS
        | _of_outcome(outcome)
        | _FLARES
    )


def panel_columns(study: Study | None = None) -> tuple[str, ...]:
    """All panel columns in order, the within and between parts last."""
    parts = (f"{name}_{part}" for name in split_columns(study) for part in ("within", "between"))
    return (*panel_terms(study), *parts)


def _asked(study: Study | None) -> tuple[Outcome, Mapping[str, Variable]]:
    return (Outcome(VARIABLES["pain"]), VARIABLES) if study is None else (study.outcome, study.variables)


def _of_outcome(outcome: Outcome) -> dict[str, tuple[str, str]]:
    """The columns that look before and after a step, and who is at risk of a flare-up."""
    label, usual, later = outcome.variable.label, outcome.usual, outcome.later
    unit = {"hour": "h"}.get(outcome.variable.unit, f"{outcome.variable.unit}s")
    falls = outcome.variable.worse == "low"
    limit, side, beyond = (
        (f"{usual} - flare_rise", "above", "<=") if falls else (f"{usual} + flare_rise", "below", ">=")
    )
    return {
        outcome.before: (
            unit,
            f"Last {label} rating before the step's first session and at most step_days old; without a "
            "session, "
            "before the step starts",
        ),
        later: (unit, f"{label[:1].upper()}{label[1:]} of the next calendar step"),
        usual: (unit, f"Mean {label} over the person's earlier steps, at least 3 of them"),
        "at_risk": ("0/1", f"1 where {label} is known and {side} {limit}; missing where that cannot be told"),
        "flare_next": (
            "0/1",
            f"Among steps at risk: 1 where {later} {beyond} {limit}; missing when not at risk or unknown",
        ),
    }


_TRAINING: dict[str, tuple[str, str]] = {
    "person": ("", "Code of the person"),
    "step": ("", "0-based index of the calendar step since the person's first record"),
    "step_start": ("", "Date the step starts"),
    "state": ("", "trained, rest (recorded as none) or unknown (nothing recorded)"),
    "load": (
        "load",
        "Sum of the chosen load measure; missing when the state is unknown or partly_recorded "
        "is 1, 0 when rest",
    ),
    "partly_recorded": (
        "0/1",
        "1 where the person trained and the load cannot be told, as something that it needs "
        "was not recorded or set aside",
    ),
    "usual": (
        "load",
        "Mean of the known loads of the earlier `usual_steps` steps, at least `usual_needs` "
        "of them; never this step",
    ),
    "jump": (
        "log unit",
        "log(load / usual) where load and usual are above 0; 0 where load is 0 (rested) or "
        "usual is 0 (restarted)",
    ),
    "log_usual": (
        "log unit",
        "log(usual) minus the log of the person's first known usual load above 0; 0 where usual is 0",
    ),
    "rested": ("0/1", "1 where the load is known to be 0"),
    "restarted": ("0/1", "1 where the usual load is 0 and the load is above 0"),
    "effort": ("points", "Mean of the known efforts of the working sets, weighted by sets"),
    "near_failure_share": (
        "share",
        "Share of working sets at or above the near-failure effort, of sets whose effort is known",
    ),
}
_COUNTS: dict[str, tuple[str, str]] = {
    "n_checkins": ("count", "Check-in rows in the step"),
    "n_ratings": ("count", "Pain ratings in the step"),
    "n_sessions": ("count", "Distinct session dates in the step, those of rows set aside included"),
    "pain": ("points", "The step's pain by the study's summary (mean, worst or last)"),
}
_FLARES: dict[str, tuple[str, str]] = {
    "flare_reported": (
        "0/1",
        "1 where the person called any check-in of the step a flare-up; missing when not said",
    ),
    "flare_reported_next": ("0/1", "flare_reported of the next calendar step"),
}
PANEL: Mapping[str, tuple[str, str]] = panel_terms()
"""Panel columns of a plan that leaves all as it is, in order: unit and definition. `SPLIT` adds their within
and between parts."""
SPLIT: tuple[str, ...] = split_columns()
"""Panel columns of such a plan that also come as `<name>_within` and `<name>_between`."""
