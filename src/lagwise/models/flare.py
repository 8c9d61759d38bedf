"""Do load jumps precede flare-ups? Onset model, self-controlled model and the picture around onsets."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.effects import contrast_label, contrast_size, effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.gate import flare_gate, gate_for
from lagwise.core.results import Fit, Panel
from lagwise.models.aligned import aligned
from lagwise.models.clogit import BLOCK, ConditionalFit, fit_conditional, strata_of
from lagwise.models.design import Design, adjustments, available, design, left_out, primary_adjustment
from lagwise.models.flare_bias import RUNS, bias_at_this_size, mechanism, simulated_people
from lagwise.models.flare_rows import Z, conditional_rows, onset_rows, probabilities
from lagwise.models.gates import failed, gate_frame, gate_row
from lagwise.models.logistic import NODES, LogisticFit, Separated, fit_logistic
from lagwise.models.onsets import Counts, agreement, at_risk_panel, counts, definitions
from lagwise.models.predict import flare_prediction
from lagwise.models.rows import levels

PENALTY = 2.0
"""m of the log-F(m, m) penalty of the second rung: odds ratios per SD lie between 1/39 and 39 with
probability 0.95."""
PER_COLUMN = 5
"""Onsets per column below which the plain likelihood is not trusted."""
LARGE_OR = 3.0
"""An odds ratio per within-person SD beyond this is rare in prospective data and worth a second look at the
data."""

PREDICTED = 400
"""People in whom prediction is tried at most, evenly through the record; its limits tell what that leaves
open.
"""

LONG, FEWER_NODES = 20_000, 7
"""Steps from which this many quadrature points do: people who have many steps each, or who are many."""


@dataclass(frozen=True)
class _Onset:
    design: Design
    fit: LogisticFit
    terms: tuple[str, ...]
    rung: str
    reason: str


def fit_flares(
    panel: Panel,
    *,
    definition: str = "",
    exposures: Sequence[str] | None = None,
    pain_adjusted: str | None = None,
    block_steps: int = BLOCK,
    seed: int = 0,
    simulations: int = RUNS,
) -> Fit:
    """Fit the flare models of one definition and return their effect table.

    Engine 'flare': discrete-time onset model, logit P(onset at t + 1 | at risk at t) = the columns of the
    lagged mixed model + a normal person intercept, by adaptive Gauss-Hermite quadrature. A random intercept
    is used rather than one dummy per person because people without onsets then still count and the estimates
    do not carry the bias of many dummies; the self-controlled model beside it drops that normal assumption.
    Where there are fewer than 5 onsets per column the log-F(2, 2) penalised likelihood takes over, which
    keeps estimates finite and shrinks the bias away from 1 of sparse data.

    Engine 'clogit': conditional logistic regression within person and calendar block of `block_steps` steps.
    A step that an onset follows is compared with all steps of its block whose exposures and pain are known,
    before and after it, at risk or not, so that which steps they are does not depend on the onset.

    A column that separates onsets from other steps is penalised alone, and named; where there are fewer than
    5 onsets per column all are.

    Parameters
    ----------
    panel : Panel
        It is not changed.
    definition : str
        The outcome's name ('pain'), which is meant by '' as well: `flare_next`; or 'reported': the person's
        own word at the next step after a step not called a flare-up.
    exposures, pain_adjusted : as in `fit_mixed`
    block_steps : int
        Calendar steps per block of the self-controlled model.
    seed : int
        Of the bootstrap band and the simulation.
    simulations : int
        Simulated studies per truth in `bias_at_this_size`; 0 leaves that table out.

    Returns
    -------
    Fit
        `effects`: 'per unit' rows of every exposure, and the study's contrast for the primary exposure, as
        odds ratios (both engines) and as g-computed differences in the probability of an onset (engine
        'flare'), crude and adjusted, under both pain adjustments; the self-controlled model under the primary
        one. None is primary.

        `tables`: counts; agreement (of the two definitions); aligned (jumps around onsets); coefficients (of
        the adjusted model, log-odds); risk (probability of an onset at usual load, at the study's contrast,
        and the difference); rungs; bias_at_this_size; prediction (Brier scores in people left out);
        other_definition (the study's contrast under the other definition, or why there is none).

        With fewer than 10 onsets or 5 informative people there are no effects and `why_not` says so.

    Raises
    ------
    ModelError
        For an unknown definition or adjustment, and where the plan asks about the same step (lag 0).
    """
    began = time.perf_counter()
    if not panel.study.outcome.lag:
        raise ModelError(
            "flare-ups are looked for in the step that follows, and the plan asks about the same step",
            mend="Set lag = 1 under [analysis] to ask what comes before them.",
        )
    definition = definition or panel.study.outcome.name
    first = primary_adjustment(panel.study) if pain_adjusted is None else pain_adjusted
    every = adjustments(panel.study, first)
    risk_panel, outcome = at_risk_panel(panel, definition)
    wanted = tuple(dict.fromkeys(panel.study.analysis.exposures if exposures is None else exposures))
    kept, left = available(panel, wanted)
    settings: dict[str, Any] = {
        "definition": definition, "exposures": kept, "pain_adjusted": first, "block_steps": block_steps,
        "seed": seed, "simulations": simulations,
    }  # fmt: skip
    tables = {"agreement": agreement(panel)}
    why_not, lead = _may_fit(risk_panel, kept, first, outcome)
    tables["counts"] = _counts(lead, outcome)
    if why_not or lead is None:
        return Fit(
            "flare", outcome, effects_frame([]), gate_frame([]), usable=False, rung="not fitted",
            why_not=why_not, n_people=lead.n_people if lead else 0, n_steps=lead.n_steps if lead else 0,
            tables=tables, settings=settings, seconds=time.perf_counter() - began, step=panel.study.step,
            asked=panel.study.asked,
        )  # fmt: skip
    models, notes = _onset_models(risk_panel, kept, every, outcome, lead)
    notes = [*left_out((*left, *lead.dropped)), *notes]
    main = models[0]
    between = gate_for(main.design.n_people).between_claims
    rows = [
        row
        for m in models
        for row in onset_rows(
            m.design, m.fit, model=m.rung, terms=m.terms, study=panel.study, between=between
        )
    ]
    controlled, more, referents = _self_controlled(
        risk_panel, [m for m in models if m.design.pain_adjusted == first], block_steps
    )
    diagnostics = _gates(main)
    lost = failed(diagnostics)
    more_tables, simulated = _tables(panel, risk_panel, main, outcome, seed, simulations)
    tables |= more_tables
    people = main.design.n_people
    if simulated < people:
        notes.append(
            f"{simulated} people in each simulated study of these models, of {people}; the bias of all is "
            "smaller"
        )
    tables["referents"] = referents
    tables["rungs"] = pd.DataFrame(
        [
            (
                ", ".join(m.terms),
                m.design.adjustment,
                m.design.pain_adjusted,
                m.rung,
                m.reason,
                m.design.n_people,
                m.design.n_steps,
                int(m.design.y.sum()),
            )
            for m in models
        ],
        columns=[
            "exposures",
            "adjustment",
            "pain_adjusted",
            "rung",
            "reason",
            "n_people",
            "n_steps",
            "onsets",
        ],
    )
    tables["other_definition"] = _other(panel, definition, kept, first)
    prediction = flare_prediction(_some_people(panel), definition=definition, seed=seed)
    if len(prediction):
        tables["prediction"] = prediction
    return Fit(
        "flare", outcome, effects_frame([*rows, *controlled]), diagnostics, usable=not lost, rung=main.rung,
        rung_reason=main.reason, why_not=lost, n_people=main.design.n_people, n_steps=main.design.n_steps,
        tables=tables, settings=settings, notes=(*notes, *more), seconds=time.perf_counter() - began,
        step=panel.study.step, asked=panel.study.asked, columns=main.design.names,
        dropped=(*left, *main.design.dropped),
    )  # fmt: skip


def _some_people(panel: Panel) -> Panel:
    """The panel, or that of `PREDICTED` people of it."""
    people = panel.frame["person"].unique()
    if len(people) <= PREDICTED:
        return panel
    kept = people[np.linspace(0, len(people) - 1, PREDICTED).astype(int)]
    frame, blocks = (f[f["person"].isin(kept)].reset_index(drop=True) for f in (panel.frame, panel.blocks))
    return replace(panel, frame=frame, blocks=blocks)


def _may_fit(panel: Panel, kept: tuple[str, ...], pain: str, outcome: str) -> tuple[str, Design | None]:
    """Why no flare model may be fitted ('' when one may), and the adjusted design."""
    if not kept:
        return "none of the exposures is recorded", None
    try:
        lead = design(panel, exposures=kept, pain_adjusted=pain, outcome=outcome)
    except ModelError as error:
        return error.what, None
    c = counts(lead.person, lead.y)
    return _too_few(panel, c), lead


def _too_few(panel: Panel, c: Counts) -> str:
    return flare_gate(
        c.onsets, c.informative, "flare onset" if panel.study.outcome.name == "pain" else "onset"
    )


def _counts(lead: Design | None, outcome: str) -> pd.DataFrame:
    c = counts(lead.person, lead.y) if lead else counts(np.empty(0, dtype=int), np.empty(0))
    rows = [
        ("at_risk_steps", c.steps, "complete steps at risk of an onset"),
        ("onsets", c.onsets, f"of them followed by an onset ({outcome})"),
        ("people", c.people, "people with such steps"),
        ("informative_people", c.informative, "people with an onset and an at-risk step without one"),
    ]
    return pd.DataFrame(rows, columns=["quantity", "value", "meaning"])


def _onset_models(
    panel: Panel, kept: tuple[str, ...], every: Sequence[str], outcome: str, lead: Design
) -> tuple[list[_Onset], list[str]]:
    models, notes = [_onset(lead, kept)], []
    label = panel.study.outcome.variable.label
    for pain in every:
        for terms in (kept, *((term,) for term in kept)):
            crude = terms is not kept
            if pain == every[0] and not crude:
                continue
            adjustment = "crude" if crude else "adjusted"
            try:
                d = design(panel, exposures=terms, pain_adjusted=pain, outcome=outcome, adjustment=adjustment)
                c = counts(d.person, d.y)
                if why := _too_few(panel, c):
                    raise ModelError(why.rstrip("."))
                models.append(_onset(d, terms))
            except ModelError as error:
                notes.append(
                    f"{adjustment} onset model of {', '.join(terms)} with {label} {pain}: {error.what}"
                )
    return models, notes


def _onset(d: Design, terms: tuple[str, ...]) -> _Onset:
    onsets, k = int(d.y.sum()), len(d.names) - 1
    nodes = NODES if d.n_steps < LONG else FEWER_NODES
    if onsets < PER_COLUMN * k:
        reason = f"{onsets} onsets for {k} columns, fewer than {PER_COLUMN} each"
        fit = fit_logistic(d.y, d.X, d.person, penalty=PENALTY, nodes=nodes)
        return _Onset(d, fit, terms, _words(fit), reason)
    held: tuple[int, ...] = ()
    while True:
        try:
            fit = fit_logistic(d.y, d.X, d.person, penalty=PENALTY if held else 0.0, only=held, nodes=nodes)
            names = [d.names[i] for i in held]
            return _Onset(d, fit, terms, _words(fit, names), _separated_by(names))
        except Separated as error:
            held = tuple(sorted({*held, *(int(c) for c in error.columns)}))
        except ModelError as error:
            fit = fit_logistic(d.y, d.X, d.person, penalty=PENALTY, nodes=nodes)
            return _Onset(d, fit, terms, _words(fit), error.what)


def _separated_by(names: Sequence[str]) -> str:
    """Which columns separate, in words; empty when none does."""
    if not names:
        return ""
    verb = "separates" if len(names) == 1 else "separate"
    return f"{', '.join(names)} {verb} flare onsets from other steps; only there the penalty stands"


def _words(fit: LogisticFit, held: Sequence[str] = ()) -> str:
    none = " (variance 0)" if fit.tau == 0 else ""
    return f"onset model, person intercepts{none}" + _penalised(held if held else None if fit.penalty else ())


def _penalised(held: Sequence[str] | None) -> str:
    """', with a penalty' (on all columns), ', with a penalty on rested' or nothing."""
    return ", with a penalty" if held is None else f", with a penalty on {', '.join(held)}" if held else ""


def _self_controlled(
    panel: Panel, models: list[_Onset], block: int
) -> tuple[list[dict[str, Any]], list[str], pd.DataFrame]:
    """Rows, notes and counts of the self-controlled models that go with the onset models.

    Every step of the model's people with known exposures and pain is a referent, at risk or not and whatever
    followed: y is 1 where an onset follows, else 0.
    """
    rows: list[dict[str, Any]] = []
    notes: list[str] = []
    referents = []
    for m in models:
        label = f"{m.design.adjustment} self-controlled model of {', '.join(m.terms)}"
        try:
            d = referent_design(panel, m.design, m.terms)
            fit, model, reason = _conditional(d, block)
        except ModelError as error:
            notes.append(f"{label}: {error.what}")
            continue
        rows += conditional_rows(d, fit, model=model, terms=m.terms, study=panel.study)
        referents.append(
            (", ".join(m.terms), d.adjustment, fit.people, fit.strata, fit.events, fit.steps, model, reason)
        )
    columns = [
        "exposures",
        "adjustment",
        "informative_people",
        "informative_blocks",
        "onsets",
        "steps",
        "rung",
        "reason",
    ]
    return rows, notes, pd.DataFrame(referents, columns=columns)


def referent_design(panel: Panel, onset: Design, terms: Sequence[str]) -> Design:
    """The steps of the self-controlled model: 1 where an onset follows, 0 on every other step with known
    exposures and adjusted-for pain.

    Steps in a flare-up and steps whose next rating is lost stay: were they left out, which steps an onset is
    compared with would depend on that onset.
    """
    outcome = onset.outcome
    whole = replace(panel, frame=panel.frame.assign(**{outcome: panel.frame[outcome].eq(1).astype(float)}))
    return design(
        whole,
        exposures=terms,
        pain_adjusted=onset.pain_adjusted,
        outcome=outcome,
        adjustment=onset.adjustment,
    )


def _conditional(d: Design, block: int) -> tuple[ConditionalFit, str, str]:
    names = tuple(n for n in d.names if n not in ("intercept", "step") and not n.endswith("_between"))
    X = d.X[:, [d.names.index(n) for n in names]]
    stratum = strata_of(d.person, d.frame["step"].to_numpy(), block)
    words = "conditional logistic, person x block"
    held: tuple[str, ...] = ()
    while True:
        try:
            fit = fit_conditional(
                d.y, X, stratum, names, d.person, penalty=PENALTY if held else 0.0, only=held
            )
            break
        except Separated as error:
            held = tuple(n for n in names if n in {*held, *error.columns})
    if fit.events >= PER_COLUMN * len(fit.names):
        return fit, words + _penalised(held), _separated_by(held)
    reason = f"{fit.events} onsets for {len(fit.names)} columns, fewer than {PER_COLUMN} each"
    fit = fit_conditional(d.y, X, stratum, names, d.person, penalty=PENALTY)
    return fit, words + _penalised(None), reason


def _gates(main: _Onset) -> pd.DataFrame:
    d = main.design
    c = counts(d.person, d.y)
    # The odds ratio per within-person SD of every exposure column.
    within = d.X - pd.DataFrame(d.X).groupby(d.person).transform("mean").to_numpy()
    spread = within.std(axis=0)
    own = [i for i, n in enumerate(d.names) if n.endswith("_within") or n == "jump"]
    largest = float(np.exp(np.abs(main.fit.beta[own] * spread[own])).max()) if own else 1.0
    return gate_frame(
        [
            gate_row("onsets", c.onsets, ">= 10", True, "flare onsets in the adjusted model"),
            gate_row(
                "informative_people",
                c.informative,
                ">= 5",
                True,
                "people with an onset and an at-risk step without one",
            ),
            gate_row(
                "largest_odds_ratio_per_sd",
                largest,
                f"<= {LARGE_OR:g}",
                True if largest <= LARGE_OR else None,
                "largest odds ratio, or its inverse, per within-person SD; larger ones are rare in "
                "prospective data: look at the data again",
            ),
        ]
    )


def _tables(
    panel: Panel, risk_panel: Panel, main: _Onset, outcome: str, seed: int, simulations: int
) -> tuple[dict[str, pd.DataFrame], int]:
    """Tables of the main model, and how many people each simulated study has."""
    d, fit, study = main.design, main.fit, panel.study.analysis
    simulated = d.n_people
    errors = np.sqrt(np.diag(fit.cov))
    tables = {
        "coefficients": pd.DataFrame(
            [
                (n, b, s, b - Z * s, b + Z * s)
                for n, b, s in zip((*d.names, "person_sd"), (*fit.beta, fit.tau), errors, strict=True)
            ],
            columns=["name", "estimate", "std_error", "low", "high"],
        )
    }
    if "jump" in d.names:
        tables["aligned"] = aligned(risk_panel, outcome, seed)
        if simulations:
            estimate = float(np.clip(fit.beta[d.names.index("jump")], -5, 5))
            how = mechanism(
                risk_panel, outcome, float(fit.beta[0] + d.X[:, 1:].mean(axis=0) @ fit.beta[1:]), fit.tau
            )
            truths = {"no association": 0.0, "the association estimated": estimate}
            simulated = simulated_people(how)
            tables["bias_at_this_size"] = bias_at_this_size(how, truths, seed=seed, runs=simulations)
    column = levels(study.primary, between=False)[0][1]
    if column in d.names:
        values, ses = probabilities(d, fit, column, contrast_size(study.primary, study.primary_contrast))
        tables["risk"] = pd.DataFrame(
            [
                (what, v, max(0.0, v - Z * s) if i < 2 else v - Z * s, v + Z * s, label, study.primary)
                for i, (what, v, s, label) in enumerate(
                    zip(
                        ("reference", "contrast", "difference"),
                        values,
                        ses,
                        (
                            "usual load" if column == "jump" else "as observed",
                            *(contrast_label(study.primary, study.primary_contrast),) * 2,
                        ),
                        strict=True,
                    )
                )
            ],
            columns=["what", "probability", "low", "high", "at", "term"],
        )
    return tables, simulated


def _other(panel: Panel, definition: str, kept: tuple[str, ...], pain: str) -> pd.DataFrame:
    """The study's contrast under the other definition, or the reason why there is none."""
    other = next(d for d in definitions(panel.study) if d != definition)
    names = [
        "definition",
        "contrast",
        "odds_ratio",
        "low",
        "high",
        "onsets",
        "informative_people",
        "n_steps",
        "rung",
        "reason",
    ]
    study = panel.study.analysis
    label = contrast_label(study.primary, study.primary_contrast)
    risk_panel, outcome = at_risk_panel(panel, other)
    why_not, lead = _may_fit(risk_panel, kept, pain, outcome)
    if why_not or lead is None:
        return pd.DataFrame([(other, label, *(np.nan,) * 3, *_known(lead), "", why_not)], columns=names)
    try:
        m = _onset(lead, kept)
    except ModelError as error:
        return pd.DataFrame([(other, label, *(np.nan,) * 3, *_known(lead), "", error.what)], columns=names)
    rows = onset_rows(m.design, m.fit, model=m.rung, terms=(study.primary,), study=panel.study, between=False)
    row = next((r for r in rows if r["contrast"] == label and r["scale"] == "odds_ratio"), None)
    found = (row["estimate"], row["low"], row["high"]) if row else (np.nan,) * 3
    reason = m.reason if row else "the primary exposure is not in the model"
    return pd.DataFrame([(other, label, *found, *_known(lead), m.rung, reason)], columns=names)


def _known(lead: Design | None) -> tuple[int, int, int]:
    if lead is None:
        return 0, 0, 0
    c = counts(lead.person, lead.y)
    return c.onsets, c.informative, c.steps
