"""Which columns of a design can be estimated: those that vary in enough people and mix no others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from lagwise.core.claim import said

ROUNDING = 1e-9
"""What is left of a column, relative to the values it was made from, below which it is rounding and no
variation."""
VARY_PEOPLE = 5
"""People within whom an exposure must vary: below as many people nothing is estimated at all
(`lagwise.core.gate`)."""
VARY_STEPS = 10
"""Steps on which it must differ from the person's own median."""


def hardly_varies(values: np.ndarray, person: np.ndarray, scale: float, step: str = "step") -> str:
    """Why an exposure's coefficient within people cannot be estimated; empty when it can.

    It must vary within `VARY_PEOPLE` people, and on `VARY_STEPS` steps it must lie away from the person's own
    median. With less an estimate rests on a few steps, and 'per unit' of it speaks of a distance that hardly
    anybody went.
    """
    groups = pd.Series(values).groupby(person)
    away = np.abs(values - groups.transform("median").to_numpy()) > ROUNDING * max(scale, 1e-300)
    if not away.any():
        return said("column.still_within")
    people, steps = len(np.unique(person[away])), int(away.sum())
    if people < VARY_PEOPLE:
        return said("column.few_change", people=people, needed=VARY_PEOPLE)
    return said("column.few_steps", steps=steps, needed=VARY_STEPS, step=step) if steps < VARY_STEPS else ""


def hardly_between(means: np.ndarray, scale: float) -> str:
    """Why a difference between people in an exposure cannot be estimated, from each person's mean: nearly all
    have the same."""
    away = int((np.abs(means - np.median(means)) > ROUNDING * max(scale, 1e-300)).sum())
    needed = min(VARY_PEOPLE, len(means) // 2)
    return said("column.few_means", people=away, needed=needed) if 0 < away < needed else ""


def estimable(
    X: np.ndarray, columns: Sequence[str], scale: Sequence[float] | None = None
) -> tuple[list[int], list[tuple[str, str]]]:
    """Columns kept, in order, and (column, why) for those that are constant or a mixture of earlier ones.

    `scale` is the size of the values each column was made from. Differences from a mean leave rounding of
    that size, which looks like variation beside nothing else; the columns' own largest values by default.
    """
    # Lengths and angles are those of the triangle of a QR decomposition, as small as the columns are few.
    first, *rows = np.linalg.qr(np.column_stack([np.ones(len(X)), X]), mode="r").T
    basis = [first / np.linalg.norm(first)]
    keep: list[int] = []
    reasons: list[tuple[str, str]] = []
    for i, name in enumerate(columns):
        largest = float(np.abs(X[:, i]).max(initial=0.0))
        made_from = max(largest, 0.0 if scale is None else scale[i])
        rest = rows[i].copy()
        size = max(float(np.linalg.norm(rest)), made_from)
        for _ in range(2):
            for b in basis:
                rest -= (b @ rest) * b
        if np.linalg.norm(rest) > ROUNDING * max(size, 1e-300):
            basis.append(rest / np.linalg.norm(rest))
            keep.append(i)
        else:
            constant = np.ptp(X[:, i]) <= ROUNDING * max(made_from, 1e-300)
            reasons.append((name, said("column.still" if constant else "column.mixture")))
    return keep, reasons
