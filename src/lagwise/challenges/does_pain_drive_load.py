"""The reverse path: the exposure of a step given pain before it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Primary, Row, numbers, row, row_of
from lagwise.challenges.estimate import Answer, answer, side
from lagwise.challenges.phrases import (
    capital,
    difference,
    exposure_name,
    fixed,
    interval,
    places,
    said,
    sample,
    span,
    step_word,
)
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Panel, Picture
from lagwise.core.terms import EXPOSURES
from lagwise.models.design import columns_for, design_from, usual_held
from lagwise.models.rated_fit import RatedFit
from lagwise.models.rating_noise import UNKNOWN, RatingNoise, Span, rating_noise
from lagwise.models.rows import limits

NAME = "does_pain_drive_load"
TITLE = "Does {exposure} follow pain?"
QUESTION = (
    "Is {exposure} lower, or higher, after pain has been higher, so that the order of the two is not what it seems?"
)
LIMITS = (
    "Pain is rated once in a while; an answer to pain between two ratings, or to a trainer's advice, is not seen here. The correction takes a rating's error as new in every {step}; "
    "training planned in cycles can look like an answer to pain."
)
SMALL = 5.0
"""Percent of load per point of the pain that lasts, either way, that counts as practically no reverse path."""
MOST = 5.0
"""Largest log ratio that is written as a percent."""
SMALL_SD = 0.1
"""The same for exposures other than load, in within-person SDs of the exposure."""


@dataclass(frozen=True)
class Path:
    """The exposure of a step per point of pain, with its unit, that unit in a sentence and the size that counts as small."""

    found: Answer
    unit: str
    words: str
    small: float


def run(context: Context) -> Challenge:
    """Models the exposure of step t from pain before t (and, beside it, from pain of t), each person against their own mean, at the same usual load.

    For load, on trained steps, 100 (exp(b) - 1) is the percent by which load differs after pain one point higher.

    A rating before is not the pain that load answers: its error and what of pain does not last until training shrink the answer, to carry-over times reliability of what it is. For load, the answer to the pain that lasts is therefore that of the joint model (`fit_rated`: f), or, where it cannot be fitted, of the rating of the same {step}
    over its reliability (`models.rating_noise`); beside it from the rating of the {step} before as instrument for that of the {step}, right also where it does but wider.

    A reverse path does not break a result that holds pain equal, but misleads one that does not. Verdict: informative when the interval leaves out 0 (there
    is a reverse path); holds when it includes 0 and the corrected one lies within 5 in 100 of load per point either way (for other exposures the interval as it is within 0.1 within-person SD);
    else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    before = reverse_path(context.panel, p, "before")
    try:
        during = reverse_path(context.panel, p, "during")
    except ModelError:
        during = None
    lasting = corrected(context) if p.term == "jump" else None
    low, high = (
        (lasting.found.low, lasting.found.high) if lasting is not None else (before.found.low, before.found.high)
    )
    other = context.fit.tables["adjustments"]
    readings = {side(low, high) for low, high in zip(other["low"], other["high"], strict=True)}
    if before.found.side != 0:
        alike = "the same way" if len(readings) == 1 else "differently"
        verdict = "informative"
        reading = f"There is a reverse path; the primary answer reads {alike} under the two pain adjustments ({_both(other)})."
    elif -before.small <= low and high <= before.small:
        verdict, reading = "holds", "Practically no reverse path is seen."
    else:
        verdict, reading = "cannot_tell", "A reverse path that matters is neither seen nor ruled out."
    name = exposure_name(p)
    sentence = f"After pain one point above a person's own mean, {name} was {said(before.found, before.words)} ({sample(before.found, step)})."
    if during is not None and (lasting is None or not lasting.found.known):
        sentence += f" Beside pain of the same {step} it was {said(during.found, during.words)}, in which both directions are mixed."
    if lasting is not None:
        sentence += f" {_lasting(lasting, step)}"
    return Challenge(
        NAME, TITLE, QUESTION, verdict, numbers(_rows(before, during, lasting, other, step)), f"{sentence} {reading}", LIMITS,
        _picture(before, during, lasting, step, name),
    )  # fmt: skip


def reverse_path(panel: Panel, p: Primary, pain: str) -> Path:
    """The primary exposure of a step per point of pain `before` or `during` it, other things in the model: usual load and the step index.

    Raises
    ------
    ModelError
        When the gate or the data do not allow it.
    """
    column = {"before": "pain_before", "during": "pain"}[pain]
    frame, outcome = usual_held(panel.frame), p.term
    load = p.term == "jump"
    if load:
        frame = frame[frame["rested"].eq(0) & frame["restarted"].eq(0)]
    found = answer(design_from(frame, columns_for(panel, (), pain), outcome=outcome), f"{column}_within")
    if load:
        value, low, high = (100 * float(np.expm1(v)) for v in (found.estimate, found.low, found.high))
        scale = float(np.exp(found.estimate)) * 100
        found = replace(found, estimate=value, low=low, high=high, std_error=scale * found.std_error)
        return Path(found, "%", "%", SMALL)
    spread = float(frame[p.column].std())
    unit = EXPOSURES[p.term].unit + "s"
    return Path(found, unit, unit, SMALL_SD * spread)


@dataclass(frozen=True)
class Lasting:
    """Percent of load per point of the pain that lasts, and the same by the rating before as instrument, each with its limits (infinite or NaN where not known); what the ratings say of themselves, or `why` they say nothing."""

    found: Span = UNKNOWN
    instrument: Span = UNKNOWN
    noise: RatingNoise | None = None
    why: str = ""


