"""What is said of a fit, by reason code: why there is none, why this model, what is left out, and gates."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from lagwise.core.claim import Said
from lagwise.core.gate import MIN_FLARE_ONSETS, MIN_FLARE_PEOPLE
from lagwise.core.numbers import fixed, plural, significant, span, whole
from lagwise.core.words import capital, on


def _people(people: int) -> str:
    return plural(people, "person", "people")


def _few(sentence: str, what: str) -> str:
    return f"{sentence} {what} at least 10 people."


def _ladder(slope: str, structure: str, zero: bool) -> str:
    none = " (variance 0)" if zero else ""
    slopes = f" and {slope} slopes, {structure}" if slope else ""
    return f"mixed model, person intercepts{none}{slopes}"


def _near(own: str, beside: str, near: bool, times: float) -> str:
    meaning = f"largest correlation within people between exposures, of {own} and {beside}"
    if not near:
        return meaning
    cost = f"the standard error of {own} is {times:.1f} times that of an exposure unrelated to the others"
    return f"{meaning}: near-collinear, {cost}; one hardly ever changed while the other stayed"


def _ratings(ratings: str) -> str:
    return f"The ratings {ratings} are" if "," in ratings else f"The rating {ratings} is"


def _second(text: str) -> Callable[..., str]:
    """What a second opinion came to, and of whom where it was asked of some people alone."""

    def form(people: int = 0, of: int = 0, **numbers: Any) -> str:
        some = f"both fitted to {whole(people)} of the {whole(of)} people" if of else ""
        return "; ".join(part for part in (some, text.format(**numbers)) if part)

    return form


def _wrong(held: str, label: str, exposure: str, step: str) -> str:
    pulled = "where people train less when it hurts, the difference is pulled down"
    if exposure != "load" or label != "pain":
        pulled = "the difference is pulled to that side"
    return WRONG[held].format(
        label=label, Label=capital(label), exposure=exposure, step=step, on=on(step), pulled=pulled
    )


def _diverged(count: float, target: float | None) -> str:
    at = "" if target is None else f" at a target acceptance of {target:g}"
    return f"{_transitions(count)} of the sampler diverged{at} (needed: none)"


def _again(target: float, before: float, lost: int) -> str:
    why = f"{_transitions(lost)} diverged at {before:g}"
    return f"sampled again at a target acceptance of {target:g}, since {why}"


def _transitions(count: float) -> str:
    return "1 transition" if count == 1 else f"{count:.0f} transitions"


def _gate_failed(gate: str, value: float | None, limit: str) -> str:
    found = "cannot be computed" if value is None else f"is {value:.4g}"
    return f"{CHAINS[gate]} {found} (needed: {limit})"


WRONG = {
    "before": "{Label} before the {step} leaves in whatever the {step}'s own {label} did to {exposure}: "
    "{pulled}.",
    "during": "{Label} of the {step} takes away whatever part of {exposure}'s association runs through "
    "{label} {on} the same {step}: the difference may be pulled towards 0.",
    "none": "With nothing earlier held equal, whatever of the {step}'s {label} was there before counts as "
    "if it had followed.",
}
CHAINS = {
    "rhat": "largest R-hat",
    "ess_bulk": "smallest bulk effective sample size",
    "ess_tail": "smallest tail effective sample size",
    "divergences": "number of transitions that diverged",
    "bfmi": "smallest BFMI",
}


HARDLY = {
    "few_change": "hardly varies within people",
    "few_steps": "hardly varies within people",
    "few_means": "hardly varies between people",
}
"""How a column that varies too little is told, by which its code is found again in a file."""


def why_left_out(why: str) -> str:
    """Code of why a column is in no model: its claim's; of fits and findings from files by their words."""
    return why.claim.reason if isinstance(why, Said) else _LEFT_OUT.get(why.partition(":")[0], why)


def _enough(may: str) -> Callable[..., str]:
    apart = "differences between people"

    def told(people: int) -> str:
        who = f"{_people(people)} {'has' if people == 1 else 'have'}"
        return f"{who} enough recorded for the main question; {may.format(apart=apart)}."

    return told


