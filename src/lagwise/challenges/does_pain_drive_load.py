"""The reverse path: the exposure of a step given pain before it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Primary, Row, numbers, row, row_of
from lagwise.challenges.estimate import Answer, answer, side
from lagwise.challenges.phrases import capital, exposure_name, fixed, places, said, sample, span, step_word
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Panel, Picture
from lagwise.core.terms import EXPOSURES
from lagwise.models.design import columns_for, design_from

NAME = "does_pain_drive_load"
TITLE = "Does load follow pain?"
QUESTION = "Do people train less, or more, after their pain has been higher, so that the order of the two is not what it seems?"
LIMITS = (
    "Pain is rated once in a while; an answer to pain between two ratings, or to a trainer's advice, is not seen here, and a small "
    "reverse path in these ratings does not rule out a larger one."
)
SMALL = 5.0
"""Percent of load per point of pain, either way, that counts as practically no reverse path."""
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

    A reverse path does not break a result that holds pain equal, but misleads one that does not. Verdict: informative when the interval leaves out 0 (there
    is a reverse path, and this is its size); holds when it includes 0 and lies within 5 in 100 of load per point either way (0.1 within-person SD for
    other exposures); else cannot_tell.
    """
    p, step = context.primary, step_word(context.panel.study)
    before = reverse_path(context.panel, p, "before")
    try:
        during = reverse_path(context.panel, p, "during")
    except ModelError:
        during = None
    low, high = before.found.low, before.found.high
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
    if during is not None:
        sentence += f" Beside pain of the same {step} it was {said(during.found, during.words)}, in which both directions are mixed."
    return Challenge(
        NAME, TITLE, QUESTION, verdict, numbers(_rows(before, during, other, step)), f"{sentence} {reading}", LIMITS,
        _picture(before, during, step, name),
    )  # fmt: skip


def reverse_path(panel: Panel, p: Primary, pain: str) -> Path:
    """The primary exposure of a step per point of pain `before` or `during` it, other things in the model: usual load and the step index.

    Raises
    ------
    ModelError
        When the gate or the data do not allow it.
    """
    column = {"before": "pain_before", "during": "pain"}[pain]
    frame, outcome = panel.frame, p.term
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


def _both(other: pd.DataFrame) -> str:
    words = {"before": "pain before", "during": "pain during"}
    parts = []
    for r in other.to_dict("records"):
        decimals = places(r["low"], r["high"])
        parts.append(
            f"{words[r['pain_adjusted']]}: {fixed(r['estimate'], decimals)}, {span(r['low'], r['high'], decimals)}"
        )
    return "; ".join(parts)


def _rows(before: Path, during: Path | None, other: pd.DataFrame, step: str) -> list[Row]:
    rows = [row_of("per point of pain before", before.found, before.unit)]
    if during is not None:
        rows.append(row_of(f"per point of pain of the same {step}", during.found, during.unit))
    for r in other.to_dict("records"):
        rows.append(
            row(f"primary answer adjusted for pain {r['pain_adjusted']}", r["estimate"], "points", r["low"], r["high"])
        )
    return rows


def _picture(before: Path, during: Path | None, step: str, name: str) -> Picture:
    shown = [("pain before", before)] + ([(f"pain of the same {step}", during)] if during is not None else [])
    data = pd.DataFrame(
        [(label, v.found.estimate, v.found.low, v.found.high, "") for label, v in shown],
        columns=["label", "estimate", "low", "high", "group"],
    )
    decimals = places(before.found.low, before.found.high)
    seen = {
        1: f"More {name} after higher pain",
        -1: f"Less {name} after higher pain",
        0: f"No clear difference in {name} after higher pain",
    }
    alt = "; ".join(f"{label}: {said(v.found, v.words)}" for label, v in shown) + "."
    return Picture(
        "intervals", seen[before.found.side], data, f"difference in {name}, {before.unit}, per point of pain", "", capital(alt),
        {"reference": 0, "band": [-before.small, before.small], "band_label": f"within {fixed(before.small, decimals)} {before.unit}: practically none",
         "subtitle": sample(before.found, step)},
    )  # fmt: skip
