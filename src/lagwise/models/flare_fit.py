"""The two likelihoods of flare-ups: the onset model with person intercepts and the self-controlled one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from lagwise.core.claim import said
from lagwise.core.errors import ModelError
from lagwise.core.gate import flare_gate
from lagwise.core.results import Panel
from lagwise.models.clogit import ConditionalFit, fit_conditional, strata_of
from lagwise.models.design import Design, design, further
from lagwise.models.flare_rows import conditional_rows
from lagwise.models.logistic import NODES, LogisticFit, Separated, fit_logistic
from lagwise.models.onsets import Counts, counts

PENALTY = 2.0
"""m of the log-F(m, m) penalty of the second rung: odds ratios per SD lie between 1/39 and 39 with
probability 0.95."""
PER_COLUMN = 5
"""Onsets per column below which the plain likelihood is not trusted."""
LONG, FEWER_NODES = 20_000, 7
"""Steps from which this many quadrature points do: people who have many steps each, or who are many."""


@dataclass(frozen=True)
class Onset:
    """A fitted onset model with its design, its exposures, the rung reached and why."""

    design: Design
    fit: LogisticFit
    terms: tuple[str, ...]
    rung: str
    reason: str


def too_few(panel: Panel, c: Counts) -> str:
    """Why so few onsets allow no model, '' where they do."""
    if flare_gate(c.onsets, c.informative):
        return ""
    flares = panel.study.outcome.variable.flares
    return said("gate.few_onsets", onsets=c.onsets, people=c.informative, flares=flares)


def onset_models(
    panel: Panel, kept: tuple[str, ...], every: Sequence[str], outcome: str, lead: Design
) -> tuple[list[Onset], list[str]]:
    """The adjusted model, every further adjustment and crude model that can be made, and notes on the
    others.
    """
    models, notes = [onset_model(lead, kept)], []
    label = panel.study.outcome.variable.label
    for pain, terms, adjustment in further(kept, every):
        try:
            d = design(panel, exposures=terms, pain_adjusted=pain, outcome=outcome, adjustment=adjustment)
            if why := too_few(panel, counts(d.person, d.y)):
                raise ModelError(why.rstrip("."))
            models.append(onset_model(d.light(), terms))
        except ModelError as error:
            notes.append(f"{adjustment} onset model of {', '.join(terms)} with {label} {pain}: {error.what}")
    return models, notes


def onset_model(d: Design, terms: tuple[str, ...]) -> Onset:
    """The plain likelihood where the onsets carry it, else with the penalty on what needs it."""
    onsets, k = int(d.y.sum()), len(d.names) - 1
    nodes = NODES if d.n_steps < LONG else FEWER_NODES
    if onsets < PER_COLUMN * k:
        reason = f"{onsets} onsets for {k} columns, fewer than {PER_COLUMN} each"
        fit = fit_logistic(d.y, d.X, d.person, penalty=PENALTY, nodes=nodes)
        return Onset(d, fit, terms, _words(fit), reason)
    held: tuple[int, ...] = ()
    while True:
        try:
            fit = fit_logistic(d.y, d.X, d.person, penalty=PENALTY if held else 0.0, only=held, nodes=nodes)
            names = [d.names[i] for i in held]
            return Onset(d, fit, terms, _words(fit, names), _separated_by(names))
        except Separated as error:
            held = tuple(sorted({*held, *(int(c) for c in error.columns)}))
        except ModelError as error:
            fit = fit_logistic(d.y, d.X, d.person, penalty=PENALTY, nodes=nodes)
            return Onset(d, fit, terms, _words(fit), error.what)


def _separated_by(names: Sequence[str]) -> str:
    """Which columns separate, in words; empty when none does."""
    return said("rung.separates", names=names) if names else ""


def _words(fit: LogisticFit, held: Sequence[str] = ()) -> str:
    penalised = _penalised(held if held else None if fit.penalty else ())
    return said("model.flare", zero=fit.tau == 0, penalised=penalised)


def _penalised(held: Sequence[str] | None) -> str:
    """', with a penalty' (on all columns), ', with a penalty on rested' or nothing."""
    return ", with a penalty" if held is None else f", with a penalty on {', '.join(held)}" if held else ""


def self_controlled(
    panel: Panel, models: list[Onset], block: int
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
    names = "exposures adjustment informative_people informative_blocks onsets steps rung reason"
    return rows, notes, pd.DataFrame(referents, columns=names.split())


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
    words = said("model.clogit")
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