def corrected(context: Context) -> Lasting:
    """The answer of load to the pain that lasts: by the joint model, and by the rating before as instrument."""
    try:
        noise = rating_noise(context.panel)
    except ModelError as error:
        return Lasting(why=error.what)
    if not noise.answer.known:
        return Lasting(noise=noise, why="too few trained steps stand between two ratings")
    found, instrument = (
        Span(percent(s.value), percent(s.low), percent(s.high))
        for s in (by_joint_model(context.joint) or noise.answer, noise.answer_by_instrument)
    )
    return Lasting(found, instrument, noise)


def by_joint_model(fit: RatedFit | None) -> Span | None:
    """Log load per point of felt pain by the joint model, None where there is none."""
    if fit is None:
        return None
    low, high = limits(fit.free[6], float(np.sqrt(fit.spread[6, 6])), np.inf)
    return Span(float(-fit.free[6]), -high, -low)


def percent(log_ratio: float) -> float:
    """Percent by which load differs at a difference of its log; infinite at one beyond any record."""
    return 100 * float(np.expm1(log_ratio)) if log_ratio < MOST else np.inf


def _lasting(lasting: Lasting, step: str) -> str:
    found, beside = lasting.found, lasting.instrument
    if lasting.noise is None or not found.known:
        return f"How much a rating's error shrinks this is not known ({lasting.why})."
    shrunk = f"A rating holds {100 * lasting.noise.reliability.value:.0f} of 100 parts of lasting differences, the rest being its own error"
    if not lasting.noise.told:
        shrunk += " (mostly assumed, since these ratings hardly tell)"
    decimals = places(found.low, found.high)
    size = f"{difference(found.value, decimals, '%')} ({interval(found.low, found.high, decimals, '%')}) with load and ratings modelled together"
    other = (
        f"{difference(beside.value, decimals, '%')} ({interval(beside.low, beside.high, decimals, '%')}) by the one before"
        if beside.known
        else f"not known by the one before, of which too little is left in the {step}"
    )
    return f"{shrunk}. Allowing for that, load per point of the pain that lasts was {size}, and {other}."


def _both(other: pd.DataFrame) -> str:
    words = {"before": "pain before", "during": "pain during"}
    parts = []
    for r in other.to_dict("records"):
        decimals = places(r["low"], r["high"])
        parts.append(
            f"{words[r['pain_adjusted']]}: {fixed(r['estimate'], decimals)}, {span(r['low'], r['high'], decimals)}"
        )
    return "; ".join(parts)


def _spread(found: Span) -> tuple[float, str, float, float]:
    return found.value, "%", found.low, found.high


def _rows(before: Path, during: Path | None, lasting: Lasting | None, other: pd.DataFrame, step: str) -> list[Row]:
    rows = [row_of("per point of pain before", before.found, before.unit)]
    if during is not None:
        rows.append(row_of(f"per point of pain of the same {step}", during.found, during.unit))
    if lasting is not None and lasting.noise is not None:
        n = lasting.noise
        rows += [
            row("per point of the pain that lasts", *_spread(lasting.found)),
            row("the same, by the rating before as instrument", *_spread(lasting.instrument)),
            row(
                "carry-over of the pain that lasts",
                n.carry_over.value,
                "points per point",
                n.carry_over.low,
                n.carry_over.high,
            ),
            row("error SD of a rating", n.error_sd.value, "points", n.error_sd.low, n.error_sd.high),
            row(
                "reliability of a rating within people",
                n.reliability.value,
                "share",
                n.reliability.low,
                n.reliability.high,
            ),
        ]
    for r in other.to_dict("records"):
        rows.append(
            row(f"primary answer adjusted for pain {r['pain_adjusted']}", r["estimate"], "points", r["low"], r["high"])
        )
    return rows


def _picture(before: Path, during: Path | None, lasting: Lasting | None, step: str, name: str) -> Picture:
    shown = [("pain before, as rated", before)] + (
        [(f"pain of the same {step}, as rated", during)] if during is not None else []
    )
    drawn = [(label, v.found.estimate, v.found.low, v.found.high, "") for label, v in shown]
    if lasting is not None and lasting.found.known:
        drawn.append(("the pain that lasts, corrected", lasting.found.value, lasting.found.low, lasting.found.high, ""))
    data = pd.DataFrame(drawn, columns=["label", "estimate", "low", "high", "group"])
    decimals = places(before.found.low, before.found.high)
    seen = {
        1: f"More {name} after higher pain",
        -1: f"Less {name} after higher pain",
        0: f"No clear difference in {name} after higher pain",
    }
    alt = "; ".join(f"{label}: {said(v.found, v.words)}" for label, v in shown) + "."
    if len(data) > len(shown) and lasting is not None:
        alt += f" The pain that lasts, corrected: {difference(lasting.found.value, decimals, '%')} ({interval(lasting.found.low, lasting.found.high, decimals, '%')})."
    return Picture(
        "intervals", seen[before.found.side], data, f"difference in {name}, {before.unit}, per point of pain", "", capital(alt),
        {"reference": 0, "band": [-before.small, before.small], "band_label": f"within {fixed(before.small, decimals)} {before.unit}: practically none",
         "subtitle": sample(before.found, step)},
    )  # fmt: skip
