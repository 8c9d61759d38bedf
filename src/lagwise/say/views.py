"""What a Bayesian fit assumed, found and made, as pictures: before the data, the chains, and after."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.errors import ModelError
from lagwise.core.numbers import plural, signed
from lagwise.core.results import Fit, Picture
from lagwise.core.study import INTERVAL
from lagwise.core.words import exposure_label
from lagwise.models.diagnose import MAX_RHAT

TAIL = (1 - INTERVAL) / 2
RANKS = 20


def prior_predictive(fit: Fit) -> Picture:
    """Ratings drawn from the priors alone, beside those observed: share of each rating.

    The intervals span the project's interval over draws. They should be wide and hold what is possible; they
    are not meant to fit.
    """
    title = "Before the data the model allows very different spreads of ratings"
    return _ratings(fit, "prior_predictive", title, "drawn from the priors alone")


def posterior_predictive(fit: Fit) -> Picture:
    """Ratings drawn from the fitted model, beside those observed: share of each rating.

    A rating whose observed share lies outside its interval is one that the model does not make often enough,
    or too often.
    """
    table = _rating_shares(fit, "posterior_predictive")
    inside = int(((table["value"] >= table["low"]) & (table["value"] <= table["high"])).sum())
    title = f"After the data {inside} of {len(table)} ratings are as frequent as the fitted model expects"
    return _ratings(fit, "posterior_predictive", title, "drawn from the fitted model")


def prior_and_posterior(fit: Fit) -> Picture:
    """The first contrast in points of the outcome: what the priors say of it, and what is left after the
    data."""
    tree = _posterior(fit)
    draws = [tree[group]["difference"].values[..., 0].ravel() for group in ("prior", "posterior")]
    limits = np.array([np.quantile(v, [TAIL, 1 - TAIL]) for v in draws])
    narrower = np.divide(*np.diff(limits, axis=1).ravel())
    rows = [
        {"label": label, "estimate": float(v.mean()), "low": float(low), "high": float(high), "group": ""}
        for label, v, (low, high) in zip(
            ("before the data (prior)", "after the data (posterior)"), draws, limits, strict=True
        )
    ]
    contrast, width = _first_contrast(tree), f"{100 * INTERVAL:g} % interval"
    each = "; ".join(f"{r['label']}: {_signed(r)}" for r in rows)
    return Picture(
        "intervals",
        f"After the data the range of plausible differences is {_how_narrow(narrower)}",
        pd.DataFrame(rows),
        f"difference in {_explained(fit)}, points ({contrast})",
        "",
        f"Difference in {_rated(fit)}, {contrast}, in points, mean and {width}. {each}.",
        {"reference": 0, "subtitle": f"{_size(fit)}; {width}s"},
    )


def chains(fit: Fit) -> Picture:
    """The first contrast chain by chain, with a rank plot: chains that agree have about as many draws in
    every rank.

    `options["expected"]` is the range that the count in one bin keeps to in 95 of 100 bins when chains agree
    and draws are independent (binomial); draws of a chain resemble their neighbours, so somewhat more scatter
    is ordinary. Rank plots: Vehtari et al. 2021 (doi:10.1214/20-BA1221).
    """
    from scipy import stats

    tree = _posterior(fit)
    values = tree["posterior"]["difference"].values[..., 0]
    count, draws = values.shape
    low, high = stats.binom.ppf([TAIL, 1 - TAIL], draws, 1 / RANKS)
    chain, draw = np.repeat(np.arange(count), draws), np.tile(np.arange(draws), count)
    contrast = _first_contrast(tree)
    rhat = float(fit.diagnostics.set_index("gate")["value"]["rhat"])
    means = ", ".join(f"{v:.2f}" for v in values.mean(axis=1))
    return Picture(
        "chains",
        f"{count} chains, started apart, {'agree' if rhat <= MAX_RHAT else 'do not agree'}",
        pd.DataFrame({"chain": chain, "draw": draw, "value": values.ravel()}),
        "draw",
        f"difference, points ({contrast})",
        f"{count} chains of {draws} draws of the difference in {_rated(fit)}, {contrast}; their means are "
        f"{means} points. Largest R-hat of all reported quantities: {rhat:.3f}.",
        {
            "expected": [float(low), float(high)],
            "bins": RANKS,
            "subtitle": f"{draws} draws a chain; shaded band: where 95 of 100 bins lie when chains agree",
        },
    )


def _size(fit: Fit) -> str:
    return f"{fit.n_people} people, {plural(fit.n_steps, f'person-{fit.step}')}"


def _ratings(fit: Fit, group: str, title: str, drawn: str) -> Picture:
    table = _rating_shares(fit, group)
    each = "; ".join(f"{r.x}: {r.value:.1f} ({r.low:.1f} to {r.high:.1f})" for r in table.itertuples())
    of = f"of 100 person-{fit.step}s"
    return Picture(
        "shares",
        title,
        table,
        f"{_explained(fit)}, rounded to {_rounded(fit)}",
        of,
        f"Share of each rating, {of}: observed, and in brackets the interval of what is {drawn}. {each}.",
        {
            "values_label": "observed",
            "mark_label": f"{drawn}, with {100 * INTERVAL:g} % interval",
            "subtitle": _size(fit),
        },
    )


def _rating_shares(fit: Fit, group: str) -> pd.DataFrame:
    """x (every level of the rating), value (observed, of 100), estimate (mean over draws), low, high."""
    tree = _posterior(fit)
    drawn = tree[group][fit.outcome].values
    drawn = drawn.reshape(-1, drawn.shape[-1])
    observed = tree["observed_data"][fit.outcome].values
    ratings = _levels(fit)
    shares = np.stack([(drawn == k).mean(axis=1) for k in ratings], axis=1) * 100
    low, high = np.quantile(shares, [TAIL, 1 - TAIL], axis=0)
    value = [float((observed == k).mean() * 100) for k in ratings]
    mean = shares.mean(axis=0)
    return pd.DataFrame({"x": ratings, "value": value, "estimate": mean, "low": low, "high": high})


def _levels(fit: Fit) -> np.ndarray:
    """The levels that ratings have in the model."""
    values: np.ndarray = _posterior(fit)["constant_data"]["level"].values
    return values


def _rounded(fit: Fit) -> str:
    step = float(np.diff(_levels(fit))[0])
    return "whole points" if step == 1 else f"the nearest {step:g}"


def _rated(fit: Fit) -> str:
    return exposure_label(fit.outcome.removesuffix("_next"))


def _explained(fit: Fit) -> str:
    """The rating that is explained: 'pain of the next week'."""
    return f"{_rated(fit)} of the {'next' if fit.outcome.endswith('_next') else 'same'} {fit.step}"


def _posterior(fit: Fit) -> Any:
    if fit.posterior is None or "difference" not in fit.posterior["posterior"]:
        why = (fit.why_not or "only fit_ordinal keeps them").rstrip(".")
        raise ModelError(f"there are no draws to show: {why}", mend="The mixed model asks less of the data.")
    return fit.posterior


def _how_narrow(times: float) -> str:
    if times < 1.15:
        return "about as wide as before"
    return f"{times:.{0 if times >= 1.95 else 1}f} times narrower"


def _first_contrast(tree: Any) -> str:
    return str(tree["posterior"]["contrast"].values[0]).replace("_", " ")


def _signed(row: dict[str, Any]) -> str:
    estimate, low, high = (signed(float(row[k]), 2) for k in ("estimate", "low", "high"))
    return f"{estimate} ({low} to {high})"
