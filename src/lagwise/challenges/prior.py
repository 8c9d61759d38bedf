"""How much the Bayesian answer leans on its prior: power-scaling, and the model sampled anew with half and double width."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import side
from lagwise.challenges.phrases import capital, exposure_name, fixed, interval, listed, places, stays, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Fit, Picture
from lagwise.models.priors import Priors

NAME = "prior"
TITLE = "Prior"
QUESTION = "Would a narrower or wider prior have read the records alike?"
LIMITS = (
    "It moves the widths of the priors that were used, not their shape or centre. It speaks of the ordinal "
    "Bayesian model alone; the primary answer comes from the mixed model, which has no prior."
)
SENSITIVE = 0.05
USABLE = 0.7
"""Pareto k above which reweighted draws are not to be relied on."""
WIDTHS = {0.5: "half as wide", 2.0: "twice as wide"}
DRAWS, TUNE, CHAINS = 1000, 500, 2
"""Draws kept and thrown away per chain, and chains, of a model sampled anew."""


@dataclass(frozen=True)
class Answered:
    """The contrast under priors `width` times as wide, in points; `reliable` when it can be relied on, `how` it was found when not by sampling anew."""

    width: float
    estimate: float
    low: float
    high: float
    reliable: bool = True
    how: str = ""


def run(context: Context) -> Challenge:
    """Power-scaling sensitivity of the primary contrast (in points) of the ordinal model to the prior of all coefficients and scales (Kallioinen et al. 2024, doi:10.1007/s11222-023-10366-5),
    and its interval from the model sampled anew with all of these priors half and twice as wide (1000 draws in each of 2 chains). Where the chains of such a fit fail their gates for the differences in points, the draws at hand are
    reweighted instead (Pareto-smoothed importance weights, the prior of the primary exposure alone), and the sentence says so.

    Verdict: does_not_hold when half or double width moves the interval to another side of 0 (or on to it), by chains that pass their gates or weights with Pareto k at most 0.7; holds when neither does, both so
    founded, and the sensitivity is at most 0.05; else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    if context.bayes is None or not context.bayes.usable or context.bayes.posterior is None:
        raise _no_fit(context)
    fit, name = context.bayes, f"{p.term} {p.label}"
    difference, coefficient, logs = draws_of(fit, name, p.column)
    sensitivity = power_scaling(difference, logs)
    low, high = (float(v) for v in np.quantile(difference, [0.025, 0.975]))
    own = Answered(1.0, float(difference.mean()), low, high)
    found = [asked(context, fit, name, w, difference, coefficient) for w in WIDTHS]
    verdict = judged(own, found, sensitivity)
    decimals = places(low, high)
    reading = {
        "holds": "The answer leans little on the prior." + stays(side(low, high)),
        "does_not_hold": "The reading depends on the width of the priors.",
        "cannot_tell": "The reading stays, but the answer leans on the priors."
        if all(v.reliable for v in found)
        else "The answer could not be asked again reliably enough to tell.",
    }[verdict]
    texts = [f"{fixed(v.estimate, decimals)} points ({interval(v.low, v.high, decimals)})" for v in (own, *found)]
    again = [f"{WIDTHS[v.width]} {t}{f' ({v.how})' if v.how else ''}" for v, t in zip(found, texts[1:], strict=True)]
    sentence = (
        f"In the ordinal model the difference is {texts[0]}; with all priors {listed(again)}. Its power-scaling sensitivity to the "
        f"priors is {sensitivity:.3f} (above {SENSITIVE:g} counts as sensitive; {fit.n_people} people, {fit.n_steps} person-{step}s). {reading}"
    )
    labels = {1.0: "priors as they are"} | {w: f"priors {words}" for w, words in WIDTHS.items()}
    rows = [row(f"difference: {labels[v.width]}", v.estimate, "points", v.low, v.high) for v in (own, *found)]
    rows.append(row("power-scaling sensitivity to the priors", sensitivity, ""))
    ordered = sorted((own, *found), key=lambda v: v.width)
    picture = Picture(
        "intervals",
        "The Bayesian answer with narrower and wider priors",
        pd.DataFrame(
            [(labels[v.width], v.estimate, v.low, v.high, "", v.width == 1.0) for v in ordered],
            columns=["label", "estimate", "low", "high", "group", "primary"],
        ),
        f"difference in pain, points, {p.label} {exposure_name(p)}",
        "",
        capital("; ".join(f"{labels[v.width]}: {t}" for v, t in zip((own, *found), texts, strict=True)) + "."),
        {"reference": 0, "subtitle": f"{fit.n_people} people, {fit.n_steps} person-{step}s"},
    )
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def _no_fit(context: Context) -> ModelError:
    """Why there are no draws: the reason of the fit that was made, or that none was asked for."""
    if context.bayes is not None:
        return ModelError(
            f"the Bayesian model is not usable: {(context.bayes.why_not or 'its draws were not kept').rstrip('.')}"
        )
    if context.quick:
        return ModelError("no Bayesian model was fitted in this quick run", mend="Run the report without --quick.")
    return ModelError("no Bayesian model was given", mend="Pass the result of fit_ordinal as bayes.")


