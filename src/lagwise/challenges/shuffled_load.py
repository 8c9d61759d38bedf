"""Shuffled load: the same loads at other times. Where does the real estimate fall among them?"""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, shown
from lagwise.challenges.estimate import estimate, many
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Challenge, Picture
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import Design, exposure_columns

NAME = "shuffled_load"
TITLE = "Shuffled load"
QUESTION = "Would the same loads, moved to other weeks of the same people, have given as large a difference?"
LIMITS = (
    "It tests timing within people against chance alone. A cause that moves load and later pain together, such as illness, "
    "passes it. Shifting also breaks the answer of load to pain, so it is no test of the adjustment for pain."
)
LIMIT = 0.05
CELLS = 4_000_000
"""Numbers held at once while shifting."""


def run(context: Context) -> Challenge:
    """Circular shifts of each person's exposure series within that person's steps, the estimate made anew each time.

    The primary exposure's columns (for load with log_usual and the rest indicators) are moved together by a shift drawn evenly from
    0 .. n_i - 1 for each person, along the steps that enter the primary model, so that each series keeps its own
    values, order and missing pattern while its timing against pain is broken. Two-sided p = (1 + shifts at least as far from 0) / (1 + shifts).

    Verdict: holds when the shifts and the primary interval agree (p <= 0.05 and 0 outside the interval, or p > 0.05 and 0 inside);
    does_not_hold when the interval leaves out 0 but p > 0.05; cannot_tell when p <= 0.05 but the interval includes 0.
    """
    primary = context.primary
    d = context.design()
    real = estimate(d, context.column, context.size)
    draws = shifted_estimates(d, context.term, context.column, context.size, context.draws, context.stream(NAME))
    draws = draws[np.isfinite(draws)]
    if len(draws) < context.draws / 2:
        raise ModelError(f"only {len(draws)} of {context.draws} shifts could be estimated")
    beyond = int(np.sum(np.abs(draws) >= abs(real.estimate) - 1e-12))
    p = (1 + beyond) / (1 + len(draws))
    agree = (p <= LIMIT) == context.clear
    verdict = "holds" if agree else "does_not_hold" if context.clear else "cannot_tell"
    low, high = np.quantile(draws, [0.025, 0.975])
    return Challenge(
        NAME,
        TITLE,
        QUESTION,
        verdict,
        numbers(
            ("estimate with the loads where they were", real.estimate, real.low, real.high, "points"),
            ("middle 95 % of shifted estimates", float(np.median(draws)), float(low), float(high), "points"),
            ("shifts at least as far from 0", float(beyond), np.nan, np.nan, f"of {len(draws)}"),
            ("two-sided p", p, np.nan, np.nan, "proportion"),
        ),
        f"With loads moved to other weeks of the same people, {beyond} of {len(draws)} shifts gave a difference at least as far from 0 as the "
        f"one seen, {shown(real.estimate)} points (p = {p:.3f}); 95 of 100 shifts lay between {shown(low)} and {shown(high)} points. {_lesson(verdict, p)}",
        LIMITS,
        picture=Picture(
            "histogram",
            "The real timing of load against shuffled timings",
            pd.DataFrame({"value": draws}),
            f"Difference in next-week pain, points, {context.label}",
            "Shifts",
            f"Real estimate {shown(real.estimate)} points; 95 of 100 of {len(draws)} shifts lie between {shown(low)} and {shown(high)}; p = {p:.3f}.",
            {"mark": real.estimate, "n": len(draws), "n_people": int(primary["n_people"]), "n_steps": real.n_steps},
        ),
    )


def shifted_estimates(
    d: Design, term: str, column: str, size: float, draws: int, rng: np.random.Generator
) -> np.ndarray:
    """(draws,) estimates of `size` times `column` with the columns of `term` shifted circularly within people."""
    moved = [*exposure_columns(term), *(["log_usual"] if term == "jump" else [])]
    at = [i for name in moved if (i := d.index(name)) is not None]
    cross = CrossProducts.build(d.y, d.X, None, d.person)
    counts = np.bincount(d.person)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    within_person = np.arange(d.n_steps) - starts[d.person]
    within = gate_for(d.n_people).within_only
    position = d.names.index(column)
    block = max(1, CELLS // (d.n_steps * len(at)))
    out = []
    for first in range(0, draws, block):
        shifts = rng.integers(0, counts, size=(min(block, draws - first), len(counts)))
        rows = starts[d.person] + (within_person + shifts[:, d.person]) % counts[d.person]
        out.append(many(cross.with_columns(at, d.X[rows][:, :, at]), position, size, within=within))
    return np.concatenate(out)


def _lesson(verdict: str, p: float) -> str:
    if verdict == "holds":
        return (
            "The timing of the loads matters for the difference seen."
            if p <= LIMIT
            else "That agrees with an interval that includes 0."
        )
    if verdict == "does_not_hold":
        return "The primary interval leaves out 0, yet shuffled timings reach as far: the interval is too narrow to be relied on."
    return "The primary interval includes 0, yet few shuffled timings reach as far: the two disagree."
