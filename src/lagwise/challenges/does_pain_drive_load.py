"""The reverse path: the exposure of a step given pain before it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from lagwise.challenges.context import Context, Found, about_load, intervals
from lagwise.challenges.estimate import answer, side
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError
from lagwise.core.question import held_column
from lagwise.models.design import columns_for, design_from, usual_held
from lagwise.models.rated_fit import RatedFit
from lagwise.models.rating_noise import UNKNOWN, RatingNoise, Span, rating_noise
from lagwise.models.rows import limits

NAME = "does_pain_drive_load"
SMALL = 5.0
"""Percent of load per tenth of the scale, either way, that counts as practically no reverse path."""
MOST = 5.0
"""Largest log ratio that is written as a percent."""
SMALL_SD = 0.1
"""The same for exposures other than load, in within-person SDs of the exposure."""


def run(context: Context) -> Found:
    """Models the exposure of step t from pain before t (and, beside it, from pain of t), each person against
    their own mean, at the same usual load.

    For load, on trained steps, 100 (exp(b) - 1) is the percent by which load differs after pain one point
    higher.

    A rating before is not the pain that load answers: its error and what of pain does not last until training
    shrink the answer, to carry-over times reliability of what it is. For load, the answer to the pain that
    lasts is therefore that of the joint model (`fit_rated`: f), or, where it cannot be fitted, of the rating
    of the same {step} over its reliability (`models.rating_noise`); beside it from the rating of the {step}
    before as instrument for that of the {step}, right also where it does but wider.

    A reverse path does not break a result that holds pain equal, but misleads one that does not. Verdict:
    informative when the interval leaves out 0 (there is a reverse path); holds when it includes 0 and the
    corrected one lies within 5 in 100 of load per point either way (for other exposures the interval as it is
    within 0.1 within-person SD); else cannot_tell.
    """
    before, small = reverse_path(context, "before"), smallest(context)
    try:
        told = {"before": before, "during": reverse_path(context, "during")}
    except ModelError:
        told = {"before": before}
    lasting = None if about_load(context.panel.study) else corrected(context)
    bound = before if lasting is None else lasting.found
    other = context.fit.tables["adjustments"].to_dict("records")
    if side(before.low, before.high) != 0:
        verdict = "informative"
    else:
        verdict = "holds" if -small <= bound.low and bound.high <= small else "cannot_tell"
    adjusted = {
        f"adjusted_{held}": Measured(r["estimate"], context.unit, r["low"], r["high"], of=(held,))
        for r, held in ((r, r["pain_adjusted"]) for r in other)
    }
    alike = len({side(r["low"], r["high"]) for r in other}) == 1
    claim = context.claim(
        NAME,
        verdict,
        "alike" if alike else "apart",
        small=Measured(small, before.unit, told=False),
        **told,
        **({} if lasting is None else lasting.numbers(context.unit)),
        **adjusted,
    )
    drawn = [*told, *(["lasting"] if lasting is not None and lasting.found.known else [])]
    return Found(claim, intervals(claim, *drawn, band=[-small, small]))


def smallest(context: Context) -> float:
    """The size of a reverse path that counts as practically none, in its unit."""
    p = context.primary
    of_load = context.panel.study.variables[p.term].whole
    return SMALL if of_load else SMALL_SD * float(usual_held(context.panel.frame)[p.column].std())


def reverse_path(context: Context, pain: str) -> Measured:
    """The primary exposure of a step per tenth of the outcome's scale (a point of 0-10) `before` or `during`
    it, other things in the model: usual load and the step index. Of load in percent. ModelError when the gate
    or the data do not allow it."""
    p, panel = context.primary, context.panel
    frame, variable = usual_held(panel.frame), panel.study.variables[p.term]
    if variable.whole:
        frame = frame[frame["rested"].eq(0) & frame["restarted"].eq(0)]
    column = f"{held_column(context.outcome, pain)}_within"
    asked = design_from(frame, columns_for(panel, (), pain), outcome=p.term, study=panel.study)
    found = context.measured(answer(asked, column, context.outcome.scale), unit=f"{variable.unit}s")
    if not variable.whole:
        return found
    value, low, high = (100 * float(np.expm1(v)) for v in (found.value, found.low, found.high))
    return replace(found, value=value, unit="%", low=low, high=high)


@dataclass(frozen=True)
class Lasting:
    """Percent of load per point of the pain that lasts, and the same by the rating before as instrument, each
    with its limits (infinite or NaN where not known); what the ratings say of themselves, or `why` they
    say nothing, as a code or in an error's own words."""

    found: Span = UNKNOWN
    instrument: Span = UNKNOWN
    noise: RatingNoise | None = None
    why: str = ""

    def numbers(self, unit: str) -> dict[str, Any]:
        """The numbers as a claim has them."""
        if self.noise is None:
            return {"why": self.why}
        n = self.noise
        told = {
            "lasting": (self.found, "%"),
            "instrument": (self.instrument, "%"),
            "carry_over": (n.carry_over, f"{unit} per {unit.removesuffix('s')}"),
            "error_sd": (n.error_sd, unit),
            "reliability": (n.reliability, "share"),
        }
        numbers = {name: Measured(s.value, u, s.low, s.high) for name, (s, u) in told.items()}
        return numbers | {"why": self.why, "assumed": not n.told}


def corrected(context: Context) -> Lasting:
    """Load's answer to the pain that lasts: the joint model's, and by the rating before as instrument."""
    try:
        noise = rating_noise(context.panel)
    except ModelError as error:
        return Lasting(why=error.what)
    if not noise.answer.known:
        return Lasting(noise=noise, why="few_steps")
    found, instrument = (
        Span(*(percent(context.outcome.scale * v) for v in (s.value, s.low, s.high)))
        for s in (by_joint_model(context.joint) or noise.answer, noise.answer_by_instrument)
    )
    return Lasting(found, instrument, noise)


def by_joint_model(fit: RatedFit | None) -> Span | None:
    """Log load per point of felt pain by the joint model, None where there is none."""
    if fit is None:
        return None
    felt, error = fit.felt
    low, high = limits(felt, error, np.inf)
    return Span(-felt, -high, -low)


def percent(log_ratio: float) -> float:
    """Percent by which load differs at a difference of its log; infinite at one beyond any record."""
    return 100 * float(np.expm1(log_ratio)) if log_ratio < MOST else np.inf