def judged(own: Answered, found: list[Answered], sensitivity: float) -> str:
    """The verdict from the answer as it is, those under other widths, and the power-scaling sensitivity."""
    turned = [side(v.low, v.high) != side(own.low, own.high) for v in found]
    if any(t for t, v in zip(turned, found, strict=True) if v.reliable):
        return "does_not_hold"
    good = not any(turned) and all(v.reliable for v in found) and sensitivity <= SENSITIVE
    return "holds" if good else "cannot_tell"


def asked(
    context: Context, fit: Fit, contrast: str, width: float, difference: np.ndarray, coefficient: np.ndarray
) -> Answered:
    """The contrast with all priors `width` times as wide: sampled anew, else by reweighting (chain, draw) draws."""
    from lagwise.models.diagnose import gates, why_not
    from lagwise.models.ordinal import fit_ordinal

    p, priors = context.primary, Priors(**fit.settings["priors"])
    seed = int(context.seed_of(NAME).generate_state(1)[0])
    again = fit_ordinal(
        context.panel, exposures=p.exposures, pain_adjusted=p.pain_adjusted, draws=DRAWS, tune=TUNE, chains=CHAINS, seed=seed,
        priors=priors.scaled(width),
    )  # fmt: skip
    failed = again.why_not if again.posterior is None else why_not(gates(again.posterior, ["difference"]))
    if not failed:
        values = again.posterior["posterior"]["difference"].sel(contrast=contrast).values
        low, high = np.quantile(values, [0.025, 0.975])
        return Answered(width, float(values.mean()), float(low), float(high))
    mean, low, high, k = reweighted(difference, coefficient, priors.of(p.column), width)
    how = f"by reweighting for its own prior alone, since the {failed}; Pareto k {k:.2f}"
    return Answered(width, mean, low, high, k <= USABLE, how)


def draws_of(fit: Fit, contrast: str, column: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(chain, draw) draws of the contrast in points, of the standardised coefficient, and of the log prior of coefficients and scales."""
    posterior = fit.posterior["posterior"]
    priors = Priors(**fit.settings["priors"])
    if contrast not in posterior["contrast"].values or column not in posterior["column"].values:
        raise ModelError("the Bayesian fit does not hold the primary contrast")
    beta = posterior["beta"].transpose("chain", "draw", "column").values
    sds = np.array([priors.of(str(c)) for c in posterior["column"].values])
    logs = normal_log_density(beta, sds).sum(axis=2)
    for name, scale in (("sd_intercept", priors.intercept_sd), ("sd_slope", priors.slope_sd)):
        if name in posterior:
            logs = logs + normal_log_density(posterior[name].values, scale) + np.log(2)
    return (
        posterior["difference"].sel(contrast=contrast).transpose("chain", "draw").values,
        posterior["beta"].sel(column=column).transpose("chain", "draw").values,
        logs,
    )


def normal_log_density(x: np.ndarray, sd: np.ndarray | float) -> np.ndarray:
    """Log density of a normal of mean 0; with log 2 added, of a half-normal where x is not negative."""
    return np.asarray(-0.5 * (x / sd) ** 2 - np.log(sd) - 0.5 * np.log(2 * np.pi))


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

    ratio = normal_log_density(coefficient, prior_sd * width) - normal_log_density(coefficient, prior_sd)
    smoothed: Any
    smoothed, k = array_stats.psislw(-ratio.ravel())  # it takes log densities to divide by
    weight = np.exp(np.asarray(smoothed) - np.max(smoothed))
    weight /= weight.sum()
    order = np.argsort(difference.ravel())
    values, cumulated = difference.ravel()[order], np.cumsum(weight[order])
    low, high = (float(values[min(len(values) - 1, int(np.searchsorted(cumulated, q)))]) for q in (0.025, 0.975))
    return float(weight @ difference.ravel()), low, high, float(k)
