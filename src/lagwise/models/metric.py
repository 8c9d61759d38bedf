"""Student-t model of the next step's rating as if ratings were measurements: a comparator for the ordinal
model."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.effects import PER_UNIT, effects_frame
from lagwise.core.results import Fit, Panel
from lagwise.models.contrasts import coefficient_rows, point_contrasts, posterior_row, spans_table
from lagwise.models.design import Design, design, left_out
from lagwise.models.diagnose import gates, why_not
from lagwise.models.gates import made, refused
from lagwise.models.ordinal import not_possible
from lagwise.models.ordinal_summary import PREDICTED
from lagwise.models.priors import DEFAULT, Priors, Standardised, column_scale, prior_table, standardise
from lagwise.models.rows import common
from lagwise.models.sampling import TARGET_ACCEPT, Chains, Progress, again_if_divergent

LOGISTIC_SD = np.pi / np.sqrt(3)
REPORTED = ("beta", "sd_intercept", "sigma", "nu")


def fit_metric(
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
    """Student-t model of the plan's outcome on the columns of the ordinal model.

    pain_next ~ t(nu, eta, sigma) with eta = a + X b + u_i + v_i jump. Priors are those of the ordinal model
    with one log-odds unit taken as s / 1.81 points, s the within-person SD of the outcome and 1.81 the SD of
    the logistic distribution; a ~ N(5, 3), sigma ~ half-normal(2 points) on a scale of 0-10 and in proportion
    on others, nu ~ gamma(2, 0.1). Metric models of ratings ignore floor, ceiling and unequal steps and can
    mislead (Liddell & Kruschke 2018, doi:10.1016/j.jesp.2018.08.009): read it beside the ordinal model, not
    instead.

    Parameters are those of `lagwise.models.ordinal.fit_ordinal`.

    Returns
    -------
    Fit
        engine 'metric'. `effects`: 'per unit' rows in points for every exposure and level, the primary
        contrast and 'per SD' rows in points. `tables`: scales (quantity, mean, low, high, unit) and priors
        (`lagwise.models.priors.prior_table`). `posterior`: DataTree with prior, predictive draws of both,
        log_likelihood, log_prior, observed_data and X, as ArviZ takes them. Not usable, with `why_not`, in
        the same cases as the ordinal model.

    Raises
    ------
    ModelError
        When no row is complete.

    Examples
    --------
    >>> import lagwise as lw
    >>> from dataclasses import replace
    >>> of_one = replace(panel, frame=panel.frame.head(12))
    >>> lw.fit_metric(of_one).why_not  # doctest: +ELLIPSIS
    '1 person has enough recorded for the main question; ... needs at least 10 people.'
    """
    began = time.perf_counter()
    data = design(panel, exposures=exposures, pain_adjusted=pain_adjusted)
    how = Chains(draws, tune, chains, seed, target_accept, progress)
    settings = how.settings(priors, data.pain_adjusted)
    problem = not_possible(data, "metric")
    if problem:
        return refused("metric", data, problem, settings=settings)
    import nutpie

    columns = standardise(data, priors)
    model = metric_model(data, columns, priors)
    compiled = nutpie.compile_pymc_model(model)
    run = again_if_divergent(
        lambda target, span: how.follow(compiled, target, span),
        lambda tree: int(tree["sample_stats"]["diverging"].values.sum()),
        first=target_accept,
    )
    posterior = _for_arviz(run.draws, model, data, columns, seed)
    settings["target_accept"] = run.target
    slopes = columns.slope is not None
    diagnostics = gates(posterior, (*REPORTED, *(("sd_slope",) if slopes else ())))
    problem = why_not(diagnostics, run.target)
    rung = said("model.metric", slopes=slopes)
    return made(
        "metric",
        panel,
        data,
        began,
        problem,
        effects=_effects(data, columns, posterior, panel, rung),
        diagnostics=diagnostics,
        rung=rung,
        rung_reason=run.reason,
        tables={
            "scales": _scales(posterior, slopes),
            "priors": prior_table(data, columns, priors, column_scale(data.y, data) / LOGISTIC_SD),
        },
        settings=settings,
        notes=left_out(data.dropped, data.study),
        columns=data.names,
        dropped=data.dropped,
        posterior=posterior,
    )


def _for_arviz(draws: Any, model: Any, data: Design, columns: Standardised, seed: int) -> Any:
    """The draws with what ArviZ asks of them: log likelihood, log prior, predictions and what went before."""
    from pymc import sample_prior_predictive, stats

    for add in (stats.compute_log_likelihood, stats.compute_log_prior):
        draws = add(draws, model=model, progressbar=False)
    at = {name: values.values for name, values in draws["posterior"].data_vars.items()}
    level, sd, nu, sigma = (at[name][..., None] for name in ("intercept", "sd_intercept", "nu", "sigma"))
    eta = level + at["beta"] @ columns.X.T + (sd * at["z_intercept"])[..., data.person]
    if columns.slope is not None:
        eta += (at["sd_slope"][..., None] * at["z_slope"])[..., data.person] * columns.slope
    likely = draws["log_likelihood"].dataset
    said = eta + sigma * np.random.default_rng(seed).standard_t(nu, eta.shape)
    draws["posterior_predictive"] = likely.assign({data.outcome: (("chain", "draw", "step"), said)})
    before = sample_prior_predictive(
        PREDICTED, model=model, random_seed=seed, compile_kwargs={"mode": "FAST_COMPILE"}
    )
    return draws.assign(before.children)


def metric_model(data: Design, columns: Standardised, priors: Priors) -> Any:
    """The PyMC model, for sampling or to be looked at."""
    import pymc as pm

    unit, scale = column_scale(data.y, data) / LOGISTIC_SD, data.asked.scale
    step = [f"{p}:{int(s)}" for p, s in zip(data.frame["person"], data.frame["step"], strict=True)]
    coords = {"coefficient": list(columns.names), "person": list(data.people), "step": step}
    with pm.Model(coords=coords) as model:
        level = pm.Normal("intercept", float(data.asked.variable.low or 0.0) + 5.0 * scale, 3.0 * scale)
        beta = pm.Normal("beta", 0.0, columns.prior_sd * unit, dims="coefficient")
        sd_intercept = pm.HalfNormal("sd_intercept", priors.intercept_sd * unit)
        z = pm.ZeroSumNormal("z_intercept", dims="person")
        X = pm.Data("X", columns.X, dims=("step", "coefficient"))
        eta = level + pm.math.dot(X, beta) + sd_intercept * z[data.person]
        if columns.slope is not None:
            sd_slope = pm.HalfNormal("sd_slope", priors.slope_sd * unit)
            eta = eta + sd_slope * pm.Normal("z_slope", dims="person")[data.person] * columns.slope
        pm.StudentT(
            data.outcome,
            nu=pm.Gamma("nu", 2.0, 0.1),
            mu=eta,
            sigma=pm.HalfNormal("sigma", 2.0 * scale),
            observed=data.y,
            dims="step",
        )
    return model


def _effects(data: Design, columns: Standardised, posterior: Any, panel: Panel, rung: str) -> pd.DataFrame:
    shared = common("metric", rung, data)
    beta = posterior["posterior"]["beta"].transpose("chain", "draw", "coefficient").values
    rows = coefficient_rows(columns, beta, "points", shared, panel.study)
    for contrast in point_contrasts(data, columns, panel.study):
        if contrast.label == PER_UNIT:
            continue
        at = columns.names.index(contrast.column)
        size = (contrast.compared - (contrast.reference or 0.0)) / columns.scale[at]
        numbers = posterior_row(beta[..., at] * size, points=panel.study)
        rows.append({**shared, **contrast.named, "scale": "points", **numbers})
    return effects_frame(rows)


def _scales(posterior: Any, slopes: bool) -> pd.DataFrame:
    points, draws = "points", posterior["posterior"]
    named = [
        (said("quantity.residual_scale"), draws["sigma"].values, points),
        (said("quantity.residual_df"), draws["nu"].values, ""),
        (said("quantity.intercepts"), draws["sd_intercept"].values, points),
    ]
    if slopes:
        named.append((said("quantity.slopes"), draws["sd_slope"].values, said("unit.points_per_sd")))
    return spans_table(named)
