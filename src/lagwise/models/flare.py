"""Do load jumps precede flare-ups? Onset model, self-controlled model and the picture around onsets."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.effects import effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.core.terms import whole
from lagwise.core.variable import JUMP
from lagwise.core.words import turns
from lagwise.models.aligned import aligned
from lagwise.models.clogit import BLOCK
from lagwise.models.design import (
    Design,
    adjustments,
    asked_for,
    available,
    design,
    left_out,
    primary_adjustment,
)
from lagwise.models.flare_bias import RUNS, bias_at_this_size, mechanism, simulated_people
from lagwise.models.flare_fit import Onset, onset_model, onset_models, self_controlled, too_few
from lagwise.models.flare_rows import Z, onset_rows, probabilities
from lagwise.models.gates import failed, gate_frame, gate_row, made
from lagwise.models.onsets import Counts, agreement, at_risk_panel, counts, definitions
from lagwise.models.predict import flare_prediction
from lagwise.models.rows import column_of, planned_contrast, rung_table
from lagwise.panel.arrays import evenly

LARGE_OR = 3.0
"""An odds ratio per within-person SD beyond this is rare in prospective data and worth a second look at the
data."""

PREDICTED = 400
"""People in whom prediction is tried at most, evenly through the record; its limits tell what that leaves
open.
"""


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

    Examples
    --------
    >>> import lagwise as lw
    >>> flares = lw.fit_flares(panel, simulations=0)
    >>> flares.tables["counts"]["quantity"].tolist()
    ['at_risk_steps', 'onsets', 'people', 'informative_people']
    """
    began = time.perf_counter()
    asked, step = panel.study.outcome, panel.study.step
    if not asked.lag:
        raise ModelError(
            f"{turns(asked.variable)[1]} are looked for in the {step} that follows, and the plan asks about "
            f"the same {step}",
            mend="Set lag = 1 under [analysis] to ask what comes before them.",
        )
    if block_steps < 1:
        raise ModelError(f"block_steps is {block_steps}", mend="Give a whole number from 1 on.")
    definition = definition or panel.study.outcome.name
    first = primary_adjustment(panel.study) if pain_adjusted is None else pain_adjusted
    every = adjustments(panel.study, first)
    risk_panel, outcome = at_risk_panel(panel, definition)
    wanted = asked_for(panel, exposures)
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
    models, notes = onset_models(risk_panel, kept, every, outcome, lead)
    notes = [*left_out((*left, *lead.dropped), panel.study), *notes]
    main = models[0]
    between = gate_for(main.design.n_people).between_claims
    rows = [
        row
        for m in models
        for row in onset_rows(
            m.design, m.fit, model=m.rung, terms=m.terms, study=panel.study, between=between
        )
    ]
    controlled, more, referents = self_controlled(
        risk_panel, [m for m in models if m.design.pain_adjusted == first], block_steps
    )
    diagnostics = _gates(main)
    more_tables, simulated = _tables(panel, risk_panel, main, outcome, seed, simulations)
    tables |= more_tables
    people = main.design.n_people
    if simulated < people:
        notes.append(said("note.simulated", simulated=simulated, people=people))
    tables["referents"] = referents
    tables["rungs"] = rung_table((m.terms, m.design, m.rung, m.reason) for m in models).assign(
        onsets=[int(m.design.y.sum()) for m in models]
    )
    tables["other_definition"] = _other(panel, definition, kept, first)
    prediction = flare_prediction(_some_people(panel), definition=definition, seed=seed)
    if len(prediction):
        tables["prediction"] = prediction
    return made(
        "flare", panel, main.design, began, failed(diagnostics), effects=effects_frame([*rows, *controlled]),
        diagnostics=diagnostics, rung=main.rung, rung_reason=main.reason, tables=tables, settings=settings,
        notes=(*notes, *more), columns=main.design.names, dropped=(*left, *main.design.dropped),
    )  # fmt: skip


def _some_people(panel: Panel) -> Panel:
    """The panel, or that of `PREDICTED` people of it."""
    people = panel.frame["person"].unique()
    if len(people) <= PREDICTED:
        return panel
    kept = people[evenly(len(people), PREDICTED)]
    frame, blocks = (f[f["person"].isin(kept)].reset_index(drop=True) for f in (panel.frame, panel.blocks))
    return replace(panel, frame=frame, blocks=blocks)


def _may_fit(panel: Panel, kept: tuple[str, ...], pain: str, outcome: str) -> tuple[str, Design | None]:
    """Why no flare model may be fitted ('' when one may), and the adjusted design."""
    if not kept:
        return said("not_fitted.no_exposures"), None
    try:
        lead = design(panel, exposures=kept, pain_adjusted=pain, outcome=outcome)
    except ModelError as error:
        return error.what, None
    c = counts(lead.person, lead.y)
    return too_few(panel, c), lead


