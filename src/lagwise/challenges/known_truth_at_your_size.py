"""Does the analysis find a known truth in records of this study's own size, gaps, rating error and feedback?"""

from __future__ import annotations

from collections.abc import Hashable
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Row, numbers, row
from lagwise.challenges.phrases import capital, fixed, listed, places, sample, step_word
from lagwise.challenges.small_world import MECHANISMS, Cell, simulate, world_of
from lagwise.challenges.work import map_tasks, seeds
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture
from lagwise.models.rating_noise import rating_noise

NAME = "known_truth_at_your_size"
TITLE = "A known truth at this study's size"
QUESTION = "In simulated records of this size, with these gaps, ratings as inexact and this answer of {exposure} to pain, does the analysis find what was put in?"
LIMITS = (
    "The simulated records follow the model that is tried on them: the same slope for everybody, a rating error that is new in every {step}, gaps where this study has them whatever the pain. How inexact ratings are is "
    "itself estimated. It shows what size, gaps, rating error and feedback alone do to the answer, and nothing about causes that were not recorded."
)
CASELOADS, QUICK = 500, 200
GOOD, BAD = 0.925, 0.90
SEEN, OFF = 0.80, 0.2
"""Share of caseloads in which the smallest important difference must be seen, and the share of itself by which it may be off."""
APART = 0.1
"""Share of the smallest important difference by which the estimate must lie off the other truths to be one of its own."""
RIGHT = {"during": "pain first", "before": "load first"}


