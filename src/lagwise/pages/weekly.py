"""A caseload as sums and means of weeks: one row per person and week instead of sessions and check-ins."""

from __future__ import annotations

from dataclasses import replace

from lagwise.caseload.repeats import empty_frame
from lagwise.core.columns import TABLES
from lagwise.core.errors import CaseloadError
from lagwise.core.results import Caseload
from lagwise.panel import build_panel


def weekly(caseload: Caseload) -> Caseload:
    """The caseload with a weeks table made from its panel: load by the plan's measure, means, state; people
    and events stay.

    What the panel knows of a week stays as it is; single sessions, weights, exercises and check-ins are gone,
    and with them what the plan could ask of them (another load measure, another summary of pain).

    Raises
    ------
    CaseloadError
        When a step is not a week, or the caseload is told in weeks already.
    """
    if caseload.study.clock.step_days != 7:
        raise CaseloadError(
            f"a step of {caseload.study.clock.step_days} days cannot be told as a week",
            where="study.toml [clock]",
            mend="Leave --weekly-sums out.",
        )
    if len(caseload.weeks):
        raise CaseloadError(
            "it is told in weeks already", where=caseload.folder, mend="Leave --weekly-sums out."
        )
    panel = build_panel(caseload).frame
    when = next(column.name for column in TABLES["weeks"] if column.kind == "date")
    told = panel.rename(columns={"step_start": when, "state": "trained", "flare_reported": "flare"})
    plan, empty = caseload.study, empty_frame("weeks", caseload.study)
    names = [name for name in empty if name != "row"]
    weeks = told.reindex(columns=names).assign(row=range(2, len(told) + 2))
    weeks = weeks.astype({name: empty[name].dtype for name in names if name != when})
    said = weeks[[n for n in names if n not in ("person", when, "trained")]].notna().any(axis=1)
    weeks = weeks[said | weeks["trained"].ne("unknown")].reset_index(drop=True)
    return replace(
        caseload, sessions=empty_frame("sessions"), checkins=empty_frame("checkins", plan), weeks=weeks
    )
