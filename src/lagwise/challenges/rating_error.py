"""Ratings as measures with error, and load as answering the pain behind them: does the reading stay?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import side
from lagwise.challenges.phrases import capital, fixed, interval, places, sample, stays, step_word
from lagwise.core.errors import NotApplicable
from lagwise.core.results import Challenge, Picture
from lagwise.models.rated_data import rated_data
from lagwise.models.rated_fit import RatedFit, error_sd, fit_joint, held_error
from lagwise.models.rows import limits

NAME = "rating_error"
TITLE = "Error in pain ratings"
QUESTION = "Would the reading be another one if ratings stray from pain, and {exposure} answers the pain rather than the rating?"
LIMITS = "It takes a rating's error as new in every {step} and load's answer as the same in all people. Ratings that drift over months, or that lean the same way after heavy {steps}, are not covered."
SIZES = (0.1, 0.3, 0.5, 0.7, 1.0)
QUICK_SIZES = (0.3, 0.7)
"""Error SDs of a step's rating, points, that are tried beside the one estimated."""
ANSWERS = {"felt": 0.0, "rated": math.nan}
"""What load answers: the pain that lasts (k = 0) or the rating itself (k = f)."""


@dataclass(frozen=True)
class Cell:
    """The primary contrast at one error SD and under one answer of load, '' where the record tells it."""

    error: float
    answers: str
    estimate: float
    low: float
    high: float


def run(context: Context) -> Challenge:
    """The joint model of ratings, load and pain (`fit_rated`) at its own estimate, and again with the error SD of a {step}'s rating held at 0.1 to 1.0 points, once with load answering only the pain that lasts (k = 0) and once the rating itself (k = f).

    Verdict: does_not_hold when the primary interval leaves out 0 and the joint model's, at its own estimate, includes it or lies on the other side; holds when both lie on the same side of 0 or both include it, and so does
    every interval at error SDs that the record leaves room for (the 95 % interval of the estimated SD); else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    if p.term != "jump":
        raise NotApplicable("the joint model's answer is about load")
    found = fit_joint(rated_data(context.panel))
    sd, low, high = error_sd(found)
    own = _cell(found, p.size, sd, "")
    least = math.sqrt(found.days)
    cells = [
        _cell(
            fit_joint(found.data, near=found, held={"log_sw": held_error(size, found.days), "k": k}), p.size, size, name
        )
        for size in (QUICK_SIZES if context.quick else SIZES)
        if size > least
        for name, k in ANSWERS.items()
    ]
    was, now = p.answer.side, side(own.low, own.high)
    inside = [c for c in cells if low <= c.error <= high]
    if was not in (0, now):
        verdict = "does_not_hold"
    elif was == now and all(side(c.low, c.high) == now for c in inside):
        verdict = "holds"
    else:
        verdict = "cannot_tell"
    decimals = places(own.low, own.high)
    sentence = (
        f"With ratings as they are the difference is {fixed(p.answer.estimate, decimals)} points ({interval(p.answer.low, p.answer.high, decimals)}). Taken as measures with error (SD {sd:.1f} points, 95 % interval {low:.1f} to {high:.1f}) of the pain "
        f"that load answers, it is {fixed(own.estimate, decimals)} points ({interval(own.low, own.high, decimals)})."
    )
    if cells:
        values = [c.estimate for c in cells]
        sentence += f" Over error SDs of {min(c.error for c in cells):.1f} to {max(c.error for c in cells):.1f} points, and load answering pain or the rating, it lies between {fixed(min(values), decimals)} and {fixed(max(values), decimals)} points."
    reading = {
        "does_not_hold": "The reading rests on ratings being the pain itself.",
        "holds": "The reading stays." + stays(was),
        "cannot_tell": "How far ratings stray, and what load answers, decides the reading, and the record tells it only in part.",
    }[verdict]
    rows = [
        row("joint model at its own estimate", own.estimate, "points", own.low, own.high, key="joint"),
        row("error SD of a rating", sd, "points", low, high),
    ]
    rows += [
        row(f"error SD {c.error:.1f}, load answers {_words(c)}", c.estimate, "points", c.low, c.high) for c in cells
    ]
    return Challenge(
        NAME,
        TITLE,
        QUESTION,
        verdict,
        numbers(rows),
        f"{sentence} {reading}",
        LIMITS,
        _picture(
            own,
            cells,
            p.label,
            sample(
                replace(p.answer, n_people=len(found.data.people), n_steps=int(np.isfinite(found.data.y).sum())), step
            ),
            decimals,
        ),
    )


def _cell(found: RatedFit, size: float, error: float, answers: str) -> Cell:
    estimate, std_error, df = found.contrast("jump", size)
    return Cell(error, answers, estimate, *limits(estimate, std_error, df))


def _words(cell: Cell) -> str:
    return "the rating" if cell.answers == "rated" else "felt pain"


def _picture(own: Cell, cells: list[Cell], label: str, said: str, decimals: int) -> Picture:
    drawn = [(f"as the record tells it (error SD {own.error:.1f})", own.estimate, own.low, own.high, "")]
    drawn += [(f"error SD {c.error:.1f}, load answers {_words(c)}", c.estimate, c.low, c.high, "") for c in cells]
    alt = "; ".join(f"{name}: {fixed(value, decimals)} points" for name, value, *_ in drawn) + "."
    return Picture(
        "intervals", "The estimate if ratings stray from pain", pd.DataFrame(drawn, columns=["label", "estimate", "low", "high", "group"]), f"difference in pain, points, per {label}", "", capital(alt),
        {"reference": 0, "subtitle": said},
    )  # fmt: skip
