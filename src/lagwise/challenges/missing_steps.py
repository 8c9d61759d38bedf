"""Multiple imputation of missing steps, and how different they would have to be to change the reading."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import side
from lagwise.challenges.imputation import Gaps, fill, gaps_of, pooled, rebuilt
from lagwise.challenges.phrases import count, fixed, interval, places, sample, step_word
from lagwise.challenges.work import map_tasks, seeds
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Challenge, Panel, Picture
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design
from lagwise.models.kernel import fit
from lagwise.models.rows import limits
from lagwise.models.within import fit_within

NAME = "missing_steps"
TITLE = "Missing {steps}"
QUESTION = "Would the {steps} that are missing have changed the reading?"
LIMITS = (
    "It fills gaps between a person's first and last record; what came after somebody left is not filled in. Filled values follow the recorded ones, and the shift "
    "tried on top is the same for everybody; {steps} missing for reasons tied to load and pain at once can differ in other ways."
)
DELTAS = (-3.0, -2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0, 3.0)
IMPUTATIONS, QUICK = 20, 10


@dataclass(frozen=True)
class Asked:
    """The primary question, to be asked of every filled panel."""

    exposures: tuple[str, ...]
    pain_adjusted: str
    outcome: str
    column: str
    size: float


def run(context: Context) -> Challenge:
    """Fills unknown pain, load, rest and exposures of {steps} within each record 20 times (10 when quick) by chained regressions on the other columns, the {step} before and the {step} after; builds every lag
    again; pools by Rubin's rules with Barnard-Rubin df. Then adds delta points to all filled pain (from -3 to 3) and asks again. Mixed model with person intercepts (within people below 10), beside the same
    model of the recorded {steps} alone.

    Verdict: does_not_hold when the pooled interval (delta 0) lies on another side of 0, or includes 0 otherwise than the recorded {steps} alone; holds when that is so for no delta up to the
    plan's flare rise either way; else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    asked = Asked(p.exposures, p.pain_adjusted, p.outcome, p.column, p.size)
    plain = np.array(_answer(context.panel, asked))
    base_low, base_high = limits(*plain)
    gaps = gaps_of(context.panel, p.exposures)
    unknown = np.isnan(gaps.values[:, 0])
    no_load = np.isnan(gaps.rest)
    n = len(unknown)
    m = QUICK if context.quick else IMPUTATIONS
    tasks = seeds(context.seed_of(NAME), m)
    tried = np.stack(map_tasks(partial(_asked_again, gaps, asked), tasks, context.executor))
    table = pd.DataFrame([_pool(tried[:, i], d) for i, d in enumerate(DELTAS)])
    zero = table[table["delta"] == 0].iloc[0]
    own = side(base_low, base_high)
    turned = np.array([side(low, high) for low, high in zip(table["low"], table["high"], strict=True)]) != own
    edge = context.panel.study.pain.flare_rise
    near = table["delta"].abs().to_numpy() <= edge
    verdict = "does_not_hold" if turned[table["delta"] == 0][0] else "cannot_tell" if (turned & near).any() else "holds"
    at = [float(d) for d in sorted(table["delta"][turned], key=abs)]
    decimals = places(base_low, base_high)
    tipping = (
        f"it first changes at {fixed(at[0], 1)} points"
        if at
        else "it changes at no shift tried, up to 3 points either way"
    )
    reading = {
        "holds": "The reading changes only if the missing weeks were very different from the recorded ones.",
        "does_not_hold": "Filling in what is missing changes the reading.",
        "cannot_tell": "Missing weeks that are worse or better than the recorded ones by an amount that can happen would change the reading.",
    }[verdict].replace("weeks", f"{step}s")  # fmt: skip
    sentence = (
        f"{100 * unknown.mean():.0f} of 100 {step}s have no pain and {100 * no_load.mean():.0f} of 100 no known load. With both filled in, the estimate goes from {fixed(plain[0], decimals)} "
        f"({interval(base_low, base_high, decimals)}) to {fixed(zero['estimate'], decimals)} points ({interval(zero['low'], zero['high'], decimals)}); with filled pain shifted, {tipping} "
        f"({count(m, 'imputation')}; {sample(p.answer, step)}). {reading}"
    )
    rows = [
        row("recorded alone", plain[0], "points", base_low, base_high),
        row("missing filled in", zero["estimate"], "points", zero["low"], zero["high"]),
        *(row(f"filled pain shifted by {r['delta']:+g}", r["estimate"], "points", r["low"], r["high"]) for r in table.to_dict("records") if r["delta"]),
        row("smallest shift that changes the reading", at[0] if at else np.nan, "points"),
        row(f"{step}s without pain", float(unknown.mean()), f"share of {n}"),
        row(f"{step}s without known load", float(no_load.mean()), f"share of {n}"),
        row(f"pain of the {step} before, from the person's mean: before missing less before recorded", _before(gaps), "points"),
        row("information missing", float(zero["missing"]), "share"),
    ]  # fmt: skip
    picture = Picture(
        "curve",
        "The estimate if missing pain was lower or higher than filled in",
        table.rename(columns={"delta": "x"})[["x", "estimate", "low", "high"]],
        "shift of filled pain, points",
        f"difference in pain, points, per {p.label}",
        f"Filled in: {fixed(zero['estimate'], decimals)} points ({interval(zero['low'], zero['high'], decimals)}); {tipping}.",
        {
            "reference": 0,
            "subtitle": f"{100 * unknown.mean():.0f} of 100 {step}s without pain; {sample(p.answer, step)}",
        },
    )
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def _asked_again(gaps: Gaps, asked: Asked, seed: np.random.SeedSequence) -> np.ndarray:
    """(deltas, 3) estimate, standard error, df of one imputation."""
    filled = fill(gaps, np.random.default_rng(seed))
    return np.array([_answer(rebuilt(gaps, filled, delta), asked) for delta in DELTAS])


def _answer(panel: Panel, asked: Asked) -> tuple[float, float, float]:
    d = design(panel, exposures=asked.exposures, pain_adjusted=asked.pain_adjusted, outcome=asked.outcome)
    if asked.column not in d.names:
        raise ModelError(f"{asked.column} {dict(d.dropped).get(asked.column, 'was not recorded')}")
    if gate_for(d.n_people).within_only:
        return fit_within(d).contrast(asked.column, asked.size)
    weights = np.zeros(len(d.names))
    weights[d.names.index(asked.column)] = asked.size
    found = fit(CrossProducts.build(d.y, d.X, None, d.person)).contrast(weights)
    return float(found.estimate[0]), float(found.std_error[0]), float(found.df[0])


def _pool(found: np.ndarray, delta: float) -> dict[str, float]:
    good = found[np.isfinite(found).all(axis=1)]
    if len(good) < 2:
        raise ModelError("the filled records cannot be fitted")
    estimate, error, df = pooled(good[:, 0], good[:, 1], float(good[:, 2].mean()))
    low, high = limits(estimate, error, df)
    missing = 1 - float(np.mean(good[:, 1] ** 2)) / error**2
    return {"delta": delta, "estimate": estimate, "low": low, "high": high, "missing": missing}


def _before(gaps: Gaps) -> float:
    """Mean distance from the person's own mean of the pain before steps without pain, less that before steps with pain."""
    pain = pd.Series(gaps.values[:, 0])
    earlier = pain.groupby(gaps.person).shift(1)
    lost = pain.isna()
    return float(earlier[lost].mean() - earlier[~lost].mean())
