"""What a check says that takes the panel: exposures that hardly vary, and what reading ranges would bring back."""

from __future__ import annotations

from dataclasses import astuple, fields, replace
from pathlib import Path

import numpy as np
import pandas as pd

from lagwise.caseload.finding import Finding
from lagwise.caseload.numerals import middle
from lagwise.caseload.reading import read_as
from lagwise.core.errors import LagwiseError
from lagwise.core.results import Caseload, Panel
from lagwise.core.words import exposure_label
from lagwise.panel import build_panel

VARY_PEOPLE, VARY_STEPS = 5, 10
"""An exposure varies within people where it does in so many of them, and lies away from their medians on so many steps."""


def panel_check(caseload: Caseload, panel: Panel) -> pd.DataFrame:
    """Findings of the shape that `lagwise.caseload.check` gives: code, table, what, where, count, why, mend."""
    found = [*hardly_varying(panel), *ranges_offer(caseload, panel)]
    names = [f.name for f in fields(Finding)]
    frame = pd.DataFrame([astuple(f) for f in found], columns=names)
    return frame.astype({name: "int64" if name == "count" else "str" for name in names})


def hardly_varying(panel: Panel) -> list[Finding]:
    """Exposures of the plan that are known and the same, or nearly so, in every step of a person."""
    out = []
    for name in panel.study.analysis.exposures:
        known = panel.frame[["person", name]].dropna()
        if known.empty:
            continue
        away = (known[name] - known.groupby("person")[name].transform("median")).abs() > 1e-9 * max(
            known[name].abs().max(), 1
        )
        people, steps = int(known.loc[away, "person"].nunique()), int(away.sum())
        if people >= min(VARY_PEOPLE, known["person"].nunique()) and steps >= VARY_STEPS:
            continue
        label, of = exposure_label(name), f"{len(known)} known {panel.study.step}s"
        what = (
            f"{label[:1].upper()}{label[1:]} does not vary within any person"
            if not steps
            else f"{label[:1].upper()}{label[1:]} hardly varies within people: {steps} of {of} differ from the person's median, in {people} people"
        )
        out.append(
            Finding(
                "hardly_varies", "", what, name, len(known),
                "Nothing can be told of steps in which a person had more or less of it, and no estimate is made",
                f"Take {name} out of exposures under [analysis], or look whether the column holds what it should.",
            )
        )  # fmt: skip
    return out


def ranges_offer(caseload: Caseload, panel: Panel) -> list[Finding]:
    """Cells set aside as ranges, with what the repair `ranges` would bring back; the caseload is read anew for it."""
    aside = caseload.quarantine
    ranges = np.array([middle(str(v), ".", {})[0] is not None for v in aside["value"]], dtype=bool) & (aside["code"] == "bad_number").to_numpy(dtype=bool)  # fmt: skip
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
        gain = f"; it would bring back {', '.join(said)}, and {weeks} {panel.study.step}s of load"
    where = "; ".join(f"{t}, row {r}, {c}: '{v}'" for t, r, c, v in some[["table", "row", "column", "value"]].head(5).to_numpy())  # fmt: skip
    return [
        Finding(
            "ranges", ", ".join(some["table"].unique()), "Numbers written as ranges were set aside", where, len(some),
            "A range is not one number; the load of a step that lacks it is unknown",
            f"Decide on one number each, or write ranges = true under [repair] to have their middle read{gain}.",
        )
    ]  # fmt: skip
