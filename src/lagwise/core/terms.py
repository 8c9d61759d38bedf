"""Panel columns: the units and meanings that models, figures and write-up share."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lagwise.core.variable import VARIABLES, Variable

EXPOSURES: Mapping[str, Variable] = MappingProxyType({k: v for k, v in VARIABLES.items() if k != "pain"})
"""The contract's own exposures; `Study.variables` adds those of a study."""

SPLIT = (
    "effort",
    "near_failure_share",
    "stress",
    "sleep_hours",
    "sleep_quality",
    "worry",
    "confidence",
    "pain",
    "pain_before",
)
"""Panel columns that also come as `<name>_within` and `<name>_between`."""

PANEL: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "person": ("", "Code of the person"),
        "step": ("", "0-based index of the calendar step since the person's first record"),
        "step_start": ("", "Date the step starts"),
        "state": ("", "trained, rest (recorded as none) or unknown (nothing recorded)"),
        "load": (
            "load",
            "Sum of the chosen load measure; missing when the state is unknown or partly_recorded is 1, 0 when rest",
        ),
        "partly_recorded": (
            "0/1",
            "1 where the person trained and the load cannot be told, as something that it needs was not recorded or set aside",
        ),
        "usual": (
            "load",
            "Mean of the known loads of the earlier `usual_steps` steps, at least `usual_needs` of them; never this step",
        ),
        "jump": (
            "log unit",
            "log(load / usual) where load and usual are above 0; 0 where load is 0 (rested) or usual is 0 (restarted)",
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
        "stress": ("points", "Mean of the step's ratings"),
        "sleep_hours": ("h", "Mean of the step's ratings"),
        "sleep_quality": ("points", "Mean of the step's ratings"),
        "worry": ("points", "Mean of the step's ratings"),
        "confidence": ("points", "Mean of the step's ratings"),
        "n_checkins": ("count", "Check-in rows in the step"),
        "n_ratings": ("count", "Pain ratings in the step"),
        "n_sessions": ("count", "Distinct session dates in the step, those of rows set aside included"),
        "pain": ("points", "The step's pain by the study's summary (mean, worst or last)"),
        "pain_before": (
            "points",
            "Last pain rating before the step's first session and at most step_days old; without a session, before the step starts",
        ),
        "pain_next": ("points", "Pain of the next calendar step"),
        "usual_pain": ("points", "Mean pain over the person's earlier steps, at least 3 of them"),
        "at_risk": (
            "0/1",
            "1 where pain is known and below usual_pain + flare_rise; missing where that cannot be told",
        ),
        "flare_next": (
            "0/1",
            "Among steps at risk: 1 where pain_next >= usual_pain + flare_rise; missing when not at risk or unknown",
        ),
        "flare_reported": (
            "0/1",
            "1 where the person called any check-in of the step a flare-up; missing when not said",
        ),
        "flare_reported_next": ("0/1", "flare_reported of the next calendar step"),
    }
)
"""Panel columns in order: unit and definition. `SPLIT` adds `_within` and `_between` parts.

`X_within` is X minus the person's mean of X over their known steps; `X_between` is that mean minus the mean of such
means over people (each person counted once). `_between` is filled on every row of a person with any known X.
"""


def panel_columns() -> tuple[str, ...]:
    """All panel columns in order, the within and between parts last."""
    return (*PANEL, *(f"{name}_{part}" for name in SPLIT for part in ("within", "between")))