def run(context: Context) -> Challenge:
    """Simulates 500 caseloads (200 when quick) in each setting: a true difference of 0, of the smallest that is important (the plan's `important_change`, on the estimate's side of 0) and of the estimate, where that is another one, under
    two mechanisms. Pain first: load answers the pain of its own {step}. Load first: load answers the pain before and moves the pain of its own {step} as well. People, {steps}, gaps, rest, spread and what other exposures add are
    this study's own; carry-over, the error of ratings and the answer of load to the pain that lasts are what its ratings say once their error is allowed for (`models.rating_noise`). Each caseload is analysed by the primary model with person intercepts (within people below 10).
    A true 0 is also tried at the least and the largest rating error that the ratings allow (95 % interval).

    Verdict, in the mechanism that the chosen adjustment for pain is made for (pain first when it is pain during the {step}, else load first): holds when the intervals cover the truth in at
    least 92.5 of 100 caseloads (or less by no more than one Monte Carlo error) at 0 and at the estimate, with a bias of at most half a standard error, in no fewer than 90 of 100 by more than two Monte Carlo errors at either limit of the rating error, and when the smallest important difference is seen (an interval on its
    side of 0) in at least 80 of 100, off by at most a fifth of itself on average; does_not_hold when coverage is below 90 of 100 by more than two Monte Carlo errors at 0 or at the estimate; else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    noise = rating_noise(context.panel)
    world = world_of(context.panel, context.design, p.column, p.size, noise)
    n = QUICK if context.quick else CASELOADS
    right = RIGHT[p.pain_adjusted]
    effects = truths(p.answer.estimate, p.important, p.size)
    limits = (noise.error_sd.low, noise.error_sd.high)
    settings = [(m, e, None) for m in MECHANISMS for e in effects] + [(right, 0.0, sd) for sd in limits]
    streams = seeds(context.seed_of(NAME), len(settings))
    cells = [Cell(m, e, n, s, sd) for (m, e, sd), s in zip(settings, streams, strict=True)]
    tables = map_tasks(partial(simulate, world), cells, context.executor)
    found = pd.DataFrame([_summary(c, t, p.size) for c, t in zip(cells, tables, strict=True)])
    own_error = found["error"].isna()
    own, other = (found[own_error & (found["mechanism"].eq(right) == same)] for same in (True, False))
    verdict = judged(own.iloc[:-1], found[~own_error], own.iloc[-1])
    decimals = places(p.answer.low, p.answer.high)
    null, real = own.iloc[0], own.iloc[1:]
    reading = {
        "holds": "At this size the analysis finds what was put in.",
        "does_not_hold": "At this size the intervals leave out the truth too often to be taken at their word.",
        "cannot_tell": "At this size the analysis is not quite true to what was put in.",
    }[verdict]
    sure = f"({noise.error_sd.low:.1f} to {noise.error_sd.high:.1f} {'possible' if noise.told else 'possible, hardly told by these ratings'})"
    sentence = (
        f"In {n} simulated caseloads each, with load that answers pain as it does here ({right}) and ratings off by an SD of {noise.error_sd.value:.1f} points {sure}, a true 0 gave on average {fixed(null['mean'], decimals)} points and an interval without 0 in "
        f"{_of_100(1 - null['coverage'])} caseloads (Monte Carlo error {100 * null['coverage_error']:.1f}; 5 are expected), {listed([f'{100 * (1 - c):.1f}' for c in found[~own_error]['coverage']])} at the least and largest error. "
        f"{capital(listed([_real(c, decimals) for c in real.to_dict('records')]))}. "
        f"With {other.iloc[0]['mechanism']} coverage would be {listed([f'{100 * c:.1f}' for c in other['coverage']])} of 100 ({sample(p.answer, step)}). {reading}"
    )
    records = found.assign(label=[_where(c, decimals) for c in found.to_dict("records")])
    rows = [one for c in records.to_dict("records") for one in _rows(c)]
    rows.append(row("error SD of a rating", noise.error_sd.value, "points", noise.error_sd.low, noise.error_sd.high))
    rows.append(
        row(
            "carry-over of the pain that lasts",
            noise.carry_over.value,
            "points per point",
            noise.carry_over.low,
            noise.carry_over.high,
        )
    )
    rows.append(
        row(
            "answer of load to the pain that lasts",
            100 * float(np.expm1(world.answers[MECHANISMS.index(right)])),
            "% per point",
        )
    )
    rows.append(row("simulated caseloads in each setting", n, "caseloads"))
    data = records.rename(columns={"mean": "estimate", "p025": "low", "p975": "high"})[
        ["label", "estimate", "low", "high"]
    ]
    picture = Picture(
        "intervals",
        "What the analysis finds when the truth is known",
        data.assign(group=""),
        f"difference in pain, points, per {p.label}: mean and middle 95 of 100 caseloads",
        "",
        "; ".join(f"{a}: mean {fixed(b, decimals)}" for a, b in zip(data["label"], data["estimate"], strict=True))
        + ".",
        {"reference": 0, "subtitle": f"{n} simulated caseloads each; {sample(p.answer, step)}"},
    )
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def truths(estimate: float, important: float, size: float) -> tuple[float, ...]:
    """True differences per unit of the exposure: 0, the estimate where it is `APART` from the others, and the smallest important one on its side of 0."""
    far = important if estimate >= 0 else -important
    own = (estimate,) if min(abs(estimate), abs(estimate - far)) > APART * important else ()
    return tuple(v / size for v in (0.0, *own, far))


def _of_100(share: float) -> str:
    return f"{100 * share:.1f} of 100"


def _real(cell: dict[Hashable, Any], decimals: int) -> str:
    return f"a true {fixed(cell['truth'], decimals)} gave {fixed(cell['mean'], decimals)} on average, was covered in {_of_100(cell['coverage'])} and seen in {_of_100(cell['seen'])}"


def _where(cell: dict[Hashable, Any], decimals: int) -> str:
    error = "" if np.isnan(cell["error"]) else f", rating error {cell['error']:.2f}"
    return f"{cell['mechanism']}, true {fixed(cell['truth'], decimals)}{error}"


def _rows(cell: dict[Hashable, Any]) -> list[Row]:
    where, reach = cell["label"], 1.96 * cell["bias_error"]
    return [
        row(f"bias: {where}", cell["bias"], "points", cell["bias"] - reach, cell["bias"] + reach),
        row(f"coverage: {where}", cell["coverage"], "share", *_around(cell["coverage"], cell["coverage_error"])),
        row(f"intervals without 0: {where}", cell["without_0"], "share"),
    ]


def judged(own: pd.DataFrame, limits: pd.DataFrame, important: pd.Series) -> str:
    """The verdict from the settings of 0 and the estimate, of 0 at the `limits` of the rating error, and of the smallest important difference."""

    def low(cells: pd.DataFrame) -> bool:
        return bool((cells["coverage"] + 2 * cells["coverage_error"] < BAD).any())

    if low(own):
        return "does_not_hold"
    fair = (own["coverage"] + own["coverage_error"] >= GOOD) & (own["bias"].abs() <= own["std_error"] / 2)
    enough = important["seen"] >= SEEN and abs(important["bias"]) <= OFF * abs(important["truth"])
    return "holds" if fair.all() and not low(limits) and enough else "cannot_tell"


def _summary(cell: Cell, table: pd.DataFrame, size: float) -> dict[str, float | str]:
    known = table.dropna()
    if len(known) < len(table) / 2:
        raise ModelError("more than half of the simulated caseloads could not be fitted")
    truth, n = cell.effect * size, len(known)
    covered = float(((known["low"] <= truth) & (known["high"] >= truth)).mean())
    bias = float(known["estimate"].mean()) - truth
    low, high = np.quantile(known["estimate"], [0.025, 0.975])
    return {
        "mechanism": cell.mechanism,
        "error": np.nan if cell.error is None else cell.error,
        "truth": truth,
        "mean": bias + truth,
        "bias": bias,
        "bias_error": float(known["estimate"].std() / np.sqrt(n)),
        "coverage": covered,
        "coverage_error": float(np.sqrt(max(covered * (1 - covered), 0.95 * 0.05 / n) / n)),
        "seen": float(((known["low"] > 0) if truth > 0 else (known["high"] < 0)).mean()),
        "without_0": float(((known["low"] > 0) | (known["high"] < 0)).mean()),
        "std_error": float(known["std_error"].mean()),
        "p025": float(low),
        "p975": float(high),
    }


def _around(share: float, error: float) -> tuple[float, float]:
    return max(0.0, share - 1.96 * error), min(1.0, share + 1.96 * error)
