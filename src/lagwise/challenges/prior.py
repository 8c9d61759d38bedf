"""How much the Bayesian answer leans on its prior: power-scaling, and the answer under half and double
width.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lagwise.challenges.context import Context, Found, intervals
from lagwise.challenges.estimate import middle, side
from lagwise.core.claim import Measured, said
from lagwise.core.errors import ModelError
from lagwise.core.results import Fit
from lagwise.models.priors import Priors

NAME = "prior"
HERE = True
SENSITIVE = 0.05
USABLE = 0.7
"""Pareto k above which reweighted draws are not to be relied on."""
WIDTHS = {0.5: "half", 2.0: "twice"}
DRAWS, TUNE, CHAINS = 1000, 500, 2
"""Draws kept and thrown away per chain, and chains, of a model sampled anew."""


@dataclass(frozen=True)
class Answered:
    """The contrast under priors `width` times as wide, in points; `reliable` when it can be relied on. `k` is
    the Pareto k of the draws at hand reweighted, and the answer theirs up to `USABLE`; beyond it the model
    was sampled anew, unless `failed` says why those chains are not used either.
    """

    width: float
    estimate: float
    low: float
    high: float
    k: float = 0.0
    failed: str = ""

    @property
    def reliable(self) -> bool:
        """Whether the weights or the chains can be relied on."""
        return not self.failed


def run(context: Context) -> Found:
    """Power-scaling sensitivity of the primary contrast (in points) of the ordinal model to the prior of all
    coefficients and scales (Kallioinen et al. 2024, doi:10.1007/s11222-023-10366-5), and its interval with
    all of these priors half and twice as wide, by Pareto-smoothed importance weights of the draws at hand
    (Vehtari et al. 2024, arXiv:1507.02646). Where their Pareto k is above 0.7 the model is sampled anew (1000
    draws in each of 2 chains); where those chains fail their gates for the differences in points, the weights
    stay, and the sentence says so.

    Verdict: does_not_hold when half or double width moves the interval to another side of 0 (or on to it), by
    weights with Pareto k at most 0.7 or chains that pass their gates; holds when neither does, both so
    founded, and the sensitivity is at most 0.05; else cannot_tell.
    """
    p = context.primary
    if context.bayes is None or not context.bayes.usable or context.bayes.posterior is None:
        raise _no_fit(context)
    fit, name = context.bayes, f"{p.term} {p.label}"
    difference, logs = draws_of(fit, name)
    sensitivity = power_scaling(difference, logs)
    own = Answered(1.0, float(difference.mean()), *middle(difference))
    found = [asked(context, fit, name, w, difference, logs) for w in WIDTHS]
    verdict = judged(own, found, sensitivity)
    reason = "clear" if side(own.low, own.high) else "includes_0"
    if verdict == "cannot_tell":
        reason = "leans" if all(v.reliable for v in found) else "unreliable"
    answers = {
        key: Measured(v.estimate, context.unit, v.low, v.high, fit.n_people, fit.n_steps)
        for key, v in zip(("own", *WIDTHS.values()), (own, *found), strict=True)
    }
    claim = context.claim(
        NAME,
        verdict,
        reason,
        **answers,
        sensitivity=Measured(sensitivity, ""),
        **{f"{WIDTHS[v.width]}_k": Measured(v.k, "", told=False) for v in found},
        **{f"{WIDTHS[v.width]}_failed": v.failed for v in found if v.failed},
    )
    return Found(claim, intervals(claim, "half", "own", "twice", primary="own"))


def _no_fit(context: Context) -> ModelError:
    """Why there are no draws: the reason of the fit that was made, or that none was asked for."""
    if context.bayes is not None:
        why = context.bayes.why_not or said("challenge.no_draws")
        return ModelError(f"the Bayesian model is not usable: {why.rstrip('.')}")
    if not context.quick:
        return ModelError("no Bayesian model was given", mend="Pass the result of fit_ordinal as bayes.")
    return ModelError(said("challenge.quick"), mend="Run the report without --quick.")


def judged(own: Answered, found: list[Answered], sensitivity: float) -> str:
    """The verdict from the answer as it is, those under other widths, and the power-scaling sensitivity."""
    turned = [side(v.low, v.high) != side(own.low, own.high) for v in found]
    if any(t for t, v in zip(turned, found, strict=True) if v.reliable):
        return "does_not_hold"
    good = not any(turned) and all(v.reliable for v in found) and sensitivity <= SENSITIVE
    return "holds" if good else "cannot_tell"


def asked(
    context: Context, fit: Fit, contrast: str, width: float, difference: np.ndarray, logs: np.ndarray
) -> Answered:
    """The contrast with all priors `width` times as wide: (chain, draw) draws reweighted, else sampled
    anew.
    """
    from lagwise.models.diagnose import gates, why_not
    from lagwise.models.ordinal import fit_ordinal

    weighted = reweighted(difference, logs, width)
    if weighted.k <= USABLE:
        return weighted
    p, priors = context.primary, Priors(**fit.settings["priors"])
    seed = int(context.seed_of(NAME).generate_state(1)[0])
    again = fit_ordinal(
        context.panel,
        exposures=p.exposures,
        pain_adjusted=p.pain_adjusted,
        draws=DRAWS,
        tune=TUNE,
        chains=CHAINS,
        seed=seed,
        priors=priors.scaled(width),
    )
    failed = again.why_not if again.posterior is None else why_not(gates(again.posterior, ["difference"]))
    if failed:
        return replace(weighted, failed=failed)
    values = again.posterior["posterior"]["difference"].sel(contrast=contrast).values
    return Answered(width, float(values.mean()), *middle(values), weighted.k)


def draws_of(fit: Fit, contrast: str) -> tuple[np.ndarray, np.ndarray]:
    """(chain, draw) draws of the contrast in points, and of the log prior of coefficients and scales."""
    posterior, priors = fit.posterior["posterior"], Priors(**fit.settings["priors"])
    if contrast not in posterior["contrast"].values:
        raise ModelError("the Bayesian fit does not hold the primary contrast")
    beta = posterior["beta"].transpose("chain", "draw", "coefficient").values
    asked = fit.outcome.removesuffix("_next")
    sds = np.array([priors.of(str(c), (asked, f"{asked}_before")) for c in posterior["coefficient"].values])
    logs = normal_log_density(beta, sds).sum(axis=2)
    for name, scale in (("sd_intercept", priors.intercept_sd), ("sd_slope", priors.slope_sd)):
        if name in posterior:
            logs = logs + normal_log_density(posterior[name].values, scale) + np.log(2)
    return posterior["difference"].sel(contrast=contrast).transpose("chain", "draw").values, logs


def normal_log_density(x: np.ndarray, sd: np.ndarray | float) -> np.ndarray:
    """Log density of a normal of mean 0; with log 2 added, of a half-normal where x is not negative."""
    return np.asarray(-0.5 * (x / sd) ** 2 - np.log(sd) - 0.5 * np.log(2 * np.pi))


def power_scaling(difference: np.ndarray, log_prior: np.ndarray) -> float:
    """Power-scaling sensitivity of (chain, draw) draws to a prior with these log densities, by ArviZ."""
    import arviz as az
    from arviz_stats import psense

    tree = az.from_dict({"posterior": {"difference": difference}, "log_prior": {"all": log_prior}})
    return float(psense(tree, var_names=["difference"], group="prior")["difference"])


def reweighted(difference: np.ndarray, log_prior: np.ndarray, width: float) -> Answered:
    """The draws with all priors `width` times as wide. Normal priors around 0 that are w times as wide are
    the same ones to the power of 1 / w^2, up to a constant: the log weights are (1 / w^2 - 1) log prior.
    """
    from arviz_stats.base import array_stats

    smoothed: Any
    smoothed, k = array_stats.psislw(
        -(width**-2 - 1) * log_prior.ravel()
    )  # it takes log densities to divide by
    weight = np.exp(np.asarray(smoothed) - np.max(smoothed))
    weight /= weight.sum()
    order = np.argsort(difference.ravel())
    values, cumulated = difference.ravel()[order], np.cumsum(weight[order])
    low, high = (
        float(values[min(len(values) - 1, int(np.searchsorted(cumulated, q)))]) for q in (0.025, 0.975)
    )
    return Answered(width, float(weight @ difference.ravel()), low, high, float(k))
