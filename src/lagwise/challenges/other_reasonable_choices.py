"""The estimate under every other reasonable plan that asks the same question."""

from __future__ import annotations

import itertools
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Drawing, Found, Primary
from lagwise.challenges.estimate import answer, middle, sides
from lagwise.challenges.shuffled_load import moving, slid_rows
from lagwise.challenges.specifications import (
    CHOICES,
    MIXED,
    OF_LOAD,
    READINGS,
    WINDOWS,
    WITHIN,
    Plan,
    designs,
    estimates,
    held_equal,
    others,
    plans,
    shares,
    with_load,
)
from lagwise.challenges.work import map_tasks
from lagwise.core.claim import Measured
from lagwise.core.columns import LOAD_MEASURES
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Panel
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design
from lagwise.models.kernel import fit
from lagwise.models.within import few, fixed_many
from lagwise.panel.arrays import evenly

NAME = "other_reasonable_choices"
SHIFTS, QUICK = 199, 99
JOINT = 24
"""Plans in the joint test."""
LEVEL = 0.05
HALF = 0.5
"""Of the median estimate under the plan's own reading of the record, below which that under another one is
another size.
"""
MOST = 0.75
"""Share of the intervals under one reading of the record that must part from the primary one for the result
to hang on it.
"""


def run(context: Context) -> Found:
    """Estimates the primary contrast under all combinations of load measure (of all work, or the plan's own;
    those known on most {steps}), window of the usual load (3, 4, 6; when quick the plan's own and 6),
    {outcome} summary, reading of {steps} without sessions, exposures held equal and estimator (mixed with
    person intercepts, within people). Which {outcome} is adjusted for, and counts of hard sets alone, are
    other questions and stand apart. {Outcome} of the same {step}, and later {outcome} with no {outcome}
    held equal, are left out since load that answers {outcome} biases both; they are shown only as 'why not'.
    The joint test slides each person's exposure along in time by the same share of their record in all of up
    to 24 evenly spaced plans, 199 times (99 when quick), and compares the median t; the test of single
    readings compares the largest median t of any load measure, window, {outcome} summary or reading of
    silence. The share of variance that goes with a choice is that between its levels.

    Verdict, where the primary interval leaves out 0: holds when at least 90 of 100 estimates have its sign,
    half of the intervals lie on its side and the joint p is at most 0.05; does_not_hold when fewer than 75 of
    100 have its sign, fewer than 25 of 100 intervals lie on its side, the joint p is above 0.05, or fewer
    than 25 of 100 intervals lie on its side under some load measure, window, {outcome} summary or reading of
    silence; else cannot_tell. Also cannot_tell in the place of holds when the median estimate under one of
    these is less than half of that under the plan's own. Where it includes 0: holds when fewer than 25 of 100
    intervals lie on one side and the joint p is above 0.05; does_not_hold when half or more do and the joint
    p is at most 0.05, or at least 75 of 100 do under some load measure, window, {outcome} summary or reading
    of silence and the p of single readings is at most 0.05; else cannot_tell.
    """
    p, unit, panel = context.primary, context.unit, context.panel
    every = plans(panel, WINDOWS[-1:] if context.quick else WINDOWS)
    groups = [list(g) for _, g in itertools.groupby(every, key=lambda plan: plan.words[:2])]
    found = map_tasks(partial(estimates, panel, p), groups, context.executor)
    table = pd.concat(found, ignore_index=True)
    if len(table) < 2:
        raise ModelError("no other plan can be carried out with these records")
    used, ts = slid(panel, p, every, QUICK if context.quick else SHIFTS, context.rng(NAME))
    joint, single = joint_p(ts), single_p(used, ts)
    of_zero, by_choice, first = sides(table), shares(table), own_row(panel, table, p, every[0])
    by_choice = by_choice if with_load(panel) else by_choice.drop(list(OF_LOAD))
    alike = float((np.sign(table["estimate"]) == np.sign(p.answer.estimate)).mean())
    apart_shares = parting_shares(table, of_zero, p.answer.side)
    parting = [(choice, level) for choice, level, share in apart_shares if share >= MOST]
    smaller = shrunk(table, first) if p.answer.side else []
    above, below = (float((of_zero == s).mean()) for s in (1, -1))
    verdict = judged(p.answer.side, alike, below if p.answer.side < 0 else above, max(above, below), joint)
    if parting and (p.answer.side or single <= LEVEL):
        verdict = "does_not_hold"
    if verdict == "holds" and smaller:
        verdict = "cannot_tell"
    reason = {
        "holds": "clear" if p.answer.side else "includes_0",
        "does_not_hold": "parting" if parting else "all",
        "cannot_tell": "smaller" if smaller else "neither",
    }[verdict]
    in_order = [choice for choice in CHOICES if choice in by_choice.index]
    medians = {
        (choice, level): float(part.median())
        for choice in by_choice.index
        for level, part in sorted(
            table["estimate"].groupby(table[choice]), key=lambda one: LOAD_MEASURES.get(one[0], one[0])
        )
    }
    apart = others_asked(context)
    shared = {"alike": alike, "above": above, "below": below}
    numbers: dict[str, Any] = {"/".join(("parting", *one)): True for one in parting}
    numbers |= {"/".join(("smaller", *one)): True for one in smaller}
    numbers |= {"primary": context.measured(p.answer, told=False), "plans": Measured(len(table), "plans")}
    numbers["middle"] = Measured(
        float(np.quantile(table["estimate"], 0.5)), unit, *middle(table["estimate"].to_numpy())
    )
    numbers |= {name: Measured(share, "share") for name, share in shared.items()}
    numbers |= {"joint_p": Measured(joint, "probability"), "single_p": Measured(single, "probability")}
    numbers["parting_share"] = Measured(max((s for *_, s in apart_shares), default=np.nan), "share")
    numbers |= {f"variance/{c}": Measured(share, "share", of=(c,)) for c, share in by_choice.items()}
    numbers |= {"/".join(("median", *of)): Measured(value, unit, of=of) for of, value in medians.items()}
    drawn = _drawn(table[["estimate", "low", "high", *in_order]], first, apart)
    claim = context.claim(NAME, verdict, reason, **numbers, **apart)
    return Found(claim, Drawing("specifications", drawn, {"choices": list(by_choice.index)}))


