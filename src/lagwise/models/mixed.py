"""The lagged linear mixed models of a panel: one call, the whole effect table."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.aside import begin
from lagwise.core.claim import said
from lagwise.core.effects import effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.gate import Gate, gate_for
from lagwise.core.question import held_column
from lagwise.core.results import Fit, Panel
from lagwise.models.bootstrap import bootstrap
from lagwise.models.collinear import collinearity
from lagwise.models.design import (
    SPARE,
    Design,
    adjustments,
    asked_for,
    available,
    design,
    further,
    left_out,
    primary_adjustment,
)
from lagwise.models.gates import failed, gate_frame, made, mixed_gates, within_gates
from lagwise.models.jackknife import jackknife
from lagwise.models.ladder import Rung, climb
from lagwise.models.people import person_slopes
from lagwise.models.predict import predictive_value
from lagwise.models.reach import reach_table, shown
from lagwise.models.rows import (
    column_of,
    effect_rows,
    levels,
    planned_contrast,
    rung_table,
    spread,
    spread_table,
)
from lagwise.models.second import Agreement, second_opinion
from lagwise.models.variance import random_effects, variance_split
from lagwise.models.within import WithinFit, fit_fixed, fit_within


@dataclass(frozen=True)
class _Model:
    """One fitted model of the table, and the exposures in it."""

    fitted: Rung | WithinFit
    terms: tuple[str, ...]

    @property
    def design(self) -> Design:
        return self.fitted.design


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
        (engine 'within'); below 5, or with fewer than 10 complete steps beyond people and columns, there are
        none and `why_not` says so. Between-person rows need 30 people.
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

    Examples
    --------
    >>> import lagwise as lw
    >>> fit = lw.fit_mixed(panel)
    >>> fit.primary()[["term", "contrast", "scale"]].values.tolist()
    [['jump', '+50 %', 'points']]
    """
    began = time.perf_counter()
    study, asked = panel.study, panel.study.outcome
    outcome = asked.column if outcome is None else outcome
    first = primary_adjustment(study, panel.frame) if pain_adjusted is None else pain_adjusted
    every = [a for a in adjustments(study, first) if a == first or _known(panel, a)]
    wanted = asked_for(panel, exposures)
    kept, left = available(panel, wanted)
    if not kept:
        raise ModelError(
            f"none of the exposures is recorded ({', '.join(wanted)})",
            mend="Record one of them, or name recorded ones under [analysis] exposures.",
        )
    lead = design(panel, exposures=kept, pain_adjusted=first, outcome=outcome)
    gate = gate_for(lead.n_people)
    settings: dict[str, Any] = {"exposures": kept, "pain_adjusted": first, "seed": seed}
    if gate.name == "describe" or lead.spare < SPARE:
        few = {"steps": lead.n_steps, "needed": lead.n_steps - lead.spare + SPARE}
        why = (
            gate.sentence if gate.name == "describe" else said("not_fitted.few_spare", step=study.step, **few)
        )
        none = {"effects": effects_frame([]), "diagnostics": gate_frame([]), "rung": said("model.none")}
        return made("mixed", panel, lead, began, why, **none, settings=settings)
    term = study.analysis.primary
    primary = column_of(term) if term in kept else ""
    main = _fit_one(lead, kept, primary, gate)
    opinion = _opinion(main, primary if primary in lead.names else "", helper)
    others, unfitted = _other_models(panel, kept, every, outcome, gate, primary)
    models, fitted = [main, *others], main.fitted
    notes = [*left_out((*left, *lead.dropped), study), *unfitted]
    if not asked.lag:
        notes.append(said(f"note.same_step_{first}", label=asked.variable.label, step=study.step))
    if primary not in main.design.names:
        notes.append(said("note.no_primary", label=study.variables[term].label))
        primary = ""
    rows = [
        row
        for model in models
        for row in effect_rows(
            model.design,
            model.fitted.contrast,
            engine=model.fitted.engine,
            model=model.fitted.words,
            terms=model.terms,
            study=study,
            between=gate.between_claims and isinstance(model.fitted, Rung),
            primary=model is main,
        )
    ]
    tables = _tables(panel, models, primary, rows, seed)
    diagnostics = mixed_gates(fitted, opinion()) if isinstance(fitted, Rung) else within_gates(fitted)
    return made(
        fitted.engine,
        panel,
        lead,
        began,
        failed(diagnostics),
        effects=effects_frame(rows),
        diagnostics=diagnostics,
        rung=fitted.words,
        rung_reason=fitted.reason if isinstance(fitted, Rung) else gate.sentence,
        tables=tables,
        settings=settings,
        notes=tuple(notes),
        columns=fitted.names,
        dropped=(*left, *fitted.dropped),
    )