def _few_onsets(onsets: int, people: int, flares: bool) -> str:
    called = plural(onsets, "flare onset" if flares else "onset")
    return (
        f"{called} in {plural(people, 'informative person', 'informative people')} with all that is held "
        f"equal known; a flare model needs {MIN_FLARE_ONSETS} onsets and {MIN_FLARE_PEOPLE} people."
    )


TEXTS: Mapping[str, str | Callable[..., str]] = {
    # Columns that are not in a model.
    "column.not_recorded": "not recorded",
    "column.still": "does not vary",
    "column.still_within": "does not vary within people",
    "column.mixture": "is a mixture of the other columns",
    "column.few_people": "is not told with this few people",
    "column.few_change": lambda people, needed: (
        f"{HARDLY['few_change']}: it changes in {_people(people)}, and at least {needed} are needed"
    ),
    "column.few_steps": lambda steps, needed, step: (
        f"{HARDLY['few_steps']}: it lies away from the person's median {on(step)} {plural(steps, step)}, "
        f"and at least {needed} are needed"
    ),
    "column.few_means": lambda people, needed: (
        f"{HARDLY['few_means']}: the mean of {_people(people)} differs from the rest, and at least "
        f"{needed} are needed"
    ),
    "column.still_in_blocks": "does not vary within informative blocks",
    "column.left_out": "{column} left out: {why}",
    "never_known.nothing": "no rating of {label} was recorded",
    "never_known.rating": lambda label, step, **_: (
        f"no rating of {label} is followed by one {on(step)} the next {step}"
    ),
    "never_known.flare_next": "after no {step} at risk does a rating tell whether a {turn} began",
    "never_known.flare_reported_next": lambda step, **_: (
        f"no {step} is followed by one {on(step)} which people said whether it was a flare-up"
    ),
    "never_known.outcome": "{outcome} is never known",
    # Models that were reached, and why not a fuller one.
    "model.none": "not fitted",
    "model.mixed": _ladder,
    "model.within": "within-person model, CR2 variance clustered on people",
    "model.fixed": "each person against their own means (fixed effects), CR2 variance",
    "model.dose": "{mixed}; natural cubic spline of jump, 3 interior knots",
    "model.lags": "person intercepts, smooth distributed lags of load, CR2 variance",
    "model.ordinal": lambda slopes: (
        "cumulative logit, person intercepts" + (" and slopes of jump" if slopes else "")
    ),
    "model.metric": lambda slopes: "Student-t, person intercepts" + (" and slopes of jump" if slopes else ""),
    "rung.no_slopes": "no person slopes: {column} {why}",
    "rung.left": "{structure} slopes left: {why}",
    "rung.mixtures": "the columns are too nearly mixtures of one another",
    "rung.no_slope_variance": "the variance of slopes runs to 0",
    "rung.no_intercept_variance": "the variance of intercepts runs to 0",
    "rung.correlation": "the correlation of slopes and intercepts runs to {sign:+.0f}",
    "rung.hessian": "the Hessian is not positive definite",
    "rung.search": "the search did not converge",
    "rung.no_jump": "no load jump in the design",
    "rung.again": _again,
    # Why there is no fit, or none that is usable.
    "not_fitted.few_for_engine": lambda gate, engine: _few(gate, f"The {engine} model needs"),
    "not_fitted.few_for_dose": lambda gate: _few(gate, "The dose-response curve needs"),
    "not_fitted.few_for_lags": lambda gate: _few(gate, "Distributed lags need"),
    "not_fitted.few_spare": "everything is known together in {steps} person-{step}s, and with these people "
    "and exposures a model takes {needed}",
    "not_fitted.no_jump": "no load jump varies in the usable {step}s",
    "not_fitted.no_lags": "no {step} has known loads {lags} {step}s back",
    "not_fitted.few_with_lags": lambda people, lags, step: (
        f"{step}s with known loads {lags} {step}s back are those of {_people(people)}; 10 are needed"
    ),
    "not_fitted.lags_alike": "the lags of load cannot be told apart in these {step}s",
    "not_fitted.one_value": "{outcome} is {value:g} for every usable {step}, so there is nothing to explain",
    "not_fitted.one_rating": lambda label, value, later, step: (
        f"every complete {step} is followed by the same {label} ({value:g}), so there is nothing to explain"
        if later
        else f"{label} is {value:g} {on(step)} every complete {step}, so there is nothing to explain"
    ),
    "not_fitted.few_knots": "load jumps take too few different values to place five knots",
    "not_fitted.spline_mixed": "the spline's columns are mixtures of the other columns",
    "not_usable.rougher": "the data ask for rougher lags than the grid of smoothness values holds",
    "not_usable.search": "the search for the variances did not converge",
    "not_usable.gate": lambda gate: f"failed: {gate.replace('_', ' ')}",
    "not_usable.chains": _gate_failed,
    "not_usable.diverged": _diverged,
    # What a reader should know of it.
    "note.same_step_before": "The {label} of the same {step} is explained, so it cannot be held equal to "
    "itself: {label} before it is.",
    "note.same_step_none": "The {label} of the same {step} is explained, and hardly known before it, so no "
    "earlier {label} is held equal.",
    "note.no_primary": "{label}, which the plan asks about, is not in the model",
    "note.no_model": "{adjustment} model of {terms} with {label} {held}: {why}",
    "note.lags": "Lags above 0 are what earlier load adds at the same {label} now. What of {label} "
    "had followed by now is adjusted away. So the curve shows delayed, not total, associations.",
    "note.rounded": "Ratings were rounded to the nearest of {count} levels, {low:g} to {high:g} in steps of "
    "{step:g}.",
    "note.unused": lambda ratings: (
        f"{_ratings(ratings)} not among those modelled; "
        f"{'their' if ',' in ratings else 'its'} place rests on the prior of the cutpoints."
    ),
    "note.person_slopes": "Slopes of single people are uncertain and drawn towards the caseload's; they "
    "rank nobody and say nothing about what a person should do.",
    "note.adjustment": _wrong,
    # What so many people allow.
    "gate.describe": _enough("below 5 the caseload is described and nothing is estimated"),
    "gate.exploratory": _enough("with 5 to 9 the estimates are within-person and exploratory"),
    "gate.small": _enough(
        "with 10 to 29 small-sample inference is used and nothing is claimed about {apart}"
    ),
    "gate.full": _enough("from 30 on, cautious statements about {apart} are made"),
    "gate.few_onsets": _few_onsets,
    # What each gate asks.
    "gate.converged": "the search for the variances ended at a stationary point",
    "gate.hessian": "smallest eigenvalue of the deviance's Hessian: the point found is a minimum",
    "gate.skewness": "shape of the residuals: 0 is symmetric",
    "gate.kurtosis": "shape of the residuals: 0 is normal, more is heavy-tailed",
    "gate.outlier": lambda far: (
        "largest person effect in its own SDs"
        + (": one person lies far from the others; see the estimates without each person" if far else "")
    ),
    "gate.second": lambda instead: (
        "difference from statsmodels in standard errors of the primary coefficient"
        + (f", {instead}" if instead else "")
    ),
    "gate.not_comparable": "not comparable: {why}",
    "gate.near": _near,
    "gate.none_near": "no two exposures vary within people",
    "gate.grid": "posterior weight at the end of the grid of smoothness values",
    "gate.rhat": "the chains agree: largest R-hat of ranks over the reported quantities",
    "gate.ess_bulk": "smallest effective number of draws for the middle of a reported quantity",
    "gate.ess_tail": "smallest effective number of draws for the 5 % and 95 % tails of a reported quantity",
    "gate.divergences": "transitions on which the sampler lost its path",
    "gate.bfmi": "smallest share of energy explored from draw to draw (Bayesian fraction of missing "
    "information)",
    "second.no_primary": "no primary exposure in the model",
    "second.least_squares": _second("least squares, since no person variance is left"),
    "second.stopped": _second("MixedLM stopped: {why}"),
    "second.short": _second("MixedLM stopped {units:.2g} deviance units short of the optimum"),
    "second.held": _second("with the variance of intercepts held at 0"),
    "second.all": _second(""),
    # Names of what tables hold.
    "quantity.bends": "SD of second differences, points per log unit",
    "quantity.residual": "residual SD, points",
    "quantity.intercepts_points": "SD of person intercepts, points",
    "quantity.intercepts": "SD of person intercepts",
    "quantity.slopes": "SD of person slopes of jump",
    "quantity.residual_scale": "residual scale",
    "quantity.residual_df": "degrees of freedom of the residuals",
    "unit.points_per_sd": "points per within-person SD",
    "unit.odds_per_log": "log-odds per log unit",
    "check.lowest": "share of ratings of {rating:g}",
    "check.many": "share of ratings of {rating:g} or more",
    "check.heaping": "largest excess of a category over the mean of the two beside it, as a share of ratings",
    "check.change_sd": "SD of the change from this step's rating to the next",
    "check.person_mean_sd": "SD of people's mean ratings",
    # The first look at both sequences.
    "look.subtitle": "{people}, one dot per person-{step}; lines: slope within people, {unit}, with its "
    "{interval:g} % interval; nothing else held equal",
    "look.own_mean": "{label}, less the person's own mean",
    "look.load": "this {step}'s load over the usual load",
    "look.less": "{label} less the person's own mean, {unit}",
    "look.alt": "Three scatters of {rated} on {label}, each less the person's own mean. Slopes in {unit}, "
    "with intervals: {slopes}.",
    # Flare models, their counts and what else tables say of themselves.
    "model.flare": lambda zero, penalised: (
        f"onset model, person intercepts{' (variance 0)' * zero}{penalised}"
    ),
    "model.clogit": "conditional logistic, person x block",
    "model.rated": "joint model of ratings, load and {label} (state space, restricted likelihood)",
    "rung.separates": lambda names: (
        f"{', '.join(names)} separate{'s' if len(names) == 1 else ''} flare onsets from other steps; only "
        "there the penalty stands"
    ),
    "not_fitted.no_exposures": "none of the exposures is recorded",
    "note.simulated": "{simulated} people in each simulated study of these models, of {people}; the bias of "
    "all is smaller",
    "prior.carry_over": lambda centre, spread: (
        f"normal, median {centre:g}, 95 of 100 from {span(centre - 1.96 * spread, centre + 1.96 * spread, 2)}"
    ),
    "prior.error_sd": lambda half: (
        f"log-normal, median {half:g}, 95 of 100 between {significant(half * math.exp(-0.98), 2)} and "
        f"{significant(half * math.exp(0.98), 2)}"
    ),
    "prior.rating_answer": lambda answer: (
        "median half of the line above, 95 of 100 between load "
        f"{fixed(-100 * math.expm1(-1.96 * answer), 0)} % lower and "
        f"{fixed(100 * math.expm1(1.96 * answer), 0)} % higher than there"
    ),
    "means.at_risk_steps": "complete steps at risk of an onset",
    "means.onsets": "of them followed by an onset ({outcome})",
    "means.people": "people with such steps",
    "means.informative_people": "people with an onset and an at-risk step without one",
    "means.intercept_sd": "how far people's usual outcome lies apart",
    "means.slope_sd": "how far people's slopes lie apart",
    "means.correlation": "of intercepts and slopes",
    "means.residual_sd": "step-to-step scatter that the model leaves",
    "means.variance_between_people": "of people's usual outcome",
    "means.variance_within_people": "of steps around the person's usual outcome",
    "means.icc": "share of all variance that lies between people",
    "means.residual_variance": "within people, once the model's columns are known",
    "means.within_explained": "share of the within-person variance that the model accounts for",
    "gate.onsets": "onsets in the adjusted model",
    "gate.odds": "largest odds ratio, or its inverse, per within-person SD; larger ones are rare in "
    "prospective data: look at the data again",
    "gate.smallest": "smallest eigenvalue of the scaled Hessian: data and weak priors together fix the "
    "variances",
    "gate.innovations": "largest correlation left between innovations, in standard errors: 0 is none",
    # Why there is nothing to challenge.
    "challenge.no_primary": "the primary exposure is not in the model",
    "challenge.not_load": "the primary exposure is not load",
    "challenge.no_worse": "no end of {label} is the worse one by the plan (worse under [ratings.{name}])",
    "challenge.same_step": "the question is about the same {step} itself",
    "challenge.quick": "no Bayesian model was fitted in this quick run",
    "challenge.no_draws": "its draws were not kept",
    "progress.averaging": "averaging predictions over the observed person-steps",
}
_LEFT_OUT = {text: code for code, text in HARDLY.items()} | {
    text: code.removeprefix("column.")
    for code, text in TEXTS.items()
    if code.startswith("column.") and isinstance(text, str)
}