def judged(own: int, alike: float, beside: float, clear: float, joint: float) -> str:
    """The verdict from the primary interval's side, the shares and the joint p."""
    if own:
        if alike < 0.75 or beside < 0.25 or joint > LEVEL:
            return "does_not_hold"
        return "holds" if alike >= 0.9 and beside >= 0.5 else "cannot_tell"
    if clear >= 0.5 and joint <= LEVEL:
        return "does_not_hold"
    return "holds" if clear < 0.25 and joint > LEVEL else "cannot_tell"


def parting_shares(table: pd.DataFrame, found: np.ndarray, own: int) -> list[tuple[str, str, float]]:
    """Readings of the record, as (choice, level, share of the intervals that part from the primary one: off
    its side of 0, or on to one side when it includes 0); choices with one level are left out.
    """
    out: list[tuple[str, str, float]] = []
    for choice in READINGS:
        levels = table[choice].to_numpy()
        every = dict.fromkeys(levels)
        for level in every if len(every) > 1 else ():
            here = found[levels == level]
            off = (here != own).mean() if own else max((here == s).mean() for s in (1, -1))
            out.append((choice, str(level), float(off)))
    return out


def shrunk(table: pd.DataFrame, own: int | None) -> list[tuple[str, str]]:
    """Readings of the record, as (choice, level), under which the median estimate is less than `HALF` of that
    under the plan's own reading, or has the other sign.
    """
    out: list[tuple[str, str]] = []
    if own is None:
        return out
    for choice in READINGS:
        medians = table.groupby(choice)["estimate"].median()
        base = float(medians.loc[str(table.loc[own, choice])])
        out += [
            (choice, str(level))
            for level, value in medians.items()
            if value * np.sign(base) < HALF * abs(base)
        ]
    return out


