"""One coefficient of one design, estimated as the primary analysis would at that number of people."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import Design
from lagwise.models.kernel import fit
from lagwise.models.rows import limits
from lagwise.models.within import fit_within, within_many


@dataclass(frozen=True)
class Estimate:
    """A coefficient times the contrast, with its 95 % interval."""

    estimate: float
    std_error: float
    df: float
    low: float
    high: float
    n_people: int
    n_steps: int


def estimate(design: Design, column: str, size: float = 1.0) -> Estimate:
    """`size` times the coefficient of `column`: random-intercept REML with Satterthwaite df, within-person CR2 below 10 people.

    Raises
    ------
    ModelError
        When the column is not in the design or there are too few people.
    """
    _require(design, column)
    if gate_for(design.n_people).within_only:
        found = fit_within(design)
        if column not in found.names:
            raise ModelError(f"{column} does not vary within people")
        value, error, df = found.contrast(column, size)
    else:
        result = fit(CrossProducts.build(design.y, design.X, None, design.person))
        weights = np.zeros(len(design.names))
        weights[design.names.index(column)] = size
        found_contrast = result.contrast(weights)
        value, error, df = (float(a[0]) for a in (found_contrast.estimate, found_contrast.std_error, found_contrast.df))
    if not np.isfinite(value) or not np.isfinite(error):
        raise ModelError(
            f"the coefficient of {column} cannot be estimated from {design.n_steps} steps of {design.n_people} people"
        )
    low, high = limits(value, error, df)
    return Estimate(value, error, df, low, high, design.n_people, design.n_steps)


def many(cross: CrossProducts, position: int, size: float, *, within: bool) -> np.ndarray:
    """`size` times the coefficient at `position` for every variant of a batch, (B,); NaN where it cannot be estimated."""
    if within:
        return size * within_many(cross, position).estimate
    return size * fit(cross).beta[:, position]


def _require(design: Design, column: str) -> None:
    if gate_for(design.n_people).name == "describe":
        raise ModelError(f"only {design.n_people} people have enough steps")
    if column not in design.names:
        why = dict(design.dropped).get(column, "is not in the model")
        raise ModelError(f"{column} {why}")
