"""Which contrast of the primary exposure people really show, and whether 'practically no difference' may be
said of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.effects import LOW_TO_HIGH
from lagwise.core.study import Study
from lagwise.models.contrasts import Contrast, trained_rows
from lagwise.models.design import Design
from lagwise.models.priors import SLOPE_OF
from lagwise.models.rows import planned_contrast

REACHED = 0.05
"""Share of steps that must reach a contrast before it counts as one that people show."""
NUMBERS = ("estimate", "low", "high", "p_practically_zero", "p_important")
COLUMNS = (
    "contrast", "term", "from_value", "to_value", "size", "share", "n_steps", "reached", "estimate", "low",
    "high", "inside", "may_say", "p_practically_zero", "p_important",
)  # fmt: skip


def reach_table(
    design: Design, column: str, study: Study, planned: Mapping[str, float], usual: Mapping[str, float]
) -> pd.DataFrame:
    """The planned contrast of the primary exposure beside the one between its usual low and usual high.

    The usual low and high lie one within-person SD below and above: the mean over people of each person's SD,
    over steps trained at a usual load for jump and over all steps of the model otherwise. A difference can
    only be called practically none for a contrast that people show: any exposure makes practically no
    difference when it is moved little enough, and what nobody reached was not seen. So `may_say` asks of
    either row that its interval lies within +/- practically_zero; of the planned one also that at least
    `REACHED` of the steps reach it and, where it is the smaller of the two, that the interval of the other
    lies within as well.

    Parameters
    ----------
    design : Design
    column : str
        Column of the primary exposure.
    study : Study
    planned, usual : mapping
        estimate, low and high of the two contrasts in points; p_practically_zero and p_important too where
        there is a posterior.

    Returns
    -------
    DataFrame
        Columns `COLUMNS`; the planned contrast's row first, then `LOW_TO_HIGH`. `from_value`, `to_value` and
        `size` on the column's scale (log units for jump, departures from the person's own mean otherwise).
        `share` of `n_steps` at or beyond `to_value`; `reached`: at least `REACHED`. `estimate`, `low` and
        `high` in points. `inside`: the interval holds 0 and lies within +/- practically_zero. The
        probabilities are missing for engines without a posterior.
    """
    values, spread = shown(design, column)
    label, size = planned_contrast(study)
    rows: list[dict[str, Any]] = []
    asked = (label, 0.0, size, planned), (LOW_TO_HIGH, -spread, spread, usual)
    for label, start, end, numbers in asked:
        share = float((values >= end).mean() if end >= start else (values <= end).mean())
        low, high = numbers["low"], numbers["high"]
        row = {"contrast": label, "from_value": start, "to_value": end, "size": end - start, "share": share}
        row |= {k: numbers.get(k, np.nan) for k in NUMBERS} | {"reached": share >= REACHED}
        rows.append(row | {"inside": bool(low <= 0 <= high and max(-low, high) <= study.outcome.zero)})
    first, second = rows
    second["may_say"] = second["inside"] and second["size"] > 0
    larger = abs(first["size"]) >= second["size"]
    first["may_say"] = first["inside"] and first["reached"] and (larger or second["may_say"])
    shared = {"term": study.analysis.primary, "n_steps": len(values)}
    return pd.DataFrame([row | shared for row in rows], columns=list(COLUMNS))


def shown(design: Design, column: str) -> tuple[np.ndarray, float]:
    """Values of a column over the steps its contrast speaks of (steps trained at a usual load for jump), and
    the mean within-person SD."""
    rows = shown_rows(design, column)
    values = design.X[rows, design.names.index(column)]
    own = pd.Series(values).groupby(design.person[rows]).std().dropna()
    return values, float(own.mean()) if len(own) else 0.0


def shown_rows(design: Design, column: str) -> np.ndarray:
    """Rows that a contrast of a column speaks of: steps trained at a usual load for jump, else all."""
    return trained_rows(design) if column == SLOPE_OF else np.arange(design.n_steps)


def low_to_high(design: Design, contrasts: Sequence[Contrast]) -> list[Contrast]:
    """The contrast from usual low to usual high that goes with a primary contrast; none where the first of
    `contrasts` is not primary."""
    if not contrasts or not contrasts[0].primary:
        return []
    first = contrasts[0]
    spread = shown(design, first.column)[1]
    reference = None if first.reference is None else first.reference - spread
    below = spread if first.reference is None else 0.0
    return [
        replace(first, label=LOW_TO_HIGH, reference=reference, compared=spread, below=below, primary=False)
    ]
