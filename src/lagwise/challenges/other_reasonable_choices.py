"""The estimate under every other reasonable plan that asks the same question."""

from __future__ import annotations

import itertools
from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Row, numbers, row
from lagwise.challenges.phrases import fixed, p_text, places, sample, step_word
from lagwise.challenges.shuffled_load import moving
from lagwise.challenges.specifications import WINDOWS, Plan, Question, designs, estimates, others, plans, shares, sides
from lagwise.challenges.work import map_tasks
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Panel, Picture
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.within import within_many

NAME = "other_reasonable_choices"
TITLE = "Other reasonable choices"
QUESTION = "Would another reasonable plan for the same question have read the records alike?"
LIMITS = (
    "The plans are those of this software, and all of them share its assumptions; a reading on which they agree can still be wrong in the same way. "
    "Estimates under different plans use the same records and are no independent confirmation of each other."
)
SHIFTS, QUICK = 199, 99
JOINT = 24
"""Plans in the joint test."""
LEVEL = 0.05


def run(context: Context) -> Challenge:
    """Estimates the primary contrast under all combinations of load measure (of all work, or the plan's own; those known on most {steps}), window of the usual load (3, 4, 6; when quick the plan's own and 6), pain summary, reading of {steps} without sessions,
    exposures held equal and estimator (mixed with person intercepts, within people). Which pain is adjusted for, and counts of hard sets alone, are other questions and stand apart; same-{step} analyses are left out
    since they mix two directions. The joint test slides each person's exposure along in time by the same share of their record in all of up to 24 evenly
    spaced plans, 199 times (99 when quick), and compares the median t. The share of variance that goes with a choice is that between its levels.

    Verdict, where the primary interval leaves out 0: holds when at least 90 of 100 estimates have its sign, half of the intervals lie on its side and the joint p is at most 0.05; does_not_hold when
    fewer than 75 of 100 have its sign, fewer than 25 of 100 intervals lie on its side, or the joint p is above 0.05; else cannot_tell. Where it includes 0: holds when fewer than 25 of 100 intervals lie on
    one side and the joint p is above 0.05; does_not_hold when half or more do and the joint p is at most 0.05; else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    question = Question(p.term, p.column, p.size, p.exposures, p.pain_adjusted, p.outcome)
    every = plans(context.panel, WINDOWS[-1:] if context.quick else WINDOWS)
    groups = [list(g) for _, g in itertools.groupby(every, key=lambda plan: plan.words[:2])]
    table = pd.concat(
        map_tasks(partial(estimates, context.panel, question), groups, context.executor), ignore_index=True
    )
    if len(table) < 2:
        raise ModelError("no other plan can be carried out with these records")
    joint = joint_p(context.panel, question, every, QUICK if context.quick else SHIFTS, context.rng(NAME))
    found = sides(table)
    sign = np.sign(p.answer.estimate)
    alike = float((np.sign(table["estimate"]) == sign).mean())
    beside = float((found == (p.answer.side or 1)).mean())
    clear = max(float((found == s).mean()) for s in (1, -1))
    verdict = judged(p.answer.side, alike, beside, clear, joint)
    by_choice = shares(table)
    ordered = table.sort_values("estimate", ignore_index=True)
    low, middle, high = (float(v) for v in np.quantile(table["estimate"], [0.025, 0.5, 0.975]))
    decimals = places(p.answer.low, p.answer.high)
    most = str(by_choice.index[0])
    reading = {
        "holds": "The reading does not hang on these choices.",
        "does_not_hold": "The reading hangs on these choices.",
        "cannot_tell": "The plans neither agree nor disagree enough to say.",
    }[verdict]
    shown = f"{int((found == 1).sum())} intervals lie above 0, {int((found == -1).sum())} below and {int((found == 0).sum())} include it"
    sentence = (
        f"Under {len(table)} plans that ask the same question the middle 95 of 100 estimates lie between {fixed(low, decimals)} and {fixed(high, decimals)} points (median {fixed(middle, decimals)}; primary {fixed(p.answer.estimate, decimals)}); "
        f"{shown} (joint {p_text(joint)}). The choice that moves the estimate most is '{most}' ({100 * by_choice.iloc[0]:.0f} of 100 of the variance) ({sample(p.answer, step)}). {reading}"
    )
    rows = [
        row("plans", len(table), "plans"),
        row("middle 95 of 100 estimates", middle, "points", low, high),
        row("estimates with the primary one's sign", alike, "share"),
        row("intervals above 0", float((found == 1).mean()), "share"),
        row("intervals below 0", float((found == -1).mean()), "share"),
        row("joint p", joint, "probability"),
        *(row(f"variance that goes with: {name}", share, "share") for name, share in by_choice.items()),
        *(
            row(f"median with {choice} {level}", float(part["estimate"].median()), "points")
            for choice in (most,)
            for level, part in table.groupby(choice)
        ),
        *_apart(context, question),
    ]
    picture = Picture(
        "curve",
        "The estimate under other reasonable plans, sorted",
        pd.DataFrame({"x": np.arange(1, len(ordered) + 1), "estimate": ordered["estimate"], "low": ordered["low"], "high": ordered["high"]}),
        "plans, sorted by estimate",
        f"difference in pain, points, per {p.label}",
        f"{len(table)} estimates, middle 95 of 100 from {fixed(low, decimals)} to {fixed(high, decimals)} points; {shown}; joint {p_text(joint)}.",
        {"reference": 0, "subtitle": f"{len(table)} plans; most moved by {most}"},
    )  # fmt: skip
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def judged(own: int, alike: float, beside: float, clear: float, joint: float) -> str:
    """The verdict from the primary interval's side, the shares and the joint p."""
    if own:
        if alike < 0.75 or beside < 0.25 or joint > LEVEL:
            return "does_not_hold"
        return "holds" if alike >= 0.9 and beside >= 0.5 else "cannot_tell"
    if clear >= 0.5 and joint <= LEVEL:
        return "does_not_hold"
    return "holds" if clear < 0.25 and joint > LEVEL else "cannot_tell"