def _counts(lead: Design | None, outcome: str) -> pd.DataFrame:
    rows = [(name, n, said(f"means.{name}", outcome=outcome)) for name, n in _known(lead).items()]
    return pd.DataFrame(rows, columns=["quantity", "value", "meaning"])


def _known(lead: Design | None) -> dict[str, int]:
    """How much there is of a design's at-risk steps; nothing without one."""
    c = counts(lead.person, lead.y) if lead else Counts(0, 0, 0, 0)
    size = {"at_risk_steps": c.steps, "onsets": c.onsets}
    return size | {"people": c.people, "informative_people": c.informative}


def _gates(main: Onset) -> pd.DataFrame:
    d, known = main.design, _known(main.design)
    # The odds ratio per within-person SD of every exposure column.
    within = d.X - pd.DataFrame(d.X).groupby(d.person).transform("mean").to_numpy()
    spread = within.std(axis=0)
    own = [i for i, n in enumerate(d.names) if n.endswith("_within") or whole(n)]
    largest = float(np.exp(np.abs(main.fit.beta[own] * spread[own])).max()) if own else 1.0
    usual = True if largest <= LARGE_OR else None
    people, odds = said("means.informative_people"), said("gate.odds")
    return gate_frame(
        [
            gate_row("onsets", known["onsets"], ">= 10", True, said("gate.onsets")),
            gate_row("informative_people", known["informative_people"], ">= 5", True, people),
            gate_row("largest_odds_ratio_per_sd", largest, f"<= {LARGE_OR:g}", usual, odds),
        ]
    )


def _tables(
    panel: Panel, risk_panel: Panel, main: Onset, outcome: str, seed: int, simulations: int
) -> tuple[dict[str, pd.DataFrame], int]:
    """Tables of the main model, and how many people each simulated study has."""
    d, fit, study = main.design, main.fit, panel.study.analysis
    simulated = d.n_people
    told, errors = np.array([*fit.beta, fit.tau]), np.sqrt(np.diag(fit.cov))
    limits = {"low": told - Z * errors, "high": told + Z * errors}
    own = {"name": (*d.names, "person_sd"), "estimate": told, "std_error": errors}
    tables = {"coefficients": pd.DataFrame(own | limits)}
    if JUMP in d.names:
        tables["aligned"] = aligned(risk_panel, outcome, seed)
        if simulations:
            estimate = float(np.clip(fit.beta[d.names.index(JUMP)], -5, 5))
            how = mechanism(
                risk_panel, outcome, float(fit.beta[0] + d.X[:, 1:].mean(axis=0) @ fit.beta[1:]), fit.tau
            )
            truths = {"no association": 0.0, "the association estimated": estimate}
            simulated = simulated_people(how)
            tables["bias_at_this_size"] = bias_at_this_size(how, truths, seed=seed, runs=simulations)
    column, (label, size) = column_of(study.primary), planned_contrast(panel.study)
    if column in d.names:
        values, errors = probabilities(d, fit, column, size)
        low, high = values - Z * errors, values + Z * errors
        start = "usual load" if whole(column) else "as observed"
        tables["risk"] = pd.DataFrame(
            {
                "what": ["reference", "contrast", "difference"], "probability": values,
                "low": [*np.maximum(0.0, low[:2]), low[2]], "high": high, "at": [start, label, label],
                "term": study.primary,
            }
        )  # fmt: skip
    return tables, simulated


def _other(panel: Panel, definition: str, kept: tuple[str, ...], pain: str) -> pd.DataFrame:
    """The study's contrast under the other definition, or the reason why there is none."""
    other = next(d for d in definitions(panel.study) if d != definition)
    label, (risk_panel, outcome) = planned_contrast(panel.study)[0], at_risk_panel(panel, other)
    reason, lead = _may_fit(risk_panel, kept, pain, outcome)
    found, rung = dict.fromkeys(("estimate", "low", "high"), np.nan), ""
    if lead is not None and not reason:
        try:
            m = onset_model(lead, kept)
            rung, reason, terms = m.rung, m.reason, (panel.study.analysis.primary,)
            rows = onset_rows(m.design, m.fit, model=rung, terms=terms, study=panel.study, between=False)
            told = [r for r in rows if r["contrast"] == label and r["scale"] == "odds_ratio"]
            found, reason = (told[0], reason) if told else (found, said("challenge.no_primary"))
        except ModelError as error:
            reason = error.what
    known = _known(lead)
    row = {
        "definition": other, "contrast": label, "odds_ratio": found["estimate"], "low": found["low"],
        "high": found["high"], "onsets": known["onsets"], "informative_people": known["informative_people"],
        "n_steps": known["at_risk_steps"], "rung": rung, "reason": reason,
    }  # fmt: skip
    return pd.DataFrame([row])
