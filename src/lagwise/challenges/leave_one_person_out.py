"""The primary estimate without each person in turn."""

from __future__ import annotations

from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.context import MANY, Context, Drawing, Found
from lagwise.challenges.estimate import Variants, sides, variants
from lagwise.challenges.influence import Influence, influence
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError
from lagwise.models.design import Design
from lagwise.models.ladder import climb
from lagwise.models.rows import limits
from lagwise.models.within import fit_within

NAME = "leave_one_person_out"
LEVEL = 0.05
MOST = 0.5
"""Share of the information about the estimate from which one person alone carries it."""
SIMULATED, QUICK, FEWER = 499, 199, 99
"""Simulated caseloads, and in records of more than `MANY` people."""
FOREMOST, BATCH = 200, 100
"""People left out of more than `MANY`; fits at a time."""


def run(context: Context) -> Found:
    """Fits the primary model again without each person in turn (of more than 400 without each of the 200
    whose leaving moves the estimate most at the same variances), under the random effects the whole caseload
    carries. Whether a person stands apart is judged by the largest of all people's moves of the estimate,
    each over its own standard deviation, against that in 499 caseloads (199 when quick, 99 with more than 400
    people) simulated from the fitted mixed model, where slopes differ between people as much as they do here:
    one p for everybody.

    Verdict: does_not_hold when somebody's leaving changes the side of 0 of the interval, or whether it
    includes 0, and that person stands apart (p at most 0.05) or brings half or more of the information about
    the estimate; cannot_tell when the reading changes without people like that (the interval then ends so
    near 0 that anyone decides), or when it includes 0 and somebody stands apart (the average then hides that
    one person differs); else holds.
    """
    p, unit = context.primary, context.unit
    ready, standing = variants(context.design, p.column, p.size), _standing(context)
    who = foremost(standing.moved)
    found = without_each(ready, who).assign(p=standing.p[who], share=standing.share[who])
    known = found.dropna(subset=["estimate"])
    if len(known) < len(found) / 2:
        raise ModelError("without one person the model could not be fitted for more than half of them")
    each, apart, share = (known[c].to_numpy() for c in ("estimate", "p", "share"))
    turned = sides(known) != p.answer.side
    verdict = judged(p.answer.side, turned, apart, share)
    most = int(np.argmax(np.abs(each - p.answer.estimate)))
    moved = float(each[most] - p.answer.estimate)
    carries = bool((turned & (apart <= LEVEL)).any())
    one = partial(Measured, alone=True)
    claim = context.claim(
        NAME,
        verdict,
        reason(verdict, int(turned.sum()), carries=carries, apart=bool(np.nanmin(apart) <= LEVEL)),
        everybody=context.measured(p.answer),
        without=one(float(np.median(each)), unit, float(each.min()), float(each.max())),
        moved=one(moved, unit),
        left=one(float(each[most]), unit, told=False),
        errors=one(abs(moved) / p.answer.std_error, "standard errors"),
        farthest=one(float(np.nanmin(apart)), "probability"),
        share=one(float(np.nanmax(share)), "share"),
        turned=one(int(turned.sum()), f"of {len(known)}"),
        tried=one(len(who), f"of {len(standing.p)}", told=len(who) < len(standing.p)),
    )
    whole = {"person": "", "estimate": p.answer.estimate, "low": p.answer.low, "high": p.answer.high}
    data = pd.concat([pd.DataFrame([whole]), known.sort_values("estimate")], ignore_index=True)
    data = data.rename(columns={"person": "label"})[["label", "estimate", "low", "high"]]
    return Found(
        claim, Drawing("intervals", data.assign(group="", primary=data.index == 0), {"reference": 0})
    )


def judged(own: int, turned: np.ndarray, p: np.ndarray, share: np.ndarray) -> str:
    """The verdict from the primary interval's side and, per person, whether leaving changes the reading, the
    p of standing apart and the share of information."""
    apart = p <= LEVEL
    if (turned & (apart | (share >= MOST))).any():
        return "does_not_hold"
    return "cannot_tell" if turned.any() or (own == 0 and apart.any()) else "holds"


def _standing(context: Context) -> Influence:
    """Everybody's standing under the mixed model; nobody's is known where none can be fitted."""
    p, many = context.primary, context.design.n_people > MANY
    simulated = FEWER if many else QUICK if context.quick else SIMULATED
    try:
        return influence(climb(context.design, p.column), p.column, simulated, context.rng(NAME))
    except ModelError:
        return Influence(*(np.full(context.design.n_people, value) for value in (np.nan, 1.0, 0.0, 0.0)))


def foremost(moved: np.ndarray) -> np.ndarray:
    """Positions of the people to leave out, ascending: all, or of many those whose leaving moves most."""
    everybody = np.arange(len(moved))
    return everybody if len(moved) <= MANY else np.sort(np.argsort(-moved, kind="stable")[:FOREMOST])


def reason(verdict: str, turned: int, *, carries: bool, apart: bool) -> str:
    """What the verdict rests on: somebody who stands apart or brings much, moves that chance gives, or
    nobody."""
    if verdict == "does_not_hold":
        return "apart" if carries else "brings"
    return "chance" if turned else "apart" if verdict == "cannot_tell" or apart else "nobody"


def without_each(ready: Variants, who: np.ndarray | None = None) -> pd.DataFrame:
    """person, estimate, low, high with that person left out, for everybody or those at positions `who`; NaN
    where the model cannot be fitted without them.
    """
    d, everybody = ready.design, np.arange(ready.design.n_people)
    who = everybody if who is None else who
    if ready.structure is None:
        found = np.array([_within(d, int(i), ready) for i in who])
    else:
        parts = []
        for i in range(0, len(who), BATCH):
            others = np.stack([np.delete(everybody, out) for out in who[i : i + BATCH]])
            one = ready.contrast(ready.cross.with_people(others))
            parts.append(np.column_stack([one.estimate, one.std_error, one.df]))
        found = np.concatenate(parts)
    reach = [limits(*v) if np.isfinite(v).all() else (np.nan, np.nan) for v in found]
    low, high = np.array(reach).T
    estimate = np.where(np.isnan(low), np.nan, found[:, 0])
    people = [d.people[i] for i in who]
    return pd.DataFrame({"person": people, "estimate": estimate, "low": low, "high": high})


def _within(d: Design, out: int, ready: Variants) -> tuple[float, float, float]:
    """The within-person estimate, standard error and df without one person."""
    part = d.of(np.delete(np.arange(d.n_people), out))
    try:
        return fit_within(part).contrast(ready.column, ready.size)
    except (ModelError, ValueError):
        return (np.nan,) * 3