def joint_p(panel: Panel, question: Question, every: list[Plan], shifts: int, rng: np.random.Generator) -> float:
    """p of the median t over evenly spaced plans, two-sided, under shifts by the same share of each person's record in all of them.

    Raises
    ------
    ModelError
        When none of them can be estimated within people.
    """
    people = np.unique(panel.frame["person"].to_numpy(dtype=object).astype(str))
    share = np.vstack([np.zeros(len(people)), rng.random((shifts, len(people)))])
    chosen = [every[i] for i in np.unique(np.linspace(0, len(every) - 1, min(JOINT, len(every))).astype(int))]
    ts = []
    for i, plan in enumerate(chosen):
        made = designs(panel, question, plan)
        if not made:
            continue
        d = list(made.values())[i % len(made)]
        counts = np.bincount(d.person)
        start = np.concatenate([[0], np.cumsum(counts)[:-1]])[d.person]
        shift = (share[:, np.searchsorted(people, d.people)] * counts).astype(int)
        source = start + (np.arange(d.n_steps) - start - shift[:, d.person]) % counts[d.person]
        at = [d.names.index(name) for name in moving(d, question.column)]
        cross = CrossProducts.build(d.y, d.X, None, d.person).with_columns(at, d.X[:, at][source])
        found = within_many(cross, d.names.index(question.column))
        t = found.estimate / found.std_error
        if np.isfinite(t[0]):
            ts.append(t)
    if not ts:
        raise ModelError("no plan can be estimated within people")
    middle = np.abs(np.nanmedian(np.stack(ts), axis=0))
    return float((1 + np.sum(middle[1:] >= middle[0] - 1e-9)) / len(middle))


def _apart(context: Context, question: Question) -> list[Row]:
    """Other questions, for comparison: the other adjustment for pain, and load measures of another exposure."""
    table = context.fit.tables.get("adjustments", pd.DataFrame({"primary": []}))
    rows = [
        row(f"another question: pain {r['pain_adjusted']} held equal", r["estimate"], "points", r["low"], r["high"])
        for r in table.to_dict("records")
        if not r["primary"]
    ]
    for plan in others(context.panel):
        found = estimates(context.panel, question, [plan])
        if len(found):
            first = found.iloc[0]
            name = f"another question: load as {plan.words[0].replace('_', ' ')}"
            rows.append(row(name, first["estimate"], "points", first["low"], first["high"]))
    return rows
