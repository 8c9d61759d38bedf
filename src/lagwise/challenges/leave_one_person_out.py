"""The primary estimate without each person in turn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import Variants, side, variants
from lagwise.challenges.influence import Influence, influence
from lagwise.challenges.phrases import capital, count, fixed, p_text, places, sample, stays, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture
from lagwise.models.design import Design
from lagwise.models.ladder import climb
from lagwise.models.rows import limits
from lagwise.models.within import fit_within

NAME = "leave_one_person_out"
TITLE = "Leave one person out"
QUESTION = "Does the reading rest on any one person?"
LIMITS = (
    "It leaves out one person at a time. Two or three people alike can carry a result together and go unseen here, one whose {exposure} is followed by pain only somewhat more than others' is not told from "
    "chance, and it does not say why a person stands apart."
)
LEVEL = 0.05
MOST = 0.5
"""Share of the information about the estimate from which one person alone carries it."""
SIMULATED, QUICK = 499, 199


def run(context: Context) -> Challenge:
    """Fits the primary model again without each person in turn, under the random effects the whole caseload carries. Whether a person stands apart is judged by the largest of all people's moves of the
    estimate, each over its own standard deviation, against that in 499 caseloads (199 when quick) simulated from the fitted mixed model, where slopes differ between people as much as they do here: one p for everybody.

    Verdict: does_not_hold when somebody's leaving changes the side of 0 of the interval, or whether it includes 0, and that person stands apart (p at most 0.05) or brings half or more of the information about the estimate;
    cannot_tell when the reading changes without people like that (the interval then ends so near 0 that anyone decides), or when it includes 0 and somebody stands apart (the average then hides that one
    person differs); else holds.
    """
    p, step = context.primary, step_word(context.panel.study)
    ready = variants(context.design, p.column, p.size)
    found = without_each(ready)
    known = found.dropna(subset=["estimate"])
    if len(known) < len(found) / 2:
        raise ModelError("without one person the model could not be fitted for more than half of them")
    standing = _standing(context)
    alone = pd.DataFrame({"p": standing.p, "share": standing.share})[found["estimate"].notna().to_numpy()]
    change = known["estimate"] - p.answer.estimate
    sides = [side(low, high) for low, high in zip(known["low"], known["high"], strict=True)]
    turned = np.array(sides) != p.answer.side
    verdict = judged(p.answer.side, turned, alone["p"].to_numpy(), alone["share"].to_numpy())
    farthest, share = float(alone["p"].min()), float(alone["share"].max())
    most = int(np.argmax(change.abs().to_numpy()))
    moved, left = float(change.iloc[most]), float(known["estimate"].iloc[most])
    decimals = places(p.answer.low, p.answer.high)
    low, high = float(known["estimate"].min()), float(known["estimate"].max())
    carries = turned & (alone["p"].to_numpy() <= LEVEL)
    reading = _reading(
        verdict, p.answer.side, int(turned.sum()), farthest, "" if carries.any() else f"{100 * share:.0f}"
    )
    sentence = (
        f"Without one person at a time the estimate stays between {fixed(low, decimals)} and {fixed(high, decimals)} points, {fixed(p.answer.estimate, decimals)} with everybody "
        f"({sample(p.answer, step)}). The largest change is {fixed(moved, decimals)} points, to {fixed(left, decimals)}, without one of them. {reading}"
    )
    ordered = known.sort_values("estimate").assign(group="", primary=False).rename(columns={"person": "label"})
    whole = {"label": "everybody", "estimate": p.answer.estimate, "low": p.answer.low, "high": p.answer.high}
    picture = Picture(
        "intervals",
        "Nobody's leaving changes the reading" if not turned.any() else f"Without {'one person' if turned.sum() == 1 else f'any of {turned.sum()} people'} the reading is another one",
        pd.concat([pd.DataFrame([whole | {"group": "", "primary": True}]), ordered], ignore_index=True),
        f"difference in pain, points, per {p.label}",
        "person left out",
        capital(f"estimates without one person lie between {fixed(low, decimals)} and {fixed(high, decimals)} points. {reading}"),
        {"reference": 0, "subtitle": sample(p.answer, step)},
    )  # fmt: skip
    rows = [
        row("estimate with everybody", p.answer.estimate, "points", p.answer.low, p.answer.high),
        row("estimates without one person", float(known["estimate"].median()), "points", low, high),
        row("largest change", moved, "points"),
        row("largest change, in standard errors", abs(moved) / p.answer.std_error, "standard errors"),
        row("p of the person who stands farthest apart", farthest, "probability"),
        row("largest share of the information that one person brings", share, "share"),
        row("people whose leaving changes the reading", int(turned.sum()), f"of {len(known)}"),
    ]
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def judged(own: int, turned: np.ndarray, p: np.ndarray, share: np.ndarray) -> str:
    """The verdict from the primary interval's side and, per person, whether leaving changes the reading, the p of standing apart and the share of information."""
    apart = p <= LEVEL
    if (turned & (apart | (share >= MOST))).any():
        return "does_not_hold"
    return "cannot_tell" if turned.any() or (own == 0 and apart.any()) else "holds"


