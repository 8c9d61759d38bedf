"""Cumulative-logit model of the next step's rating with person intercepts and slopes of jump, sampled with
NUTS."""

from __future__ import annotations

import time
from collections.abc import Sequence

import numpy as np

from lagwise.core.claim import said
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.models.design import Design, design, left_out
from lagwise.models.diagnose import gates, why_not
from lagwise.models.gates import made, refused
from lagwise.models.ordinal_draws import OrdinalModel, ordinal_model
from lagwise.models.ordinal_summary import summarise
from lagwise.models.priors import DEFAULT, Priors
from lagwise.models.sampling import TARGET_ACCEPT, Chains, Progress, again_if_divergent, sample

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
        scales, ppc, prior_predictive, priors (see `summarise`). `posterior`: DataTree with named dimensions,
        which ArviZ takes as it is (forest plots, `az.loo`, `az.compare`, `az.psense_summary`): posterior,
        prior, predictive draws of both, log_prior and, up to 10 million draws times person-steps,
        log_likelihood; beyond that ratings are predicted of 400 draws. Not usable, with `why_not` in words,
        when people are too few, ratings do not vary or a gate on the chains fails.

    Raises
    ------
    ModelError
        When no row is complete.

    Examples
    --------
    >>> import lagwise as lw
    >>> fit = lw.fit_ordinal(panel, draws=100, tune=100, chains=2)
    >>> fit.posterior["posterior"]["beta"].dims
    ('chain', 'draw', 'coefficient')
    >>> "log_likelihood" in fit.posterior
    True
    """
    began = time.perf_counter()
    data = design(panel, exposures=exposures, pain_adjusted=pain_adjusted)
    how = Chains(draws, tune, chains, seed, target_accept, progress)
    settings = how.settings(priors, data.pain_adjusted)
    problem = not_possible(data, "ordinal")
    if problem:
        return refused("ordinal", data, problem, settings=settings)
    model = ordinal_model(data, priors)
    size, slopes = model.layout.size, model.layout.slopes
    rung = said("model.ordinal", slopes=slopes)
    run = again_if_divergent(
        lambda target, span: sample(size, model.arguments, model.start(), how, target, span),
        lambda found: int(found[1]["diverging"].sum()),
        first=target_accept,
        end=SAMPLING_SHARE,
    )
    vectors, stats = run.draws
    settings["target_accept"] = run.target
    if progress is not None:
        progress(SAMPLING_SHARE, said("progress.averaging"))
    result = summarise(model, panel.study, model.unpack(vectors), stats, rung=rung, seed=seed)
    diagnostics = gates(result.posterior, result.reported)
    problem = why_not(diagnostics, run.target)
    reasons = ("" if slopes else said("rung.no_jump"), run.reason)
    return made(
        "ordinal",
        panel,
        data,
        began,
        problem,
        effects=result.effects,
        diagnostics=diagnostics,
        rung=rung,
        rung_reason="; ".join(reason for reason in reasons if reason),
        tables=result.tables,
        settings=settings,
        notes=notes(model, data),
        posterior=result.posterior,
        columns=data.names,
        dropped=data.dropped,
    )


def not_possible(data: Design, engine: str) -> str:
    """Empty when a Bayesian fit can be made of a design; else why not, in words."""
    gate, asked = gate_for(data.n_people), data.asked
    if not gate.mixed:
        return said("not_fitted.few_for_engine", gate=gate.sentence, engine=engine)
    if np.ptp(data.y):
        return ""
    told = {"label": asked.variable.label, "value": data.y[0], "later": bool(asked.lag)}
    return said("not_fitted.one_rating", **told, step=data.study.step)


def notes(model: OrdinalModel, data: Design) -> tuple[str, ...]:
    """What a reader of the ordinal fit should know: how ratings were rounded, categories nobody used, columns
    left out."""
    values, step = model.levels.values, model.levels.step
    unused = ", ".join(f"{value:g}" for value in values[model.counts == 0])
    ends = {"count": len(values), "low": values[0], "high": values[-1]}
    rounded = (said("note.rounded", step=step, **ends),) if step != 1 else ()
    empty = (said("note.unused", ratings=unused),) if unused else ()
    return (*rounded, *empty, *left_out(data.dropped, data.study))
