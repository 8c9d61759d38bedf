"""What a check says that takes the panel: exposures that hardly vary; and ranges that a repair would read."""

from __future__ import annotations

import pandas as pd

from lagwise.caseload.numerals import middle
from lagwise.caseload.remarks import Finding, findings_frame
from lagwise.core.columns import LOAD_NEEDS
from lagwise.core.results import Caseload, Panel
from lagwise.say import check_panel as say

VARY_PEOPLE, VARY_STEPS = 5, 10
"""An exposure varies within people where it does in so many of them, and lies away from their medians on so
many steps.
"""


def panel_check(caseload: Caseload, panel: Panel) -> pd.DataFrame:
    """Findings as `lagwise.caseload.check` gives them: code, table, what, where, count, why, mend."""
    found = [*never_known(caseload, panel), *hardly_varying(panel), *ranges_offer(caseload)]
    return findings_frame(found)


def never_known(caseload: Caseload, panel: Panel) -> list[Finding]:
    """The load of no trained step known, because sessions lack a column that the measure needs."""
    measure, sessions = panel.study.load.measure, caseload.sessions
    missing = [name for name in LOAD_NEEDS[measure] if sessions[name].isna().all()]
    if sessions.empty or not missing:
        return []
    held = {one: list(needs) for one, needs in LOAD_NEEDS.items() if set(needs) <= {*sessions}}
    other = [one for one, needs in held.items() if sessions[needs].notna().all(axis=None)]
    words = say.load_never_known(measure, missing, other)
    return [
        Finding("load_never_known", "sessions", where=" and ".join(missing), count=len(sessions), **words)
    ]


def hardly_varying(panel: Panel) -> list[Finding]:
    """Exposures of the plan, and ratings whether asked about or not, that are known and the same, or nearly
    so, in every step of a person.
    """
    out = []
    ratings = [v.name for v in panel.study.variables.values() if v.rated]
    for name in dict.fromkeys((panel.study.outcome.name, *panel.study.analysis.exposures, *ratings)):
        known = panel.frame[["person", name]].dropna()
        if known.empty:
            continue
        away = (known[name] - known.groupby("person")[name].transform("median")).abs() > 1e-9 * max(
            known[name].abs().max(), 1
        )
        people, steps = int(known.loc[away, "person"].nunique()), int(away.sum())
        if people >= min(VARY_PEOPLE, known["person"].nunique()) and steps >= VARY_STEPS:
            continue
        values = known[name].unique()
        only = float(values[0]) if len(values) == 1 < len(known) else None
        words = say.hardly_varies(panel.study, name, len(known), only, steps, people)
        out.append(Finding("hardly_varies", "", where=name, count=len(known), **words))
    return out


def ranges_offer(caseload: Caseload) -> list[Finding]:
    """Cells set aside as ranges, with the repair that reads them."""
    aside = caseload.quarantine
    written = aside["value"].map(lambda value: middle(str(value), ".", {})[0] is not None).astype(bool)
    some = aside[written & (aside["code"] == "bad_number")]
    if some.empty or caseload.study.repair.get("ranges") is not None:
        return []
    some = some.assign(file=some["file"].fillna("") if "file" in some else "")
    first = some[["table", "file", "row", "column", "value"]].head(5)
    where = "; ".join(f"{t}, {f and f + ', '}row {r}, {c}: '{v}'" for t, f, r, c, v in first.to_numpy())
    return [
        Finding("ranges", ", ".join(some["table"].unique()), where=where, count=len(some), **say.ranges())
    ]