def slid(
    panel: Panel, question: Primary, every: list[Plan], shifts: int, rng: np.random.Generator
) -> tuple[list[Plan], np.ndarray]:
    """Evenly spaced plans and their (plans, 1 + shifts) t, under shifts by the same share of each person's
    record in all of them; column 0 is the record as it is. ModelError when none of them can be estimated
    within people."""
    people = np.unique(panel.frame["person"].to_numpy(dtype=object).astype(str))
    share = np.vstack([np.zeros(len(people)), rng.random((shifts, len(people)))])
    chosen = [every[i] for i in evenly(len(every), JOINT)]
    used, ts = [], []
    load = panel.study.variables[question.term].whole
    for i, plan in enumerate(chosen):
        made = designs(panel, question, plan)
        if not made:
            continue
        d = list(made.values())[i % len(made)]
        small = gate_for(d.n_people).within_only
        d = few(d) if small else d
        if question.column not in d.names:
            continue
        shift = (share[:, np.searchsorted(people, d.people)] * np.bincount(d.person)).astype(int)
        at = [d.names.index(name) for name in moving(d, question.column, load)]
        cross = CrossProducts.build(d.y, d.X, None, d.person).with_columns(
            at, d.X[:, at][slid_rows(d.person, shift)]
        )
        place = d.names.index(question.column)
        found = fit(cross).contrast(np.eye(cross.p)[place]) if small else fixed_many(cross, place)
        t = found.estimate / found.std_error
        if np.isfinite(t[0]):
            used.append(plan)
            ts.append(t)
    if not ts:
        raise ModelError("no plan can be estimated within people")
    return used, np.stack(ts)


def joint_p(ts: np.ndarray) -> float:
    """p of the median t over plans, two-sided."""
    return _beyond(np.abs(np.nanmedian(ts, axis=0)))


def single_p(used: list[Plan], ts: np.ndarray) -> float:
    """p of the largest median t, either way, of any load measure, window, pain summary or reading of silence:
    one p for all of them.
    """
    largest = [
        np.abs(np.nanmedian(ts[[plan.words[k] == level for plan in used]], axis=0))
        for k in range(len(READINGS))
        for level in dict.fromkeys(plan.words[k] for plan in used)
    ]
    return _beyond(np.max(largest, axis=0))


def _beyond(values: np.ndarray) -> float:
    return float((1 + np.sum(values[1:] >= values[0] - 1e-9)) / len(values))


def own_row(panel: Panel, table: pd.DataFrame, question: Primary, plan: Plan) -> int | None:
    """Index of the study's own plan: its readings, the exposures it holds equal and the mixed model, else
    within people.
    """
    here = (table[list(READINGS)] == list(plan.words)).all(axis=1)
    here &= table[CHOICES[4]].eq(next(iter(held_equal(panel, question))))
    for model in (MIXED, WITHIN):
        rows = table.index[here & table[CHOICES[5]].eq(model)]
        if len(rows):
            return int(rows[0])
    return None


def _drawn(table: pd.DataFrame, own: int | None, apart: dict[str, Measured]) -> pd.DataFrame:
    """The picture's rows: plans (estimate, low, high, choices) sorted by estimate, then other questions with
    a label in the place of x."""
    choices = list(table.columns[3:])
    columns = ["x", "label", "estimate", "low", "high", "primary", *choices]
    ordered = table.assign(primary=table.index == own, label="")
    ordered = ordered.sort_values("estimate", kind="stable", ignore_index=True)
    ordered = ordered.assign(x=np.arange(1.0, len(ordered) + 1))[columns]
    if not apart:
        return ordered
    rows = [(name, v.value, v.low, v.high) for name, v in apart.items()]
    rest = pd.DataFrame(rows, columns=["label", "estimate", "low", "high"])
    rest = rest.assign(x=np.nan, primary=False, **dict.fromkeys(choices, ""))
    return pd.concat([ordered, rest[columns]], ignore_index=True)


def others_asked(context: Context) -> dict[str, Measured]:
    """Other questions, for comparison: the other adjustment for the outcome, load measures of another
    exposure, and what is left out with the reason why.
    """
    p, panel, outcome = context.primary, context.panel, context.outcome
    table = context.fit.tables.get("adjustments", pd.DataFrame({"primary": []}))
    found = {
        f"held/{r['pain_adjusted']}": Measured(r["estimate"], context.unit, r["low"], r["high"])
        for r in table.to_dict("records")
        if not r["primary"]
    }
    for plan in others(panel):
        for r in estimates(panel, p, [plan])[:1].to_dict("records"):
            of = plan.words[:1]
            found[f"load/{of[0]}"] = Measured(r["estimate"], context.unit, r["low"], r["high"], of=of)
    for name, asked in {"why_same": outcome.name, "why_none": p.outcome}.items() if outcome.lag else ():
        try:
            d = design(panel, exposures=p.exposures, pain_adjusted="none", outcome=asked)
            found[name] = context.measured(answer(d, p.column, p.size))
        except ModelError:
            continue
    return found
