"""From draws of the ordinal model to its effect table, its further tables and its DataTree."""

from __future__ import annotations

import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.effects import effects_frame
from lagwise.core.question import Outcome
from lagwise.core.study import Study
from lagwise.models.contrasts import (
    Contrast,
    coefficient_rows,
    moves,
    point_contrasts,
    posterior_row,
    span,
    spans_table,
)
from lagwise.models.gcomp import averages, flare_threshold
from lagwise.models.open_model import coordinates
from lagwise.models.ordinal_draws import Draws, OrdinalModel, draw_prior, log_likelihood, log_prior
from lagwise.models.ppc import check_table, draw_ratings, statistics
from lagwise.models.priors import SLOPE_OF, prior_of_contrast, prior_table
from lagwise.models.reach import low_to_high, reach_table
from lagwise.models.rows import common

PREDICTED = 400
"""Draws for the tables of predictive checks, prior and posterior."""
AT_ONCE = 1_000_000
"""Draws times person-steps that are averaged at once (8 MB)."""
TOLD_OF_STEPS = 10_000_000
"""Draws times person-steps up to which the posterior keeps of every draw how likely each rating was (80 MB)
and one that it predicts (10 MB): what is left out or predicted takes both of the same draws."""


@dataclass(frozen=True)
class Summary:
    """What `fit_ordinal` returns of the draws; `reported` names the posterior variables that are reported."""

    effects: pd.DataFrame
    tables: Mapping[str, pd.DataFrame]
    posterior: Any
    reported: tuple[str, ...]


