"""The numbers of the findings: people, steps, rows and attempts, each with its unit and denominator."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.effects import LOW_TO_HIGH, PER_UNIT, contrast_label, contrast_size
from lagwise.core.question import Outcome
from lagwise.core.results import Caseload, Challenges, Fit, Panel, unplaced
from lagwise.core.study import INTERVAL, AnalysisPlan, Study
from lagwise.core.variable import LOAD
from lagwise.events.asked import people_with
from lagwise.findings import EffectRow, Findings, Number, Table
from lagwise.findings.facts import PANELS_AT_MOST
from lagwise.findings.plain import scalar, table
from lagwise.models.rated_likelihood import HALFWAY
from lagwise.say.report.checklist import counts
from lagwise.say.report.ratings import OF_TENTH


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


def counted(caseload: Caseload, panel: Panel) -> dict[str, Number]:
    """What was read and used, and what is known of how many steps of how many people."""
    coverage = panel.coverage()
    frame, asked = panel.frame, panel.study.outcome
    steps, people = len(frame), int(frame["person"].nunique())
    onsets, told = frame["flare_next"].eq(1).fillna(False), frame["flare_next"].notna()

    def of_people(value: int, made_by: str = "build_panel") -> Number:
        return Number(value=value, unit="people", n=people, of="people", made_by=made_by)

    def of_steps(value: Any, unit: str = "steps") -> Number:
        share = int(value) / steps if steps else None
        return Number(
            value=int(value), unit=unit, n=steps, share=share, of="person-steps", made_by="Panel.coverage"
        )

    numbers = {
        "people": Number(value=people, unit="people", made_by="build_panel"),
        "steps": Number(value=steps, unit="steps", n=people, of="people", made_by="build_panel"),
        "main_people": of_people(int((coverage["complete"] > 0).sum()), "Panel.coverage"),
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
        "flare_people": of_people(int(frame.loc[onsets, "person"].nunique())),
        "flares_reported": _reported(frame["flare_reported"]),
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
        for what, name in (("rows", column), ("cells", f"cells_{column}")):
            if name in caseload.counts:
                count = int(caseload.counts[name].sum())
                numbers[f"{what}_{column}"] = Number(value=count, unit=what, made_by="read")
    return numbers


def at_zero(tables: Mapping[str, Table], asked: Outcome) -> dict[str, Number]:
    """How many of all ratings of what is asked about are at the lower end."""
    held = tables["ratings"].records() if "ratings" in tables else []
    records = [r for r in held if r["variable"] == asked.name]
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


def _reported(flares: pd.Series) -> Number:
    count, n = int(flares.eq(1).fillna(False).sum()), int(flares.notna().sum())
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


ANSWERS = {"felt_answer": -1, "rating_answer": -1, "level_answer": 1}
"""Answers of load to a point, and their side: lower, lower and higher load."""
OF_SLOPES = ("slope", "low", "high", "own_slope", "own_low", "own_high")


def told(fit: Fit, study: Study) -> dict[str, Table]:
    """What a write-up tells of a fit in the units of readers, in the place of log units: 'lags' at a contrast
    of load (the plan's where it asks of load, else +50 %), a 'dose' response at round percents, jumps,
    load's answers and the bias of odds ratios in percent, person slopes of load and their spread at that
    contrast.
    """
    a = study.analysis
    contrast = a.primary_contrast if a.primary == LOAD else AnalysisPlan.primary_contrast
    size, label = contrast_size(LOAD, contrast), contrast_label(LOAD, contrast)
    made = f"fit {fit.engine}"
    found = {
        **_curves(fit, study, size, label),
        **(_slopes(fit, size, label) if a.primary == LOAD else {}),
    }
    out = {name: table(frame, made_by=made) for name, frame in found.items() if len(frame)}
    if "people" in out:
        out["people"] = out["people"].model_copy(update={"units": {"slope": label}})
    if "aligned" in fit.tables:
        percent = fit.tables["aligned"].copy()
        ends = ["difference", "low", "high"]
        percent[ends] = 100 * np.expm1(percent[ends])
        out["aligned"] = table(percent, made_by=made, units={"difference": "%"})
    if "bias_at_this_size" in fit.tables:
        bias = fit.tables["bias_at_this_size"].copy()
        ratio = np.exp(size * bias["bias"])
        bias["bias"] = 100 * (ratio - 1)
        bias["bias_mc_error"] *= 100 * abs(size) * ratio
        out["bias_at_this_size"] = table(bias, made_by=made, units={"bias": f"%, {label} load"})
    if "rating" in fit.tables:
        out["rating"] = table(_ratings(fit.tables["rating"], size, label, study.outcome.scale), made_by=made)
    return out


def _curves(fit: Fit, study: Study, size: float, label: str) -> dict[str, pd.DataFrame]:
    curve = fit.tables.get("curve", pd.DataFrame())
    if "lag" in curve:
        columns = [c for c in curve.columns if c not in ("lag", "std_error")]
        out = curve[["lag"]].assign(steps_before=curve["lag"] + study.outcome.lag, contrast=label)
        out[columns] = size * curve[columns]
        return {"lags": out}
    if "percent" not in curve:
        return {}
    reach = curve["percent"].iloc[0], curve["percent"].iloc[-1]
    at = [p for p in PERCENTS if reach[0] <= p <= reach[1]]
    jump = np.log1p(np.array(at) / 100)
    found = {c: np.interp(jump, curve[LOAD], curve[c]) for c in ("estimate", "low", "high")}
    return {"dose": pd.DataFrame({"percent": at, **found})}


def _slopes(fit: Fit, size: float, label: str) -> dict[str, pd.DataFrame]:
    """Person slopes of load, and their SD, at a contrast."""
    out = {}
    if "people" in fit.tables and set(OF_SLOPES) <= set(fit.tables["people"]):
        people = fit.tables["people"].copy()
        for mid, low, high in (OF_SLOPES[:3], OF_SLOPES[3:]):
            both = size * people[[low, high]].to_numpy(dtype=float)
            people[mid], people[low], people[high] = size * people[mid], both.min(axis=1), both.max(axis=1)
        out["people"] = people.sort_values(["slope", "person"], kind="stable")
    if "random_effects" in fit.tables:
        effects = fit.tables["random_effects"].copy()
        mine = effects["component"].eq("slope_sd")
        ends = ["estimate", "low", "high"]
        effects.loc[mine, ends] = abs(size) * effects.loc[mine, ends].astype(float)
        effects.loc[mine, "unit"] = f"points, {label} load"
        out["random_effects"] = effects
    return out


def _ratings(rating: pd.DataFrame, size: float, label: str, tenth: float) -> pd.DataFrame:
    """Load's answers in percent (of a `tenth` of the scale, where that is not a point), the spread of its
    effect at a contrast; `unit` says which, '' of others.
    """
    out, ends = rating.assign(unit=""), ["estimate", "low", "high"]
    for name, side in ANSWERS.items():
        mine = out["quantity"].eq(name)
        out.loc[mine, ends] = side * 100 * np.expm1(side * tenth * out.loc[mine, ends].astype(float))
        out.loc[mine, "unit"] = "%" if tenth == 1 else OF_TENTH
    if tenth != 1:
        out.loc[out["quantity"].eq("rating_answer"), "prior"] = str(
            said("prior.rating_answer", answer=HALFWAY)
        )
    mine = out["quantity"].eq("slope_sd")
    out.loc[mine, ends] = abs(size) * out.loc[mine, ends].astype(float)
    out.loc[mine, "unit"] = label
    return out


def with_usual(rows: list[EffectRow], spread: Mapping[str, float]) -> tuple[EffectRow, ...]:
    """Rows with those from usual low to usual high added: of each exposure within people, what its row per
    unit gives over two within-person standard deviations (`lagwise.describe.usual_range`).
    """

    def usual(row: EffectRow) -> EffectRow:
        size = 2 * spread[row.term]
        scaled = {
            k: None if (v := getattr(row, k)) is None else size * v
            for k in ("estimate", "std_error", "low", "high")
        }
        chances = dict.fromkeys(("p_practically_zero", "p_important"))
        return row.model_copy(
            update={**scaled, **chances, "contrast": LOW_TO_HIGH, "contrast_size": size, "primary": False}
        )

    wanted = {"contrast": PER_UNIT, "level": "within", "scale": "points", "adjustment": "adjusted"}
    held = [r for r in rows if r.term in spread and all(getattr(r, k) == v for k, v in wanted.items())]
    return (*rows, *map(usual, held))
