"""The lagged linear mixed models of a panel: one call, the whole effect table."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.aside import begin
from lagwise.core.effects import contrast_label, contrast_size, effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.gate import Gate, gate_for
from lagwise.core.question import held_column
from lagwise.core.results import Fit, Panel
from lagwise.core.words import exposure_label
from lagwise.models.bootstrap import bootstrap
from lagwise.models.collinear import collinearity
from lagwise.models.design import Design, adjustments, available, design, left_out, primary_adjustment
from lagwise.models.fixed import fit_fixed
from lagwise.models.gates import failed, gate_frame, mixed_gates, within_gates
from lagwise.models.jackknife import jackknife
from lagwise.models.ladder import Rung, climb
from lagwise.models.people import WARNING, person_slopes
from lagwise.models.predict import predictive_value
from lagwise.models.reach import reach_table, shown
from lagwise.models.rows import effect_rows, levels, limits
from lagwise.models.second import Agreement, second_opinion
from lagwise.models.variance import random_effects, variance_split
from lagwise.models.within import WithinFit, fit_within

WRONG = {
    "before": "{Label} before the step leaves in whatever the step's own {label} did to the load: where people train "
    "less when it hurts, the difference is pulled down.",
    "during": "{Label} during the step takes away whatever part of the load's association runs through {label} in the "
    "same step: the difference may be pulled towards 0.",
    "none": "With nothing earlier held equal, whatever of the step's {label} was there before counts as if it had "
    "followed.",
}
"""What each adjustment would get wrong, as stated beside the numbers."""
SAME_STEP = {
    "before": "The {label} of the same {step} is explained, so it cannot be held equal to itself: {label} before it is.",
    "none": "The {label} of the same {step} is explained, and hardly known before it, so no earlier {label} is held equal.",
}
"""At lag 0: what is held equal instead."""


@dataclass(frozen=True)
class _Model:
    """One fitted model of the table: its design, its contrast and its words."""

    design: Design
    fitted: Rung | WithinFit
    terms: tuple[str, ...]

    @property
    def engine(self) -> str:
        return "mixed" if isinstance(self.fitted, Rung) else "within"


def fit_mixed(
    panel: Panel,
    *,
    exposures: Sequence[str] | None = None,
    pain_adjusted: str | None = None,
    outcome: str | None = None,
    seed: int = 0,
    helper: Executor | None = None,
) -> Fit:
    """Fit the lagged linear mixed models (REML) and return the tidy effect table.

    outcome at t + 1 (or at t, where the plan's lag is 0) = intercept + exposures (jump with its indicators
    and log_usual; others as within- and between-person parts) + within and between parts of the adjusted-for
    earlier outcome + step index + person intercept + person slope of the primary exposure + residual.

    Parameters
    ----------
    panel : Panel
        It is not changed.
    exposures : sequence of str, optional
        Names of `Study.variables`; the study's exposures by default.
    pain_adjusted : 'before' | 'during', optional
        Which adjustment the primary row carries; by default what `[pain] rated` asks for. Both are always
        computed. At lag 0 'before' | 'none', by default 'before' where that is known in half of the steps
        (`primary_adjustment`).
    outcome : str, optional
        Panel column; the plan's outcome by default.
    seed : int
        Of the bootstraps over people; nothing else is random.
    helper : concurrent.futures.Executor, optional
        Another process, which fits the second opinion meanwhile.

    Returns
    -------
    Fit
        Every exposure has 'per unit' rows (points per unit), crude and adjusted, under both pain adjustments;
        the primary exposure also has the study's contrast, and one of those rows is primary. Intervals use
        Satterthwaite degrees of freedom. With 5 to 9 people all rows come from the within-person estimator
        (engine 'within'); below 5 there are none and `why_not` says so. Between-person rows need 30 people.
        When the primary exposure was not recorded no row is primary, and `notes` says so.

        `tables`: coefficients (every column of the primary model), adjustments (both pain adjustments beside
        each other, with what each would get wrong), reach (`lagwise.models.reach.reach_table`: how many steps
        reach the planned contrast, and the contrast from usual low to usual high), bootstrap (percentile-t
        interval of the primary contrast over people, `lagwise.models.bootstrap`), rungs (the rung each model
        reached and why), collinearity (`lagwise.models.collinear.collinearity`), prediction
        (`lagwise.models.predict.predictive_value`), and for mixed models random_effects, variance, people
        (`lagwise.models.people.person_slopes`), jackknife (`lagwise.models.jackknife.jackknife`), within (the
        fixed-effects estimate of the primary contrast beside).

    Raises
    ------
    ModelError
        When nothing can be fitted; the message says why in words.
    """
    began = time.perf_counter()
    asked = panel.study.outcome
    outcome = asked.column if outcome is None else outcome
    first = primary_adjustment(panel.study, panel.frame) if pain_adjusted is None else pain_adjusted
    every = [a for a in adjustments(panel.study, first) if a == first or _known(panel, a)]
    wanted = tuple(dict.fromkeys(panel.study.analysis.exposures if exposures is None else exposures))
    kept, left = available(panel, wanted)
    if not kept:
        raise ModelError(
            "none of the exposures is recorded", mend="Name recorded ones under [analysis] exposures."
        )
    lead = design(panel, exposures=kept, pain_adjusted=first, outcome=outcome)
    gate = gate_for(lead.n_people)
    settings: dict[str, Any] = {"exposures": kept, "pain_adjusted": first, "seed": seed}
    if gate.name == "describe":
        return _nothing(panel, lead, gate, settings, time.perf_counter() - began)
    primary = _primary_column(panel, kept)
    lead_model = _fit_one(lead, kept, primary, gate)
    opinion = _opinion(lead_model, primary if primary in lead.names else "", helper)
    models, notes = _all_models(panel, kept, every, outcome, gate, lead_model)
    notes = [*left_out((*left, *lead.dropped)), *notes]
    if not asked.lag:
        notes.append(SAME_STEP[first].format(label=asked.variable.label, step=panel.study.step))
    main = models[0]
    if primary not in main.design.names:
        notes.append(
            f"{exposure_label(panel.study.analysis.primary)}, which the plan asks about, is not in the model"
        )
        primary = ""
    rows = [
        row for i, model in enumerate(models)
        for row in effect_rows(
            model.design, model.fitted.contrast, engine=model.engine, model=model.fitted.words, terms=model.terms,
            study=panel.study, between=gate.between_claims and isinstance(model.fitted, Rung), primary=i == 0,
        )
    ]  # fmt: skip
    tables = _tables(panel, models, primary, rows, seed)
    diagnostics = (
        within_gates(main.fitted)
        if isinstance(main.fitted, WithinFit)
        else mixed_gates(main.fitted, opinion())
    )
    why_not = failed(diagnostics)
    return Fit(
        engine=main.engine,
        outcome=outcome,
        effects=effects_frame(rows),
        diagnostics=diagnostics,
        usable=not why_not,
        rung=main.fitted.words,
        rung_reason=main.fitted.reason if isinstance(main.fitted, Rung) else gate.sentence,
        why_not=why_not,
        n_people=main.design.n_people,
        n_steps=main.design.n_steps,
        tables=tables,
        settings=settings,
        notes=tuple(notes),
        seconds=time.perf_counter() - began,
        step=panel.study.step,
        asked=panel.study.asked,
        columns=main.design.names if isinstance(main.fitted, Rung) else main.fitted.names,
        dropped=(*left, *(main.design if isinstance(main.fitted, Rung) else main.fitted).dropped),
    )


def _known(panel: Panel, adjustment: str) -> bool:
    """True where the outcome that an adjustment holds equal is known at all; at lag 1 always, so that it is
    said why not."""
    held = held_column(panel.study.outcome, adjustment)
    return bool(panel.study.outcome.lag) or not held or bool(panel.frame[held].notna().any())


def _nothing(panel: Panel, lead: Design, gate: Gate, settings: dict[str, Any], seconds: float) -> Fit:
    return Fit(
        "mixed", lead.outcome, effects_frame([]), gate_frame([]), usable=False, rung="not fitted", why_not=gate.sentence,
        n_people=lead.n_people, n_steps=lead.n_steps, settings=settings, seconds=seconds, step=panel.study.step, asked=panel.study.asked,
    )  # fmt: skip


def _primary_column(panel: Panel, kept: Sequence[str]) -> str:
    term = panel.study.analysis.primary
    return levels(term, between=False)[0][1] if term in kept else ""


def _all_models(
    panel: Panel, kept: tuple[str, ...], every: Sequence[str], outcome: str, gate: Gate, lead: _Model
) -> tuple[list[_Model], list[str]]:
    """The primary model first, then the other adjustment and the crude ones; those that cannot be fitted
    become notes."""
    slope = _primary_column(panel, kept)
    models = [lead]
    notes: list[str] = []
    label = panel.study.outcome.variable.label
    for pain in every:
        for terms in (kept, *((term,) for term in kept)):
            crude = terms is not kept
            if pain == every[0] and not crude:
                continue
            adjustment = "crude" if crude else "adjusted"
            try:
                d = design(panel, exposures=terms, pain_adjusted=pain, outcome=outcome, adjustment=adjustment)
                models.append(_fit_one(d, terms, slope, gate))
            except ModelError as error:
                notes.append(f"{adjustment} model of {', '.join(terms)} with {label} {pain}: {error.what}")
    return models, notes


def _fit_one(d: Design, terms: tuple[str, ...], slope: str, gate: Gate) -> _Model:
    if gate.within_only:
        fitted = fit_within(d)
        return _Model(fitted.design, fitted, terms)
    has = any(slope == column for term in terms for _, column in levels(term, between=False))
    return _Model(d, climb(d, slope if has else ""), terms)


def _opinion(main: _Model, primary: str, helper: Executor | None) -> Callable[[], Agreement]:
    if isinstance(main.fitted, WithinFit) or not primary:
        return lambda: Agreement(None, "no primary exposure in the model")
    return begin(helper, second_opinion, main.fitted, primary)


def _tables(
    panel: Panel, models: list[_Model], primary: str, rows: list[dict[str, Any]], seed: int
) -> dict[str, pd.DataFrame]:
    main = models[0]
    tables = {
        "coefficients": _coefficients(main),
        "rungs": _rungs(models),
        "collinearity": collinearity(main.design),
    }
    if primary:
        tables["adjustments"] = _adjustments(panel, rows)
        sizes = _primary_size(panel), 2 * shown(main.design, primary)[1]
        tables["reach"] = reach_table(
            main.design, primary, panel.study, *(_found(main.fitted, primary, s) for s in sizes)
        )
        tables["bootstrap"] = bootstrap(main.fitted, primary, _primary_size(panel), seed=seed)
    prediction = predictive_value(panel, outcome=main.design.outcome, seed=seed)
    if len(prediction):
        tables["prediction"] = prediction
    if isinstance(main.fitted, Rung):
        tables["random_effects"] = random_effects(main.fitted)
        tables["variance"] = variance_split(main.fitted)
        if primary:
            study = panel.study.analysis
            size = _primary_size(panel)
            tables["people"] = person_slopes(main.fitted, primary).assign(warning=WARNING)
            tables["jackknife"] = jackknife(main.fitted, primary, size)
            tables["within"] = _beside(
                main.design, primary, size, contrast_label(study.primary, study.primary_contrast)
            )
    return tables


def _found(fitted: Rung | WithinFit, column: str, size: float) -> dict[str, float]:
    estimate, std_error, df = fitted.contrast(column, size)
    low, high = limits(estimate, std_error, df)
    return {"estimate": estimate, "low": low, "high": high}


def _primary_size(panel: Panel) -> float:
    return contrast_size(panel.study.analysis.primary, panel.study.analysis.primary_contrast)


def _coefficients(model: _Model) -> pd.DataFrame:
    names = model.design.names if isinstance(model.fitted, Rung) else model.fitted.names
    rows = []
    for name in names:
        estimate, std_error, df = model.fitted.contrast(name)
        rows.append((name, estimate, std_error, df, *limits(estimate, std_error, df)))
    return pd.DataFrame(rows, columns=["name", "estimate", "std_error", "df", "low", "high"])


def _rungs(models: list[_Model]) -> pd.DataFrame:
    rows = [
        (
            ", ".join(m.terms), m.design.adjustment, m.design.pain_adjusted, m.fitted.words,
            m.fitted.reason if isinstance(m.fitted, Rung) else "", m.design.n_people, m.design.n_steps,
            "; ".join(f"{name}: {why}" for name, why in m.design.dropped),
        )
        for m in models
    ]  # fmt: skip
    names = ["exposures", "adjustment", "pain_adjusted", "rung", "reason", "n_people", "n_steps", "left_out"]
    return pd.DataFrame(rows, columns=names)


def _adjustments(panel: Panel, rows: list[dict[str, Any]]) -> pd.DataFrame:
    """The primary contrast, adjusted, under both pain adjustments, with what each would get wrong."""
    study = panel.study.analysis
    label, rated = contrast_label(study.primary, study.primary_contrast), panel.study.outcome.variable.label
    wrong = {k: v.format(label=rated, Label=rated[:1].upper() + rated[1:]) for k, v in WRONG.items()}
    keep = (
        "pain_adjusted",
        "primary",
        "contrast",
        "estimate",
        "std_error",
        "low",
        "high",
        "df",
        "n_people",
        "n_steps",
    )
    picked = [
        {**{k: r[k] for k in keep}, "what_it_would_get_wrong": wrong[r["pain_adjusted"]]}
        for r in rows
        if r["term"] == study.primary and r["adjustment"] == "adjusted" and r["contrast"] == label
    ]
    return pd.DataFrame(picked, columns=[*keep, "what_it_would_get_wrong"])


def _beside(d: Design, primary: str, size: float, label: str) -> pd.DataFrame:
    """The fixed-effects (CR2) estimate of the primary contrast, or why there is none."""
    names = ["contrast", "estimate", "std_error", "df", "low", "high", "n_people", "n_steps", "reason"]
    try:
        estimate, std_error, df = fit_fixed(d).contrast(primary, size)
    except (ModelError, ValueError) as error:
        return pd.DataFrame([(label, *(np.nan,) * 5, d.n_people, d.n_steps, str(error))], columns=names)
    low, high = limits(estimate, std_error, df)
    row = (label, estimate, std_error, df, low, high, d.n_people, d.n_steps, "")
    return pd.DataFrame([row], columns=names)
