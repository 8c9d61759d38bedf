"""The numbers of the findings: people, steps, rows and attempts, each with its unit and denominator."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.question import Outcome
from lagwise.core.results import Caseload, Challenges, Fit, Panel, unplaced
from lagwise.core.study import INTERVAL, AnalysisPlan, Study
from lagwise.core.variable import LOAD
from lagwise.events.asked import people_with
from lagwise.findings import Findings, Number, Table
from lagwise.findings.facts import PANELS_AT_MOST
from lagwise.findings.plain import scalar, table
from lagwise.say.report.checklist import counts


def asked(further: int) -> dict[str, Number]:
    """How many questions were asked, where there is more than one, and what that number does to their
    intervals.
    """
    if not further:
        return {}
    chance = chance_of_any(1 + further)
    return {
        "questions": Number(value=1 + further, unit="questions", made_by="Study.further"),
        "questions_chance": Number(value=chance, unit="proportion", made_by="chance_of_any"),
    }


def drawn(people: int) -> dict[str, Number]:
    """How many people have panels of their own, where not everybody has."""
    if people <= PANELS_AT_MOST:
        return {}
    return {
        "people_with_panels": Number(value=PANELS_AT_MOST, unit="people", n=people, made_by="writeup.figures")
    }


def kinds_left(panel: Panel, followed: Collection[str]) -> dict[str, Number]:
    """How many kinds of events in the record are not followed, where some are."""
    left = sum(kind not in followed for kind in people_with(panel)) if followed else 0
    return {"kinds_left": Number(value=left, unit="kinds", made_by="events.asked")} if left else {}


def checklist_numbers(findings: Findings) -> dict[str, Number]:
    """How many items of the reporting checklist are filled, left to the author or not applicable."""
    by_status = counts(findings)
    total = sum(by_status.values())
    found = {"checklist_items": total} | {f"checklist_{k}": v for k, v in by_status.items()}
    return {k: Number(value=v, unit="items", n=total, made_by="writeup.checklist") for k, v in found.items()}


def people_with_main_steps(panel: Panel) -> int:
    """People with at least one step that the main question can use."""
    return int((panel.coverage()["complete"] > 0).sum())


def counted(caseload: Caseload, panel: Panel) -> dict[str, Number]:
    """What was read and used, and what is known of how many steps of how many people."""
    coverage = panel.coverage()
    frame, asked = panel.frame, panel.study.outcome
    steps, people = len(frame), int(frame["person"].nunique())
    onsets, told = frame["flare_next"].eq(1).fillna(False), frame["flare_next"].notna()

    def of_steps(value: Any, unit: str = "steps") -> Number:
        share = int(value) / steps if steps else None
        return Number(
            value=int(value), unit=unit, n=steps, share=share, of="person-steps", made_by="Panel.coverage"
        )

    numbers = {
        "people": Number(value=people, unit="people", made_by="build_panel"),
        "steps": Number(value=steps, unit="steps", n=people, of="people", made_by="build_panel"),
        "main_people": Number(
            value=people_with_main_steps(panel),
            unit="people",
            n=people,
            of="people",
            made_by="Panel.coverage",
        ),
        "main_steps": of_steps(coverage["complete"].sum()),
        f"{asked.name}_steps": of_steps(coverage[asked.name].sum()),
        f"{asked.name}_pairs": of_steps(frame[[asked.name, asked.column]].notna().all(axis=1).sum()),
        "load_steps": of_steps(coverage["load"].sum()),
        "usual_steps": of_steps(coverage["usual"].sum()),
        "longest": Number(value=int(coverage["steps"].max()), unit="steps", n=people, of="people"),
        "median_steps": Number(value=scalar(coverage["steps"].median()), unit="steps", n=people, of="people"),
        "at_risk_steps": of_steps(told.sum()),
        "at_risk_untold": of_steps((frame["at_risk"].eq(1).fillna(False) & ~told).sum()),
        "flare_onsets": of_steps(onsets.sum(), "onsets"),
        "flare_people": Number(
            value=int(frame.loc[onsets, "person"].nunique()),
            unit="people",
            n=people,
            of="people",
            made_by="build_panel",
        ),
        "flares_reported": _share(
            frame["flare_reported"].eq(1).fillna(False), frame["flare_reported"].notna()
        ),
    }
    numbers["interval"] = Number(value=INTERVAL, unit="proportion", made_by="lagwise.core.study.INTERVAL")
    for name, value in panel.states.items():
        numbers[f"state_{name}"] = of_steps(value)
    numbers["partly_steps"] = of_steps(frame["partly_recorded"].sum())
    undated, whose, nobody = unplaced(caseload)
    for name, value, unit in (
        ("undated_rows", undated, "rows"),
        ("undated_people", whose, "people"),
        ("unnamed_rows", nobody, "rows"),
    ):
        if value:
            numbers[name] = Number(value=value, unit=unit, made_by="read")
    for column in ("read", "used", "quarantined"):
        for what in ("rows", "cells"):
            name = column if what == "rows" else f"cells_{column}"
            if name in caseload.counts:
                numbers[f"{what}_{column}"] = Number(
                    value=int(caseload.counts[name].sum()), unit=what, made_by="read"
                )
    return numbers


def at_zero(tables: Mapping[str, Table], asked: Outcome) -> dict[str, Number]:
    """How many of all ratings of what is asked about are at the lower end."""
    records = (
        [r for r in tables["ratings"].records() if r["variable"] == asked.name] if "ratings" in tables else []
    )
    total = sum(r["n"] for r in records)
    zero = next((r["n"] for r in records if r["value"] == asked.variable.low), None)
    if not total or zero is None:
        return {}
    number = Number(
        value=zero,
        unit=records[0]["counted"],
        n=total,
        share=zero / total,
        of=f"{asked.variable.label} ratings",
        made_by="describe.floor_and_heaping",
    )
    return {f"{asked.name}_at_zero": number}


def _share(which: pd.Series, among: pd.Series) -> Number:
    count, n = int(which.sum()), int(among.sum())
    share = count / n if n else None
    return Number(
        value=count, unit="steps", n=n, share=share, of="person-steps with an answer", made_by="build_panel"
    )


def tried(checks: Challenges | None) -> dict[str, Number]:
    """How many challenges were tried, and how they ended."""
    verdicts = [c.verdict for c in checks if c.tried] if checks is not None else []
    asked = [v for v in verdicts if v != "informative"]
    counts = {"challenges_tried": len(asked)}
    counts |= {f"challenges_{v}": asked.count(v) for v in ("holds", "does_not_hold", "cannot_tell")}
    return {
        k: Number(value=v, unit="challenges", n=len(asked), made_by="challenge") for k, v in counts.items()
    }


def chance_of_any(questions: int) -> float:
    """How probable it is that an interval of one of so many independent questions leaves out a true 0."""
    return 1 - INTERVAL**questions


PERCENTS = (-50, -25, 25, 50, 100)
"""Loads against the usual one at which a dose-response curve is told, as far as it reaches."""


def told(fit: Fit, study: Study) -> dict[str, Table]:
    """What a write-up tells of a curve: 'lags' at a contrast of load in place of a log unit (the plan's where
    it asks of load, else +50 %), and a 'dose' response at round percents. Nothing of other fits.
    """
    curve, a = fit.tables.get("curve", pd.DataFrame()), study.analysis
    if "lag" in curve:
        name, contrast = "lags", a.primary_contrast if a.primary == LOAD else AnalysisPlan.primary_contrast
        columns = [c for c in curve.columns if c not in ("lag", "std_error")]
        label = contrast_label(LOAD, contrast)
        out = curve[["lag"]].assign(steps_before=curve["lag"] + study.outcome.lag, contrast=label)
        out[columns] = contrast_size(LOAD, contrast) * curve[columns]
    elif "percent" in curve:
        name, reach = "dose", (curve["percent"].iloc[0], curve["percent"].iloc[-1])
        at = [p for p in PERCENTS if reach[0] <= p <= reach[1]]
        jump = np.log1p(np.array(at) / 100)
        found = {c: np.interp(jump, curve[LOAD], curve[c]) for c in ("estimate", "low", "high")}
        out = pd.DataFrame({"percent": at, **found})
    else:
        return {}
    return {name: table(out, made_by=f"fit {fit.engine}")} if len(out) else {}
