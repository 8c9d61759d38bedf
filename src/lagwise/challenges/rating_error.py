"""Ratings as measures with error, and load as answering the pain behind them: does the reading stay?"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from lagwise.challenges.context import Context, Found, about_later_load, intervals
from lagwise.challenges.estimate import side
from lagwise.core.claim import Measured
from lagwise.models.rated_fit import RatedFit, error_sd, fit_joint, held_error
from lagwise.models.rows import limits

NAME = "rating_error"
SIZES = (0.1, 0.3, 0.5, 0.7, 1.0)
QUICK_SIZES = (0.3, 0.7)
"""Error SDs of a step's rating that are tried beside the one estimated, in tenths of the scale."""
ANSWERS = {"felt": 0.0, "rated": math.nan}
"""What load answers: the pain that lasts (k = 0) or the rating itself (k = f)."""


applies = about_later_load


def run(context: Context) -> Found:
    """The joint model of ratings, load and pain (`fit_rated`) at its own estimate, and again with the error
    SD of a {step}'s rating held at 0.1 to 1.0 points, once with load answering only the pain that lasts (k
    = 0) and once the rating itself (k = f).

    Verdict: does_not_hold when the primary interval leaves out 0 and the joint model's, at its own estimate,
    includes it or lies on the other side; holds when both lie on the same side of 0 or both include it, and
    so does every interval at error SDs that the record leaves room for (the 95 % interval of the estimated
    SD); else cannot_tell.
    """
    p, found, scale = context.primary, context.rated, context.outcome.scale
    sd, low, high = error_sd(found)
    tried = QUICK_SIZES if context.quick else SIZES
    held = {
        f"{name}_{tenths}": _contrast(
            fit_joint(found.data, near=found, held={"log_sw": held_error(size, found), "k": k}),
            context,
            (size, name),
        )
        for tenths, size in ((tenths, tenths * scale) for tenths in tried)
        if size > found.least_error
        for name, k in ANSWERS.items()
    }
    own = _contrast(found, context, ())
    was, now = p.answer.side, own.side
    inside = [c for c in held.values() if low <= c.of[0] <= high]
    verdict = "holds" if was == now and all(c.side == now for c in inside) else "cannot_tell"
    if was not in (0, now):
        verdict = "does_not_hold"
    plain, error = context.measured(p.answer, told=False), Measured(sd, context.unit, low, high)
    reason = "sure" if was else "open"
    claim = context.claim(NAME, verdict, reason, primary=plain, joint=own, error_sd=error, **held)
    return Found(claim, intervals(claim, "joint", *held))


def _contrast(found: RatedFit, context: Context, of: tuple[Any, ...]) -> Measured:
    """The primary contrast by a joint model, of the error SD and the answer of load that were held."""
    estimate, std_error, df = found.contrast(context.primary.column, context.primary.size)
    low, high = limits(estimate, std_error, df)
    people, steps = len(found.data.people), int(np.isfinite(found.data.y).sum())
    side(low, high)  # raises where an interval is not known
    return Measured(estimate, context.unit, low, high, people, steps, of)
