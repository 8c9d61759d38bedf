"""Does the analysis find a known truth in records of this study's own size, gaps and feedback?"""

from __future__ import annotations

from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.phrases import fixed, places, sample, step_word
from lagwise.challenges.small_world import MECHANISMS, Cell, simulate, world_of
from lagwise.challenges.work import map_tasks, seeds
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture

NAME = "known_truth_at_your_size"
TITLE = "A known truth at this study's size"
QUESTION = "In simulated records of this size, with these gaps and this answer of load to pain, does the analysis find what was put in?"
LIMITS = (
    "The simulated records follow the model that is tried on them: the same slope for everybody, ratings without error, gaps where this study has them whatever the pain. "
    "It shows what size, gaps and feedback alone do to the answer, and nothing about causes that were not recorded."
)
CASELOADS, QUICK = 500, 200
GOOD, BAD = 0.925, 0.90
RIGHT = {"during": "pain first", "before": "load first"}


def run(context: Context) -> Challenge:
    """Simulates 500 caseloads (200 when quick) in each of four settings: a true difference of 0 and of the estimate, under two mechanisms. Pain first: load answers the pain of
    its own {step}. Load first: load answers the pain before and moves the pain of its own {step} as well. People, {steps}, gaps, rest, spread, carry-over, the answer
    of load to pain and what other exposures add are this study's own; each caseload is analysed by the primary model with person intercepts (within people below 10).

    Verdict, in the mechanism that the chosen adjustment for pain is made for (pain first when it is pain during the {step}, else load first): holds when the intervals cover the truth in at
    least 92.5 of 100 caseloads (or less by no more than one Monte Carlo error) at both truths, with a bias of at most half a standard error; does_not_hold when coverage is below 90 of 100 by more than two Monte Carlo
    errors at either; else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    world = world_of(context.panel, context.design, p.column, p.size)
    n = QUICK if context.quick else CASELOADS
    effects = (0.0, p.answer.estimate / p.size)
    streams = seeds(context.seed_of(NAME), 4)
    cells = [
        Cell(mechanism, effect, n, streams[2 * i + j])
        for i, mechanism in enumerate(MECHANISMS)
        for j, effect in enumerate(effects)
    ]
    tables = map_tasks(partial(simulate, world), cells, context.executor)
    found = pd.DataFrame([_summary(c, t, p.size) for c, t in zip(cells, tables, strict=True)])
    right = RIGHT[p.pain_adjusted]
    own, other = found[found["mechanism"] == right], found[found["mechanism"] != right]
    verdict = judged(own)
    decimals = places(p.answer.low, p.answer.high)
    null, real = own.iloc[0], own.iloc[1]
    reading = {
        "holds": "At this size the analysis finds what was put in.",
        "does_not_hold": "At this size the intervals leave out the truth too often to be taken at their word.",
        "cannot_tell": "At this size the analysis is not quite true to what was put in.",
    }[verdict]
    sentence = (
        f"In {n} simulated caseloads each, with load that answers pain as it does here ({right}), a true 0 gave on average {fixed(null['mean'], decimals)} points and an interval without 0 in "
        f"{100 * (1 - null['coverage']):.1f} of 100 caseloads (Monte Carlo error {100 * null['coverage_error']:.1f}; 5 are expected); a true {fixed(real['truth'], decimals)} gave {fixed(real['mean'], decimals)} on average and was "
        f"covered in {100 * real['coverage']:.1f} of 100. With {other.iloc[0]['mechanism']} coverage would be {100 * other.iloc[0]['coverage']:.1f} and {100 * other.iloc[1]['coverage']:.1f} of 100 ({sample(p.answer, step)}). {reading}"
    )
    rows = []
    for c in found.to_dict("records"):
        where = f"{c['mechanism']}, true {fixed(c['truth'], decimals)}"
        rows += [
            row(
                f"bias: {where}",
                c["bias"],
                "points",
                c["bias"] - 1.96 * c["bias_error"],
                c["bias"] + 1.96 * c["bias_error"],
            ),
            row(f"coverage: {where}", c["coverage"], "share", *_around(c["coverage"], c["coverage_error"])),
            row(f"intervals without 0: {where}", c["without_0"], "share"),
        ]
    rows.append(row("simulated caseloads in each setting", n, "caseloads"))
    data = pd.DataFrame(
        {
            "label": [
                f"{c}, true {fixed(t, decimals)}" for c, t in zip(found["mechanism"], found["truth"], strict=True)
            ],
            "estimate": found["mean"],
            "low": found["p025"],
            "high": found["p975"],
            "group": "",
        }
    )
    picture = Picture(
        "intervals",
        "What the analysis finds when the truth is known",
        data,
        f"difference in pain, points, per {p.label}: mean and middle 95 of 100 caseloads",
        "",
        "; ".join(f"{a}: mean {fixed(b, decimals)}" for a, b in zip(data["label"], data["estimate"], strict=True))
        + ".",
        {"reference": 0, "subtitle": f"{n} simulated caseloads each; {sample(p.answer, step)}"},
    )
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def judged(own: pd.DataFrame) -> str:
    """The verdict from coverage, its Monte Carlo error, bias and mean standard error at both truths."""
    if (own["coverage"] + 2 * own["coverage_error"] < BAD).any():
        return "does_not_hold"
    fair = (own["coverage"] + own["coverage_error"] >= GOOD) & (own["bias"].abs() <= own["std_error"] / 2)
    return "holds" if fair.all() else "cannot_tell"


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
        "truth": truth,
        "mean": bias + truth,
        "bias": bias,
        "bias_error": float(known["estimate"].std() / np.sqrt(n)),
        "coverage": covered,
        "coverage_error": float(np.sqrt(max(covered * (1 - covered), 0.95 * 0.05 / n) / n)),
        "without_0": float(((known["low"] > 0) | (known["high"] < 0)).mean()),
        "std_error": float(known["std_error"].mean()),
        "p025": float(low),
        "p975": float(high),
    }


def _around(share: float, error: float) -> tuple[float, float]:
    return max(0.0, share - 1.96 * error), min(1.0, share + 1.96 * error)
