"""The contrasts a Bayesian fit reports: who is moved by how much, and the rows of the effect table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.effects import PER_SD, PER_UNIT, contrast_label, contrast_size
from lagwise.core.study import INTERVAL, Study
from lagwise.core.terms import whole
from lagwise.models.design import Design
from lagwise.models.gcomp import Move
from lagwise.models.priors import SLOPE_OF, Standardised
from lagwise.models.rows import levels


@dataclass(frozen=True)
class Contrast:
    """One comparison of two predictions for the same person-steps.

    `reference` and `compared` are values of the column in its own units; with None as reference both are
    steps from the values as observed, the first of `below` downwards.
    `primary` marks the study's primary contrast, which is also given as probabilities.
    """

    term: str
    level: str
    column: str
    label: str
    reference: float | None
    compared: float
    rows: np.ndarray
    primary: bool = False
    below: float = 0.0

    @property
    def size(self) -> float:
        """From the first of two compared values to the second."""
        return self.compared + self.below if self.reference is None else self.compared - self.reference

    @property
    def named(self) -> dict[str, Any]:
        """What names it in the effect table."""
        own = {"term": self.term, "level": self.level}
        return own | {"contrast": self.label, "contrast_size": self.size}


def point_contrasts(design: Design, columns: Standardised, study: Study) -> list[Contrast]:
    """The primary contrast first (when its exposure is in the design), then one within-person SD of every
    exposure, one unit of those that have within-person parts, and the plan's contrast of a jump that is not
    primary, so that the mixed model's rows have a counterpart.

    A planned contrast of jump compares trained steps at usual load with the same steps at (1 + contrast) x
    usual load. All other contrasts add to the values as observed, over all person-steps.
    """
    out = []
    every = np.arange(design.n_steps)
    for term in exposures_of(study):
        place, told = _column(term, columns), study.contrast_of(term)
        if place is None:
            continue
        scale = columns.scale[columns.names.index(place[0])]
        out.append(Contrast(term, place[1], place[0], PER_SD, None, float(scale), every))
        if not whole(term):
            out.append(Contrast(term, place[1], place[0], PER_UNIT, None, 1.0, every))
        if told is not None:
            first = term == study.analysis.primary
            start, rows = (0.0, trained_rows(design)) if term == SLOPE_OF else (None, every)
            label, size = contrast_label(term, told), contrast_size(term, told)
            planned = Contrast(term, place[1], place[0], label, start, size, rows, primary=first)
            out.insert(0 if first else len(out), planned)
    return out


def exposures_of(study: Study) -> tuple[str, ...]:
    """All that can be an exposure of a study: its variables but the outcome."""
    return tuple(name for name in study.variables if name != study.outcome.name)


def trained_rows(design: Design) -> np.ndarray:
    """Rows of steps trained with a usual load above 0; every row when there are none."""
    frame = design.frame
    rows = np.flatnonzero(frame["rested"].eq(0).to_numpy() & frame["restarted"].eq(0).to_numpy())
    return rows if len(rows) else np.arange(design.n_steps)


def _column(term: str, columns: Standardised) -> tuple[str, str] | None:
    name, level = (term, "whole") if whole(term) else (f"{term}_within", "within")
    return (name, level) if name in columns.names else None


def moves(
    contrast: Contrast, columns: Standardised, beta: np.ndarray, slopes: np.ndarray | None, person: np.ndarray
) -> tuple[Move, Move]:
    """What the reference and the compared value add to the linear predictor at the observed values.

    `beta` (draws, p) and `slopes` (draws, m) are of one chain; a person's own slope is used for jump.
    """
    at = columns.names.index(contrast.column)
    n = len(columns.X)
    if contrast.column == SLOPE_OF and slopes is not None:
        per, group = slopes / columns.scale[at], person
    else:
        per, group = beta[:, [at]] / columns.scale[at], np.zeros(n, dtype=np.int64)
    if contrast.reference is None:
        return Move(per, group, np.full(n, -contrast.below)), Move(per, group, np.full(n, contrast.compared))
    raw = columns.X[:, at] * columns.scale[at] + columns.centre[at]
    return Move(per, group, contrast.reference - raw), Move(per, group, contrast.compared - raw)


def posterior_row(draws: np.ndarray, *, points: Study | None = None) -> dict[str, float]:
    """Mean, SD, interval and probability above 0 of draws; with `points` also the probabilities on the points
    scale."""
    flat = np.asarray(draws, dtype=float).ravel()
    tail = (1 - INTERVAL) / 2
    low, high = np.quantile(flat, [tail, 1 - tail])
    row = {
        "estimate": float(flat.mean()),
        "std_error": float(flat.std(ddof=1)),
        "low": float(low),
        "high": float(high),
        "interval": INTERVAL,
        "p_above_zero": float(np.mean(flat > 0)),
    }
    if points is not None:
        row["p_practically_zero"] = float(np.mean(np.abs(flat) <= points.outcome.zero))
        row["p_important"] = float(np.mean(np.abs(flat) >= points.outcome.important))
    return row


def span(draws: np.ndarray) -> dict[str, float]:
    """Mean and limits of draws."""
    row = posterior_row(draws)
    return {"mean": row["estimate"], "low": row["low"], "high": row["high"]}


def spans_table(named: Iterable[tuple[str, np.ndarray, str]]) -> pd.DataFrame:
    """One row per (quantity, draws, unit): quantity, mean, low, high, unit."""
    return pd.DataFrame([{"quantity": name, **span(draws), "unit": unit} for name, draws, unit in named])


def coefficient_rows(
    columns: Standardised, beta: np.ndarray, scale: str, shared: Mapping[str, Any], study: Study
) -> list[dict[str, Any]]:
    """'per unit' rows of every exposure and level from draws (chains, draws, p), in the columns' own
    units."""
    rows = []
    own = {"outcome": study.outcome.column, "contrast": PER_UNIT, "contrast_size": 1.0, "scale": scale}
    for term in exposures_of(study):
        for level, column in levels(term, between=True):
            at = columns.index(column)
            if at is not None:
                draws = beta[..., at] / columns.scale[at]
                numbers = posterior_row(draws, points=study if scale == "points" else None)
                rows.append({**shared, **own, "term": term, "level": level, **numbers})
    return rows