def _known(panel: Panel, adjustment: str) -> bool:
    """True where the outcome that an adjustment holds equal is known at all; at lag 1 always, so that it is
    said why not."""
    held = held_column(panel.study.outcome, adjustment)
    return bool(panel.study.outcome.lag) or not held or bool(panel.frame[held].notna().any())


def _other_models(
    panel: Panel, kept: tuple[str, ...], every: Sequence[str], outcome: str, gate: Gate, slope: str
) -> tuple[list[_Model], list[str]]:
    """The other adjustment and the crude models; those that cannot be fitted become notes."""
    models: list[_Model] = []
    notes: list[str] = []
    for held, terms, adjustment in further(kept, every):
        try:
            d = design(panel, exposures=terms, pain_adjusted=held, outcome=outcome, adjustment=adjustment)
            one = _fit_one(d, terms, slope, gate)
            models.append(replace(one, fitted=replace(one.fitted, design=one.design.light())))
        except ModelError as error:
            which = {"adjustment": adjustment, "terms": ", ".join(terms), "held": held, "why": error.what}
            notes.append(said("note.no_model", label=panel.study.outcome.variable.label, **which))
    return models, notes


def _fit_one(d: Design, terms: tuple[str, ...], slope: str, gate: Gate) -> _Model:
    if gate.within_only:
        return _Model(fit_within(d), terms)
    has = any(slope == column for term in terms for _, column in levels(term, between=False))
    return _Model(climb(d, slope if has else ""), terms)


def _opinion(main: _Model, primary: str, helper: Executor | None) -> Callable[[], Agreement]:
    if isinstance(main.fitted, WithinFit) or not primary:
        return lambda: Agreement(None, said("second.no_primary"))
    return begin(helper, second_opinion, main.fitted, primary)


def _tables(
    panel: Panel, models: list[_Model], primary: str, rows: list[dict[str, Any]], seed: int
) -> dict[str, pd.DataFrame]:
    fitted, d, study = models[0].fitted, models[0].design, panel.study
    label, size = planned_contrast(study)
    columns = ((name, fitted.contrast(name)) for name in fitted.names)
    tables = {
        "coefficients": spread_table(columns, "name", ["estimate", "std_error", "df", "low", "high"]),
        "rungs": _rungs(models),
        "collinearity": collinearity(d),
    }
    if primary:
        tables["adjustments"] = _adjustments(panel, rows, label)
        both = (spread(*fitted.contrast(primary, s)) for s in (size, 2 * shown(d, primary)[1]))
        tables["reach"] = reach_table(d, primary, study, *both)
        tables["bootstrap"] = bootstrap(fitted, primary, size, seed=seed)
    prediction = predictive_value(panel, outcome=d.outcome, seed=seed)
    if len(prediction):
        tables["prediction"] = prediction
    if isinstance(fitted, Rung):
        tables["random_effects"] = random_effects(fitted)
        tables["variance"] = variance_split(fitted)
        if primary:
            warning = said("note.person_slopes")
            tables["people"] = person_slopes(fitted, primary).assign(warning=warning)
            tables["jackknife"] = jackknife(fitted, primary, size)
            tables["within"] = _beside(d, primary, size, label)
    return tables


def _rungs(models: list[_Model]) -> pd.DataFrame:
    made = ((m.terms, m.design, m.fitted.words, m.fitted.reason) for m in models)
    left = ["; ".join(f"{name}: {why}" for name, why in m.design.dropped) for m in models]
    return rung_table(made).assign(left_out=left)


def _adjustments(panel: Panel, rows: list[dict[str, Any]], label: str) -> pd.DataFrame:
    """The primary contrast, adjusted, under both pain adjustments, with what each would get wrong."""
    study, wrong = panel.study, "what_it_would_get_wrong"
    primary = study.variables[study.analysis.primary]
    exposure = "load" if primary.whole else primary.label
    words = {"label": study.outcome.variable.label, "exposure": exposure, "step": study.step}
    keep = "pain_adjusted primary contrast estimate std_error low high df n_people n_steps"
    picked = [
        {**r, wrong: said("note.adjustment", held=r["pain_adjusted"], **words)}
        for r in rows
        if (r["term"], r["adjustment"], r["contrast"]) == (panel.study.analysis.primary, "adjusted", label)
    ]
    return pd.DataFrame(picked, columns=[*keep.split(), wrong])


def _beside(d: Design, primary: str, size: float, label: str) -> pd.DataFrame:
    """The fixed-effects (CR2) estimate of the primary contrast, or why there is none."""
    try:
        found, reason = fit_fixed(d).contrast(primary, size), ""
    except (ModelError, ValueError) as error:
        found, reason = (np.nan, np.nan, np.nan), str(error)
    table = spread_table([(label, found)], "contrast", ["estimate", "std_error", "df", "low", "high"])
    return table.assign(n_people=d.n_people, n_steps=d.n_steps, reason=reason)
