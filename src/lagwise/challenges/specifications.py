"""The other plans that ask the same question, and their estimates."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.challenges.context import Primary
from lagwise.core.columns import LOAD_MEASURES
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import OF_TRAINING, Design, columns_for, design
from lagwise.models.estimates import picked
from lagwise.models.kernel import fit
from lagwise.models.rows import limits
from lagwise.models.within import fit_within, fixed_many
from lagwise.panel.build import rebuild

WINDOWS = (3, 4, 6)
COVERED = 0.8
"""A load measure enters when it is known on at least this share of the steps on which the plan's own is."""
ALL_SETS = ("sets", "reps", "tonnage", "session_rpe")
"""Measures of all work. Counts of hard sets alone ask about another exposure, and so do not stand beside
them.
"""
READINGS = ("load measure", "usual load over", "pain summary", "no sessions mean")
"""Choices of how the record is read."""
CHOICES = (*READINGS, "what is held equal", "estimator")
OF_LOAD = ("load measure", "usual load over", "no sessions mean")
"""Choices that are none where no load is in the model."""
MIXED, WITHIN = "mixed model, person intercepts", "within people"


@dataclass(frozen=True)
class Plan:
    """One way to build the panel: a study plan and the levels of the first four `CHOICES` in words."""

    study: Study
    words: tuple[str, ...]


def with_load(panel: Panel) -> bool:
    """True where the primary model holds load or the usual load."""
    return "log_usual" in columns_for(panel, (), "none")


def plans(panel: Panel, windows: tuple[int, ...] = WINDOWS) -> list[Plan]:
    """Every combination of load measure, window of the usual load, outcome summary and reading of silence
    that the blocks carry and that differs from the others; those of load only where load is in the model.
    """
    study, blocks, load = panel.study, panel.blocks, panel.study.load
    measures, spans = [load.measure], [(load.usual_steps, load.usual_needs)]
    silence = [load.no_sessions_means]
    if with_load(panel):
        measures += [m for m in kin(load.measure) if m != load.measure and _known(panel, m)]
        spans += [(w, math.ceil(0.75 * w)) for w in windows if w != load.usual_steps]
        if panel.states.get("would_change_under_other_reading", 0):
            silence.append("rest" if load.no_sessions_means == "unknown" else "unknown")
    summaries = [study.pain.summary]
    for name in ("mean", "worst", "last"):
        column = f"{study.outcome.name}_{name}"
        known = [blocks[f"{study.outcome.name}_{s}"] for s in summaries if column in blocks]
        if name not in summaries and known and not any(blocks[column].equals(k) for k in known):
            summaries.append(name)

    def plan(m: str, w: int, needs: int, p: str, s: str) -> Plan:
        read = replace(load, measure=m, usual_steps=w, usual_needs=needs, no_sessions_means=s)
        return Plan(replace(study, load=read, pain=replace(study.pain, summary=p)), (m, f"{w} steps", p, s))

    every = itertools.product(measures, spans, summaries, silence)
    return [plan(m, w, needs, p, s) for m, (w, needs), p, s in every]


def kin(measure: str) -> tuple[str, ...]:
    """The load measures that ask about the same exposure."""
    return ALL_SETS if measure in ALL_SETS else (measure,)


def others(panel: Panel) -> list[Plan]:
    """The study's own plan with load measures that ask about another exposure."""
    study = panel.study
    asked = LOAD_MEASURES if with_load(panel) else ()
    other = [m for m in asked if m not in kin(study.load.measure) and _known(panel, m)]
    return [Plan(replace(study, load=replace(study.load, measure=m)), (m, "", "", "")) for m in other]


def _known(panel: Panel, measure: str) -> bool:
    column, own = f"load_{measure}", panel.blocks[f"load_{panel.study.load.measure}"].notna().sum()
    return column in panel.blocks and bool(panel.blocks[column].notna().sum() >= COVERED * own > 0)


def held_equal(panel: Panel, question: Primary) -> dict[str, tuple[str, ...]]:
    """The sets of exposures held equal, by name; all with the primary exposure in them."""
    every = question.exposures
    asked = panel.study.outcome.variable.label
    left = [asked] * (question.pain_adjusted != "none") + ["usual load"] * with_load(panel)
    sets = {
        "all exposures": every,
        "all but effort": tuple(t for t in every if t == question.term or t not in OF_TRAINING),
        f"only {' and '.join(left) or 'the exposure'}": (question.term,),
    }
    seen: dict[str, tuple[str, ...]] = {}
    for name, terms in sets.items():
        if terms not in seen.values():
            seen[name] = terms
    return seen


def designs(panel: Panel, question: Primary, plan: Plan) -> dict[str, Design]:
    """The designs of one plan by what they hold equal; those that cannot be built are left out."""
    again = rebuild(panel, plan.study)
    found = {}
    for name, terms in held_equal(panel, question).items():
        try:
            d = design(again, exposures=terms, pain_adjusted=question.pain_adjusted, outcome=question.outcome)
        except ModelError:
            continue
        if question.column in d.names and gate_for(d.n_people).name != "describe":
            found[name] = d
    return found


def estimates(panel: Panel, question: Primary, group: list[Plan]) -> pd.DataFrame:
    """One row per specification of plans: the `CHOICES`, estimate, low, high, n_people, n_steps."""
    rows = []
    for plan in group:
        try:
            made = designs(panel, question, plan)
        except LagwiseError:
            continue
        for name, d in made.items():
            for model in (WITHIN,) if gate_for(d.n_people).within_only else (MIXED, WITHIN):
                found = _estimate(d, question, model)
                if found is not None:
                    rows.append((*plan.words, name, model, *found, d.n_people, d.n_steps))
    return pd.DataFrame(rows, columns=[*CHOICES, "estimate", "low", "high", "n_people", "n_steps"])


def _estimate(d: Design, question: Primary, model: str) -> tuple[float, float, float] | None:
    at = d.names.index(question.column)
    if gate_for(d.n_people).within_only:
        try:
            value, error, df = fit_within(d).contrast(question.column, question.size)
        except (ModelError, ValueError):
            return None
    else:
        cross = CrossProducts.build(d.y, d.X, None, d.person)
        one = picked(d.names, question.column)
        found = fit(cross).contrast(one) if model == MIXED else fixed_many(cross, at)
        value, error, df = (float(v[0]) for v in (found.estimate, found.std_error, found.df))
        value, error = question.size * value, abs(question.size) * error
    return (value, *limits(value, error, df)) if np.isfinite(value) and np.isfinite(error) else None


def shares(table: pd.DataFrame) -> pd.Series:
    """Share of the estimates' variance that goes with each choice (between its levels), largest first."""
    value, middle = table["estimate"], table["estimate"].mean()
    total = float(((value - middle) ** 2).sum())
    out = {}
    for choice in CHOICES:
        between = float(((value.groupby(table[choice]).transform("mean") - middle) ** 2).sum())
        out[choice] = between / total if total > 0 else 0.0
    return pd.Series(out).sort_values(ascending=False)
