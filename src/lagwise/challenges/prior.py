"""How much the Bayesian answer leans on its prior: power-scaling, and half and double width by reweighting."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import side
from lagwise.challenges.phrases import capital, fixed, interval, places, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Fit, Picture
from lagwise.models.priors import Priors

NAME = "prior"
TITLE = "Prior"
QUESTION = "Would a narrower or wider prior have read the records alike?"
LIMITS = (
    "It moves the widths of the priors that were used, not their shape or centre, and by reweighting the draws at hand rather than sampling anew. It speaks of the ordinal "
    "Bayesian model alone; the primary answer comes from the mixed model, which has no prior."
)
SENSITIVE = 0.05
USABLE = 0.7
"""Pareto k above which reweighted draws are not to be relied on."""
WIDTHS = (0.5, 2.0)


def run(context: Context) -> Challenge:
    """Power-scaling sensitivity of the primary contrast (in points) of the ordinal model to the prior of all coefficients and scales (Kallioinen et al. 2024, doi:10.1007/s11222-023-10366-5),
    and its interval with the primary exposure's own prior half and twice as wide, from Pareto-smoothed importance weights.

    Verdict: does_not_hold when half or double width moves the interval to another side of 0 (or on to it) with Pareto k at most 0.7; holds when neither does, both
    with k at most 0.7, and the sensitivity is at most 0.05; else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    if context.bayes is None or context.bayes.posterior is None:
        raise ModelError("there is no usable Bayesian fit", mend="Run the report without --quick.")
    fit = context.bayes
    difference, coefficient, logs = _draws(fit, f"{p.term} {p.label}", p.column)
    prior_sd = Priors(**fit.settings["priors"]).of(p.column)
    sensitivity = power_scaling(difference, logs)
    low, high = (float(v) for v in np.quantile(difference, [0.025, 0.975]))
    found = [(1.0, float(difference.mean()), low, high, 0.0)]
    for width in WIDTHS:
        found.append((width, *reweighted(difference, coefficient, prior_sd, width)))
    turned = [side(a, b) != side(low, high) for _, _, a, b, k in found[1:] if k <= USABLE]
    reliable = all(k <= USABLE for *_, k in found)
    verdict = "does_not_hold" if any(turned) else "holds" if reliable and sensitivity <= SENSITIVE else "cannot_tell"
    decimals = places(low, high)
    reading = {
        "holds": "The answer leans little on the prior.",
        "does_not_hold": "The reading depends on the width of the prior.",
        "cannot_tell": "The answer leans on the prior, or the draws cannot be reweighted that far.",
    }[verdict]
    texts = [f"{fixed(v, decimals)} points ({interval(a, b, decimals)})" for _, v, a, b, _ in found]
    sentence = (
        f"In the ordinal model the difference is {texts[0]}; with the prior of its coefficient half as wide {texts[1]}, twice as wide {texts[2]}. Its power-scaling sensitivity to all "
        f"priors is {sensitivity:.3f} (above {SENSITIVE:g} counts as sensitive; {fit.n_people} people, {fit.n_steps} person-{step}s). {reading}"
    )
    labels = {0.5: "prior half as wide", 1.0: "prior as it is", 2.0: "prior twice as wide"}
    rows = [row(f"difference: {labels[w]}", v, "points", a, b) for w, v, a, b, _ in found]
    rows += [row(f"Pareto k: {labels[w]}", k, "") for w, *_, k in found[1:]]
    rows.append(row("power-scaling sensitivity to the priors", sensitivity, ""))
    picture = Picture(
        "intervals",
        "The Bayesian answer with narrower and wider priors",
        pd.DataFrame(
            [(labels[w], v, a, b, "", w == 1.0) for w, v, a, b, _ in sorted(found)],
            columns=["label", "estimate", "low", "high", "group", "primary"],
        ),
        f"difference in pain, points, per {p.label}",
        "",
        capital("; ".join(f"{labels[w]}: {t}" for (w, *_), t in zip(found, texts, strict=True)) + "."),
        {"reference": 0, "subtitle": f"{fit.n_people} people, {fit.n_steps} person-{step}s"},
    )
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def _draws(fit: Fit, contrast: str, column: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(chain, draw) draws of the contrast in points, of the standardised coefficient, and of the log prior of coefficients and scales."""
    posterior = fit.posterior["posterior"]
    priors = Priors(**fit.settings["priors"])
    if contrast not in posterior["contrast"].values or column not in posterior["column"].values:
        raise ModelError("the Bayesian fit does not hold the primary contrast")
    beta = posterior["beta"].transpose("chain", "draw", "column").values
    sds = np.array([priors.of(str(c)) for c in posterior["column"].values])
    logs = stats.norm.logpdf(beta, scale=sds).sum(axis=2)
    for name, scale in (("sd_intercept", priors.intercept_sd), ("sd_slope", priors.slope_sd)):
        if name in posterior:
            logs = logs + stats.halfnorm.logpdf(posterior[name].values, scale=scale)
    return (
        posterior["difference"].sel(contrast=contrast).transpose("chain", "draw").values,
        posterior["beta"].sel(column=column).transpose("chain", "draw").values,
        logs,
    )


def power_scaling(difference: np.ndarray, log_prior: np.ndarray) -> float:
    """Power-scaling sensitivity of (chain, draw) draws to a prior with these log densities, by ArviZ."""
    import arviz as az
    from arviz_stats import psense

    tree = az.from_dict({"posterior": {"difference": difference}, "log_prior": {"all": log_prior}})
    return float(psense(tree, var_names=["difference"], group="prior")["difference"])


def reweighted(
    difference: np.ndarray, coefficient: np.ndarray, prior_sd: float, width: float
) -> tuple[float, float, float, float]:
    """Mean, limits and Pareto k of the draws with the coefficient's normal prior `width` times as wide."""
    from arviz_stats.base import array_stats

    ratio = stats.norm.logpdf(coefficient, scale=prior_sd * width) - stats.norm.logpdf(coefficient, scale=prior_sd)
    smoothed: Any
    smoothed, k = array_stats.psislw(-ratio.ravel())  # it takes log densities to divide by
    weight = np.exp(np.asarray(smoothed) - np.max(smoothed))
    weight /= weight.sum()
    order = np.argsort(difference.ravel())
    values, cumulated = difference.ravel()[order], np.cumsum(weight[order])
    low, high = (float(values[min(len(values) - 1, int(np.searchsorted(cumulated, q)))]) for q in (0.025, 0.975))
    return float(weight @ difference.ravel()), low, high, float(k)
