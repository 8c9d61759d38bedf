"""What goes together in a study plan: its ratings, and its keys with each other."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import fields, replace
from types import MappingProxyType
from typing import Any

from lagwise.core.columns import RATINGS, TABLES
from lagwise.core.errors import StudyError
from lagwise.core.legal import UNITS, checked, filled, kept, mapping, text, unknown, wrong
from lagwise.core.study import AnalysisPlan, Clock, LoadPlan, PainPlan, RatingPlan, Study
from lagwise.core.terms import PANEL
from lagwise.core.variable import VARIABLES

SECTIONS = {"clock": Clock, "load": LoadPlan, "pain": PainPlan, "analysis": AnalysisPlan}
"""Sections of study.toml whose keys are the fields of one part of the plan."""
TOP = {"title": filled, "setting": text, "ethics": text}
_FIRST, _LAST = ("load_", "usual_"), ("_within", "_between", "_next", "_before", "_later")
"""How the panel's own names for what comes from a rating begin and end."""
_TABLES = {column.name for table in TABLES.values() for column in table} - set(RATINGS)
_INSIDE = "row source recorded pain_mean pain_worst pain_last unknown intercept"
NOT_A_RATING = {*_TABLES, *PANEL, *_INSIDE.split()} - set(RATINGS)
"""Names that mean something else in a table, in the panel or in a model."""


def ratings(given: Any) -> Mapping[str, RatingPlan]:
    """`[ratings.NAME]` sections: a rating of the study's own with its range,
    or one of the contract's on another scale."""
    out = {}
    for name, keys in mapping("ratings", given).items():
        inside = f"ratings.{name}"
        if not re.fullmatch(r"[a-z][a-z0-9_]{0,39}", name):
            legal = "the name of a rating is lower-case letters, digits and underscores"
            raise wrong(inside, name, legal, "Rename it; its label and its column may be called anything.")
        known = VARIABLES.get(name)
        if name in NOT_A_RATING or name.startswith(_FIRST) or name.endswith(_LAST):
            raise wrong(inside, name, "that is the name of something else in the tables", "Rename it.")
        ends = {"low": known.low, "high": known.high} if known else {}
        plan = checked(RatingPlan, {**ends, **mapping(inside, keys)}, inside)
        if known is None and not {"low", "high"} <= set(keys):
            raise StudyError(
                f"[{inside}] has no range",
                where="study.toml",
                mend="Write the ends of its scale, such as low = 1 and high = 5.",
            )
        if not plan.low < plan.high:
            raise wrong(inside, {"low": plan.low, "high": plan.high}, "low must lie below high")
        for key in ("important_change", "practically_zero", "flare_rise"):
            if (getattr(plan, key) or 0) > plan.high - plan.low:
                raise wrong(
                    f"{inside}.{key}", getattr(plan, key), f"the whole range is {plan.high - plan.low:g}"
                )
        out[name] = plan
    return MappingProxyType(out)


def consistent(study: Study) -> Study:
    """The plan, when its keys go together.

    Raises
    ------
    StudyError
        With key, value and what is legal.
    """
    a, known = study.analysis, study.variables
    if study.load.usual_needs > study.load.usual_steps:
        raise wrong(
            "load.usual_needs", study.load.usual_needs, f"at most usual_steps = {study.load.usual_steps}"
        )
    for key, asked in (("exposures", a.exposures), ("primary", (a.primary,)), ("outcome", (a.outcome,))):
        legal = [name for name, v in known.items() if v.rated or key != "outcome"]
        for name in asked:
            if name not in legal:
                near = difflib.get_close_matches(name, legal, n=1)
                hint = (
                    f"Did you mean '{near[0]}'?"
                    if near
                    else "A rating of your own needs [ratings.NAME] with low and high."
                )
                raise wrong(f"analysis.{key}", name, f"legal values are {', '.join(legal)}", hint)
    for table, source in study.tables.items():
        for name in source.units:
            if name in study.ratings and name not in UNITS:
                place = f"tables.{table}.units.{name}"
                ways = f"read as points from 0 to 10 with units, on its own scale with [ratings.{name}]"
                raise wrong(
                    place,
                    source.units[name],
                    f"[ratings.{name}] declares its scale already",
                    f"Take out one of the two: it is {ways}.",
                )
    asked_about = study.outcome
    for key, size in (
        ("pain.flare_rise", asked_about.rise),
        ("pain.important_change", asked_about.important),
        ("analysis.practically_zero", asked_about.zero),
    ):
        if size > asked_about.variable.width:
            raise wrong(
                key, size, f"the whole scale of {asked_about.name} is {asked_about.variable.width:g} wide"
            )
    if a.outcome in a.exposures:
        raise wrong(
            "analysis.outcome",
            a.outcome,
            "it is among the exposures",
            "Take it out of exposures: what is asked about is not one.",
        )
    if a.primary not in a.exposures:
        raise wrong(
            "analysis.primary",
            a.primary,
            f"it must be one of the exposures: {', '.join(a.exposures)}",
            "Name the primary exposure, or add it to exposures.",
        )
    if a.primary == "jump" and a.primary_contrast < -0.99:
        raise wrong(
            "analysis.primary_contrast",
            a.primary_contrast,
            "load cannot fall by all of it: from -0.99 for jump",
        )
    if a.lag == 0 and a.order != "exposure_first":
        raise wrong(
            "analysis.lag",
            0,
            'within one step the order must be declared: order = "exposure_first"',
            "Write it only where what is asked about comes after the exposures, "
            "as today's rating after last night's sleep.",
        )
    return study


def exposures_but(outcome: str, asked: tuple[str, ...] = AnalysisPlan.exposures) -> tuple[str, ...]:
    """The exposures of a plan that names none, or of one whose outcome changes: without the outcome."""
    return tuple(term for term in asked if term != outcome)


def changed_plan(study: Study, changes: Mapping[str, Any]) -> Study:
    """A plan with some keys changed; raises as `Study.with_` says."""
    parts: dict[str, Any] = {}
    homes = {f.name: section for section, kind in SECTIONS.items() for f in fields(kind)}
    for key, value in changes.items():
        if key in homes:
            parts.setdefault(homes[key], {})[key] = value
        elif key in TOP:
            parts[key] = kept(key, value, TOP[key])
        elif key == "ratings":
            parts[key] = ratings(value)
        else:
            raise unknown(key, (*homes, *TOP, "ratings"))
    analysis = parts.get("analysis", {})
    if "outcome" in analysis and "exposures" not in analysis:
        analysis["exposures"] = exposures_but(analysis["outcome"], study.analysis.exposures)
    for section in SECTIONS.keys() & parts:
        new: Any = checked(SECTIONS[section], parts[section], section)
        parts[section] = replace(
            getattr(study, section), **{key: getattr(new, key) for key in parts[section]}
        )
    return consistent(replace(study, **parts))