def _standing(context: Context) -> Influence:
    """Everybody's standing under the mixed model; nobody's is known where none can be fitted."""
    p, simulated = context.primary, QUICK if context.quick else SIMULATED
    try:
        return influence(climb(context.design, p.column), p.column, simulated, context.rng(NAME))
    except ModelError:
        return Influence(*(np.full(context.design.n_people, value) for value in (np.nan, 1.0, 0.0)))


def _reading(verdict: str, own: int, turned: int, farthest: float, brings: str) -> str:
    apart = f"stands apart from the others by more than chance gives ({p_text(farthest)})"
    if verdict == "does_not_hold":
        who = f"brings {brings} of 100 parts of what is known" if brings else apart
        return f"One person {who}; without them the reading is another one."
    if turned:
        return f"Leaving out {count(turned, 'person', 'people')} (one at a time) changes the reading, but by moves that chance gives: the interval ends close to 0."
    if verdict == "cannot_tell":
        return f"One person {apart}, so that an average which stays undecided does not speak for everybody."
    if farthest <= LEVEL:
        return f"One person {apart}, yet nobody's leaving changes the reading."
    return "Nobody's leaving changes the reading." + stays(own)


def without_each(ready: Variants) -> pd.DataFrame:
    """person, estimate, low, high with that person left out; NaN where the model cannot be fitted without them."""
    d = ready.design
    if ready.structure is None:
        found = np.array([_within(d, i, ready) for i in range(d.n_people)])
    else:
        everybody = np.arange(d.n_people)
        others = np.stack([np.delete(everybody, i) for i in everybody])
        contrast = ready.contrast(ready.cross.with_people(others))
        found = np.column_stack([contrast.estimate, contrast.std_error, contrast.df])
    reach = [limits(*v) if np.isfinite(v).all() else (np.nan, np.nan) for v in found]
    table = pd.DataFrame(reach, columns=["low", "high"])
    table.insert(0, "estimate", np.where(table["low"].notna(), found[:, 0], np.nan))
    table.insert(0, "person", d.people)
    return table


def _within(d: Design, out: int, ready: Variants) -> tuple[float, float, float]:
    """The within-person estimate, standard error and df without one person."""
    keep = d.person != out
    part = replace(
        d, y=d.y[keep], X=d.X[keep], person=d.person[keep] - (d.person[keep] > out),
        people=d.people[:out] + d.people[out + 1 :], frame=d.frame[keep],
    )  # fmt: skip
    try:
        return fit_within(part).contrast(ready.column, ready.size)
    except (ModelError, ValueError):
        return (np.nan,) * 3
