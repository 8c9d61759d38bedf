"""Cumulative-logit model of the next step's rating with person intercepts and slopes of jump, sampled with
NUTS."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.effects import effects_frame
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.models.design import Design, design, left_out
from lagwise.models.diagnose import gates, why_not
from lagwise.models.ordinal_draws import OrdinalModel, ordinal_model
from lagwise.models.ordinal_summary import summarise
from lagwise.models.priors import DEFAULT, Priors
from lagwise.models.sampling import TARGET_ACCEPT, Progress, again_if_divergent, sample

RUNG = "cumulative logit, person intercepts and slopes of jump"
RUNG_WITHOUT_LOAD = "cumulative logit, person intercepts"
SAMPLING_SHARE = 0.8


def fit_ordinal(
    panel: Panel,
    *,
    exposures: Sequence[str] | None = None,
    pain_adjusted: str | None = None,
    draws: int = 1000,
    tune: int = 500,
    chains: int = 4,
    seed: int = 1,
    priors: Priors = DEFAULT,
    target_accept: float = TARGET_ACCEPT,
    progress: Progress | None = None,
) -> Fit:
    """Ordinal Bayesian model of the plan's outcome.

    P(Y <= k) = logistic(c_k - eta) for the rating Y (pain_next), with levels k that are the whole points of
    its scale where it has 3 to 11 of them (0-10, 1-5), else 11 levels from end to end (0-100: 0, 10 .. 100)
    to which ratings are rounded, half up; eta = X b + u_i + v_i jump: the columns X of the mixed model in SD
    units (`standardise`), person intercepts u_i ~ N(0, s_u) that sum to zero and person slopes v_i ~ N(0,
    s_v). Priors in `Priors`. Cumulative-logit models of ratings: Liddell & Kruschke 2018
    (doi:10.1016/j.jesp.2018.08.009); NUTS: Hoffman & Gelman 2014.

    Parameters
    ----------
    panel : Panel
    exposures, pain_adjusted : as in `lagwise.models.design.design`
    draws, tune, chains : draws kept and thrown away per chain, and chains
    seed : the same seed gives the same numbers on the same machine
    priors : Priors
    target_accept : target acceptance of the first run; where a transition diverges the model is sampled again
        at 0.99
    progress : callable, optional
        Called with the share done and what is being done.

    Returns
    -------
    Fit
        `effects`: 'per unit' rows on the log-odds scale for every exposure and level; the primary contrast in
        points, in the probability of a rise of at least flare_rise over the usual rating (outcome flare_next,
        among trained steps at risk; not at lag 0) and in the probability of the lowest rating (outcome
        pain_zero_next); 'per SD' rows in points. Points and probabilities are averages of predictions over
        the observed person-steps, person effects included (g-computation). `tables`: absolute_risk, people,
        scales, ppc, prior_predictive (see `summarise`). `posterior`: DataTree with named dimensions, which
        ArviZ takes as it is (forest plots, `az.loo`, `az.compare`, `az.psense_summary`): posterior, prior,
        predictive draws of both, log_prior and, up to 10 million draws times person-steps, log_likelihood.
        Not usable, with `why_not` in words, when people are too few, ratings do not vary or a gate on the
        chains fails.

    Raises
    ------
    ModelError
        When no row is complete.
    """
    began = time.perf_counter()
    data = design(panel, exposures=exposures, pain_adjusted=pain_adjusted)
    settings = {
        "draws": draws,
        "tune": tune,
        "chains": chains,
        "seed": seed,
        "pain_adjusted": data.pain_adjusted,
        "target_accept": target_accept,
        "priors": {k: getattr(priors, k) for k in priors.__dataclass_fields__},
    }
    problem = not_possible(data, "ordinal")
    if problem:
        return refused("ordinal", data, problem, settings)
    model = ordinal_model(data, priors)
    rung = RUNG if model.layout.slopes else RUNG_WITHOUT_LOAD

    def draw(target: float, span: tuple[float, float]) -> tuple[np.ndarray, dict[str, np.ndarray]]:
        return sample(
            model.layout.size, model.arguments, model.start(), draws=draws, tune=tune, chains=chains, seed=seed, target_accept=target,
            progress=progress, span=span,
        )  # fmt: skip

    run = again_if_divergent(
        draw, lambda r: int(r[1]["diverging"].sum()), first=target_accept, end=SAMPLING_SHARE
    )
    vectors, stats = run.draws
    settings["target_accept"] = run.target
    if progress is not None:
        progress(SAMPLING_SHARE, "averaging predictions over the observed person-steps")
    result = summarise(model, panel.study, model.unpack(vectors), stats, rung=rung, seed=seed)
    diagnostics = gates(result.posterior, result.reported)
    problem = why_not(diagnostics, run.target)
    return Fit(
        engine="ordinal",
        outcome=data.outcome,
        effects=result.effects,
        diagnostics=diagnostics,
        usable=not problem,
        why_not=problem,
        rung=rung,
        rung_reason="; ".join(
            r for r in ("" if model.layout.slopes else "no load jump in the design", run.reason) if r
        ),
        n_people=data.n_people,
        n_steps=data.n_steps,
        tables=result.tables,
        settings=settings,
        notes=notes(model, data),
        posterior=result.posterior,
        seconds=time.perf_counter() - began,
        step=panel.study.step,
        asked=panel.study.asked,
        columns=data.names,
        dropped=data.dropped,
    )


def not_possible(data: Design, engine: str) -> str:
    """Empty when a Bayesian fit can be made of a design; else why not, in words."""
    gate = gate_for(data.n_people)
    if not gate.mixed:
        return f"{gate.sentence} The {engine} model needs at least 10 people."
    if np.ptp(data.y) == 0:
        label = data.asked.variable.label
        if data.asked.lag:
            return f"every complete step is followed by the same {label} ({data.y[0]:g}), so there is nothing to explain"
        return f"{label} is {data.y[0]:g} in every complete step, so there is nothing to explain"
    return ""


def refused(engine: str, data: Design, problem: str, settings: dict[str, Any]) -> Fit:
    """A Fit without numbers that says why there are none."""
    return Fit(
        engine=engine,
        outcome=data.outcome,
        effects=effects_frame([]),
        diagnostics=pd.DataFrame(columns=["gate", "value", "limit", "passed", "meaning"]),
        usable=False,
        why_not=problem,
        rung="not fitted",
        n_people=data.n_people,
        n_steps=data.n_steps,
        settings=settings,
        asked=(data.asked.variable,),
    )


def notes(model: OrdinalModel, data: Design) -> tuple[str, ...]:
    """What a reader of the ordinal fit should know: how ratings were rounded, categories nobody used, columns
    left out."""
    values, step = model.levels.values, model.levels.step
    unused = [f"{value:g}" for value in values[model.counts == 0]]
    out = []
    if step != 1:
        out.append(
            f"Ratings were rounded to the nearest of {len(values)} levels, {values[0]:g} to {values[-1]:g} in steps of {step:g}."
        )
    if unused:
        out.append(
            f"Nobody gave the ratings {', '.join(unused)} here; their place rests on the prior of the cutpoints."
        )
    return (*out, *left_out(data.dropped))