def summarise(
    model: OrdinalModel, study: Study, draws: Draws, stats: Mapping[str, np.ndarray], *, rung: str, seed: int
) -> Summary:
    """Effects, tables and DataTree of the draws of an ordinal model.

    Tables
    ------
    absolute_risk : at, outcome, mean, low, high, n_steps. The probability of a rise of at least flare_rise
        over the usual rating (flare_next, not at lag 0), of the lowest rating (pain_zero_next) and the mean
        rating (pain_next) at the reference ('usual load'), at the primary contrast, and their difference.
    reach : `lagwise.models.reach.reach_table`, when the primary exposure is in the model.
    people : person, mean, low, high, p_above_caseload, n_steps. Slopes of jump per log unit, log-odds.
    scales : quantity, mean, low, high, unit. SD of person intercepts and slopes, log-odds.
    ppc : see `lagwise.models.ppc.check_table`.
    prior_predictive : check, meaning, mean, low, high, observed, of ratings drawn from the priors alone.
    priors : `lagwise.models.priors.prior_table`, and the primary contrast in points by draws of the priors.
    """
    contrasts = point_contrasts(model.design, model.columns, study)
    usual = low_to_high(model.design, contrasts)
    every = _average_all(model, study, draws, [*contrasts, *usual])
    levels, at_usual = every[: len(contrasts)], every[len(contrasts) :]
    shared = common("ordinal", rung, model.design)
    rows = coefficient_rows(model.columns, draws.beta, "log_odds", shared, study)
    rows += _averaged_rows(contrasts, levels, shared, study)
    rng = np.random.default_rng(np.random.SeedSequence([seed, 1]))
    each = max(1, -(-draws.beta[..., 0].size // PREDICTED))
    predicted = _predicted(model, draws, rng, each)
    prior = draw_prior(model, PREDICTED, rng)
    before = draw_ratings(model.predictor(prior, 0), prior.cutpoints[0], rng)
    asked, scale = study.outcome, model.levels
    now = model.design.frame[asked.name if asked.lag else asked.before].to_numpy(dtype=float)
    now = np.where(np.isnan(now), np.nan, np.floor(scale.place(now) + 0.5))

    def seen_in(places: np.ndarray) -> np.ndarray:
        return statistics(places, now, model.design.person, scale)

    seen = seen_in(model.category)
    tables = {
        "absolute_risk": _absolute(contrasts, levels, study, model),
        "scales": _scales(model, draws),
        "ppc": check_table(seen, seen_in(predicted.reshape(-1, predicted.shape[-1])), scale),
        "prior_predictive": check_table(seen, seen_in(before), scale).rename(columns={"predicted": "mean"})[
            ["check", "meaning", "mean", "low", "high", "observed"]
        ],
    }
    if usual:
        both = [posterior_row(v[:, :, 1, 0] - v[:, :, 0, 0], points=study) for v in (levels[0], at_usual[0])]
        tables["reach"] = reach_table(model.design, usual[0].column, study, *both)
    if draws.slopes is not None:
        tables["people"] = _people(model, draws, draws.slopes)
    assumed = _average_all(model, study, prior, contrasts)
    group = _group(prior, assumed)
    tables["priors"] = prior_table(model.design, model.columns, model.priors)
    if contrasts and contrasts[0].primary:
        of_primary = prior_of_contrast(contrasts[0].label, group["difference"][..., 0])
        tables["priors"] = pd.concat([tables["priors"], pd.DataFrame([of_primary])], ignore_index=True)
    likely = None
    if draws.beta[..., 0].size * len(model.category) <= TOLD_OF_STEPS:
        likely = log_likelihood(model, draws)
        if each > 1:
            each, predicted = 1, _predicted(model, draws, rng)
    of = {"posterior_predictive": predicted, "prior_predictive": before[None]}
    tree, reported = _tree(model, draws, stats, contrasts, levels, of, likely, group)
    drawn = tree["posterior_predictive"].dataset
    tree["posterior_predictive"] = drawn.assign_coords(draw=each * drawn["draw"])
    return Summary(effects_frame(rows), tables, tree, reported)


def _average_all(model: OrdinalModel, study: Study, draws: Draws, contrasts: list[Contrast]) -> np.ndarray:
    """(contrasts, chains, draws, reference/compared, points/zero/flare)."""
    threshold = flare_threshold(model.design, study.outcome.rise)
    chains, kept = draws.beta.shape[:2]
    out = np.empty((len(contrasts), chains, kept, 2, 3))

    def average(task: tuple[int, slice]) -> None:
        c, some = task
        eta = model.predictor(draws, c, some)
        slopes = None if draws.slopes is None else draws.slopes[c, some]
        as_observed = None
        for i, contrast in enumerate(contrasts):
            mean = partial(
                averages, eta, cutpoints=draws.cutpoints[c, some], rows=contrast.rows, threshold=threshold,
                all_told=contrast.primary,
            )  # fmt: skip
            both = moves(contrast, model.columns, draws.beta[c, some], slopes, model.design.person)
            moved = contrast.reference is not None or contrast.below != 0
            if moved or as_observed is None:
                found = mean(both[0])
                as_observed = as_observed if moved else found
            else:
                found = as_observed
            out[i, c, some, 0] = found
            out[i, c, some, 1] = mean(both[1])

    many = max(1, AT_ONCE // len(model.category))
    tasks = [(c, slice(at, at + many)) for c in range(chains) for at in range(0, kept, many)]
    # The averages release Python's lock, so that draws are averaged side by side.
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        list(pool.map(average, tasks))
    return out


def _averaged_rows(
    contrasts: list[Contrast], levels: np.ndarray, shared: Mapping[str, Any], study: Study
) -> list[dict[str, Any]]:
    rows = []
    for contrast, level in zip(contrasts, levels, strict=True):
        difference = level[:, :, 1] - level[:, :, 0]
        outcomes = [(study.outcome.column, "points", 0)]
        if contrast.primary:
            outcomes += [("flare_next", "probability", 2), (zero_column(study.outcome), "probability", 1)]
        for outcome, scale, position in outcomes:
            values = difference[..., position]
            if not np.isnan(values).any():
                numbers = posterior_row(values, points=study if scale == "points" else None)
                rows.append({**shared, **contrast.named, "outcome": outcome, "scale": scale, **numbers})
    return rows


def zero_column(asked: Outcome) -> str:
    """Name of the probability of the lowest rating: pain_zero_next."""
    return f"{asked.name}_zero_next" if asked.lag else f"{asked.name}_zero"


def _absolute(
    contrasts: list[Contrast], levels: np.ndarray, study: Study, model: OrdinalModel
) -> pd.DataFrame:
    rows = []
    asked = study.outcome
    at_risk = flare_threshold(model.design, asked.rise).rows
    for contrast, level in zip(contrasts, levels, strict=True):
        if not contrast.primary:
            continue
        start = "usual load" if contrast.term == SLOPE_OF else "as observed"
        for outcome, position in (("flare_next", 2), (zero_column(asked), 1), (asked.column, 0)):
            first, second = level[:, :, 0, position], level[:, :, 1, position]
            if np.isnan(level[..., position]).any():
                continue
            counted = np.intersect1d(contrast.rows, at_risk) if position == 2 else contrast.rows
            for at, draws in ((start, first), (contrast.label, second), ("difference", second - first)):
                rows.append({"at": at, "outcome": outcome, **span(draws), "n_steps": len(counted)})
    return pd.DataFrame(rows, columns=["at", "outcome", "mean", "low", "high", "n_steps"])


def _scales(model: OrdinalModel, draws: Draws) -> pd.DataFrame:
    named = [(said("quantity.intercepts"), draws.sd_intercept, "log-odds")]
    if draws.sd_slope is not None:
        per = model.columns.scale[model.columns.names.index(SLOPE_OF)]
        named.append((said("quantity.slopes"), draws.sd_slope / per, said("unit.odds_per_log")))
    return spans_table(named)


def _people(model: OrdinalModel, draws: Draws, slopes: np.ndarray) -> pd.DataFrame:
    at = model.columns.names.index(SLOPE_OF)
    per, caseload = model.columns.scale[at], draws.beta[..., at]
    steps = np.bincount(model.design.person, minlength=model.design.n_people)
    rows = []
    for i, person in enumerate(model.design.people):
        above = float(np.mean(slopes[..., i] > caseload))
        own = {"p_above_caseload": above, "n_steps": int(steps[i])}
        rows.append({"person": person, **span(slopes[..., i] / per), **own})
    return pd.DataFrame(rows)


def _predicted(model: OrdinalModel, draws: Draws, rng: np.random.Generator, each: int = 1) -> np.ndarray:
    """(chains, draws, n) places of ratings among the levels, one of every draw or of each `each`-th."""
    return np.stack(
        [
            draw_ratings(model.predictor(draws, c, slice(None, None, each)), draws.cutpoints[c, ::each], rng)
            for c in range(len(draws.beta))
        ]
    )


def _group(draws: Draws, levels: np.ndarray) -> dict[str, np.ndarray]:
    """What is no single person's, under the names that prior and posterior share."""
    difference = np.moveaxis((levels[:, :, :, 1] - levels[:, :, :, 0])[..., 0], 0, -1)
    group = {"beta": draws.beta, "cutpoint": draws.cutpoints}
    group |= {"sd_intercept": draws.sd_intercept, "difference": difference}
    return group if draws.sd_slope is None else group | {"sd_slope": draws.sd_slope}


DIMS = {
    "beta": ["coefficient"],
    "cutpoint": ["between"],
    "person_intercept": ["person"],
    "person_slope": ["person"],
    "difference": ["contrast"],
    "X": ["step", "coefficient"],
    "person_of_step": ["step"],
    "scale": ["coefficient"],
    "centre": ["coefficient"],
    "level": ["rating"],
}
"""Dimensions of what stands in the DataTree, after chain and draw."""


def _tree(
    model, draws: Draws, stats, contrasts, levels, predicted, likely, prior
) -> tuple[Any, tuple[str, ...]]:
    import arviz as az

    from lagwise import __version__

    design, columns = model.design, model.columns
    posterior = _group(draws, levels) | {"person_intercept": draws.intercepts}
    reported = ["beta", "sd_intercept", "difference"]
    for i, contrast in enumerate(contrasts):
        for position, name in ((1, "zero"), (2, "flare")):
            reference, compared = levels[i, :, :, 0, position], levels[i, :, :, 1, position]
            if contrast.primary and not np.isnan(levels[i, ..., position]).any():
                found = {"reference": reference, "compared": compared, "difference": compared - reference}
                posterior |= {f"{name}_{k}": v for k, v in found.items()}
                reported += [f"{name}_{k}" for k in found]
    if draws.slopes is not None:
        posterior["person_slope"] = draws.slopes
        reported += ["sd_slope", "person_slope"]
    coords = coordinates(model) | {"contrast": [f"{c.term} {c.label}" for c in contrasts]}
    groups = {
        "posterior": posterior,
        "sample_stats": dict(stats),
        "log_prior": log_prior(model, draws),
        "prior": prior,
        **{group: {design.outcome: model.levels.of(places)} for group, places in predicted.items()},
        "observed_data": {design.outcome: model.levels.of(model.category)},
        "constant_data": {
            "X": columns.X,
            "person_of_step": design.person,
            "scale": columns.scale,
            "centre": columns.centre,
            "level": model.levels.values,
        },
    }
    if likely is not None:
        groups["log_likelihood"] = {design.outcome: likely}
    dims = DIMS | {design.outcome: ["step"]}
    made_by = {
        "creation_library": "lagwise",
        "creation_library_version": __version__,
        "inference_library": "nutpie",
    }
    attrs = {"posterior": made_by}
    tree = az.from_dict(groups, coords=coords, dims=dims, attrs=attrs, check_conventions=False)
    return tree, tuple(reported)
