"""What a check says that takes the panel: exposures that hardly vary, and what reading ranges would bring
back.
"""

from __future__ import annotations

from dataclasses import astuple, fields, replace
from pathlib import Path

import pandas as pd

from lagwise.caseload.numerals import middle
from lagwise.caseload.reading import read_as
from lagwise.caseload.remarks import Finding
from lagwise.caseload.study_text import toml_value
from lagwise.core.columns import LOAD_NEEDS
from lagwise.core.errors import LagwiseError
from lagwise.core.numbers import count
from lagwise.core.results import Caseload, Panel
from lagwise.core.words import capital
from lagwise.panel import build_panel

VARY_PEOPLE, VARY_STEPS = 5, 10
"""An exposure varies within people where it does in so many of them, and lies away from their medians on so
many steps.
"""


def panel_check(caseload: Caseload, panel: Panel) -> pd.DataFrame:
    """Findings as `lagwise.caseload.check` gives them: code, table, what, where, count, why, mend."""
    found = [*never_known(caseload, panel), *hardly_varying(panel), *ranges_offer(caseload, panel)]
    names = [f.name for f in fields(Finding)]
    frame = pd.DataFrame([astuple(f) for f in found], columns=names)
    return frame.astype({name: "int64" if name == "count" else "str" for name in names})


def never_known(caseload: Caseload, panel: Panel) -> list[Finding]:
    """The load of no trained step known, because sessions lack a column that the measure needs."""
    measure, sessions = panel.study.load.measure, caseload.sessions
    missing = [name for name in LOAD_NEEDS[measure] if sessions[name].isna().all()]
    if sessions.empty or not missing:
        return []
    held = {one: list(needs) for one, needs in LOAD_NEEDS.items() if set(needs) <= {*sessions}}
    other = [one for one, needs in held.items() if sessions[needs].notna().all(axis=None)]
    ways = ["name the column that holds it under [tables.sessions.columns]"]
    if "sets" in missing:
        ways[0] += " (in a log with one row for each set: sets = 1 under [tables.sessions.constant])"
    ways += [f"write measure = {' or '.join(map(toml_value, other))} under [load]"] if other else []
    said = " and ".join(missing)
    what = f"The load ({measure}) is known in no step with sessions: no row has {said}"
    why, mend = "Nothing can be told of load", f"{capital('; or '.join(ways))}."
    return [Finding("load_never_known", "sessions", what, said, len(sessions), why, mend)]


def hardly_varying(panel: Panel) -> list[Finding]:
    """Exposures of the plan, and ratings whether asked about or not, that are known and the same, or nearly
    so, in every step of a person.
    """
    out = []
    asked, outcome = panel.study.analysis.exposures, panel.study.outcome
    ratings = [v.name for v in panel.study.variables.values() if v.rated]
    for name in dict.fromkeys((outcome.name, *asked, *ratings)):
        known = panel.frame[["person", name]].dropna()
        if known.empty:
            continue
        away = (known[name] - known.groupby("person")[name].transform("median")).abs() > 1e-9 * max(
            known[name].abs().max(), 1
        )
        people, steps = int(known.loc[away, "person"].nunique()), int(away.sum())
        if people >= min(VARY_PEOPLE, known["person"].nunique()) and steps >= VARY_STEPS:
            continue
        label, of = capital(panel.study.variables[name].label), f"{len(known)} known {panel.study.step}s"
        if known[name].min() == known[name].max() and len(known) > 1:
            what = f"{label} is {known[name].iloc[0]:.4g} in all {of}"
        elif not steps:
            what = f"{label} does not vary within any person"
        else:
            differ = (
                f"{steps} of {of} differ from the person's median, in {count(people, 'person', 'people')}"
            )
            what = f"{label} hardly varies within people: {differ}"
        if name == outcome.name:
            why = f"Nothing can be told of what came before more or less {outcome.variable.label}"
        elif name in asked:
            why = "Nothing can be told of steps in which a person had more or less of it"
            why += ", and no estimate is made"
        else:
            why = "It is not among the exposures of the plan; nothing could be told of it"
        mend = f"Take {name} out of exposures under [analysis], or look" if name in asked else "Look"
        mend += f" whether the column holds {'the ratings' if name in ratings else 'what it should'}."
        out.append(Finding("hardly_varies", "", what, name, len(known), why, mend))
    return out


def ranges_offer(caseload: Caseload, panel: Panel) -> list[Finding]:
    """Cells set aside as ranges, with what the repair `ranges` would bring back; the caseload is read anew
    for it.
    """
    aside = caseload.quarantine
    written = aside["value"].map(lambda value: middle(str(value), ".", {})[0] is not None).astype(bool)
    ranges = written & (aside["code"] == "bad_number")
    if not ranges.any() or caseload.study.repair.get("ranges") is not None:
        return []
    some = aside[ranges]
    study = replace(caseload.study, repair={**caseload.study.repair, "ranges": True})
    gain = ""
    if caseload.folder and Path(caseload.folder).is_dir():
        try:
            other = read_as(caseload.folder, study)
            weeks = int(build_panel(other).frame["load"].notna().sum() - panel.frame["load"].notna().sum())
        except LagwiseError:
            return []
        still = other.quarantine.groupby(["table", "column"]).size()
        told = aside.groupby(["table", "column"]).size().sub(still, fill_value=0).astype("int64")
        said = [
            f"{n} {key[1]} {'cell' if n == 1 else 'cells'}"
            for key, n in told.items()
            if isinstance(key, tuple) and n > 0
        ]
        gain = f"; it would bring back {', '.join(said)}" + (
            f", and {count(weeks, panel.study.step)} of load" if weeks else ""
        )
    first = some[["table", "row", "column", "value"]].head(5).to_numpy()
    where = "; ".join(f"{t}, row {r}, {c}: '{v}'" for t, r, c, v in first)
    what, why = (
        "Numbers written as ranges were set aside",
        "A range is not one number; a sum that needs it is unknown",
    )
    why += ", and a mean is that of the other cells"
    mend = (
        f"Decide on one number each, or write ranges = true under [repair] to have their middle read{gain}."
    )
    return [Finding("ranges", ", ".join(some["table"].unique()), what, where, len(some), why, mend)]
