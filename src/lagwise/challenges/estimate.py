"""The primary estimate again: on another design, or on many variants of one."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lagwise.core import numbers
from lagwise.core.errors import ModelError
from lagwise.core.gate import Gate, gate_for
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import Design
from lagwise.models.estimates import Contrasts, Structure, picked
from lagwise.models.kernel import fit
from lagwise.models.ladder import Rung, climb
from lagwise.models.rows import limits
from lagwise.models.within import few, fit_within, within_variants

CHUNK = 200
"""Variants fitted at a time; keeps the arrays of a batch within some tens of megabytes."""


@dataclass(frozen=True)
class Answer:
    """An estimate with its interval and denominators, in the outcome's unit per contrast."""

    estimate: float
    std_error: float
    df: float
    low: float
    high: float
    n_people: int
    n_steps: int

    @property
    def side(self) -> int:
        """1 when the interval lies above 0, -1 when below, 0 when it includes 0."""
        return side(self.low, self.high)


def side(low: float, high: float) -> int:
    """1 when an interval lies above 0, -1 when below, 0 when it includes 0. ModelError when a limit is not
    known: an interval that could not be worked out does not include 0."""
    if math.isnan(low) or math.isnan(high):
        raise ModelError("an interval that the verdict rests on could not be worked out")
    return numbers.side(low, high)


def sides(table: pd.DataFrame) -> np.ndarray:
    """Side of 0 of every interval low to high of a table."""
    return np.array([side(low, high) for low, high in zip(table["low"], table["high"], strict=True)])


def middle(values: np.ndarray) -> tuple[float, float]:
    """Limits of the middle 95 of 100 known values."""
    low, high = np.nanquantile(values, [0.025, 0.975])
    return float(low), float(high)


def possible(design: Design, column: str) -> Gate:
    """The gate of a design; ModelError below 5 people, or when the column is not in it."""
    gate = gate_for(design.n_people)
    if gate.name == "describe":
        raise ModelError(gate.sentence.rstrip("."))
    if column not in design.names:
        why = dict(design.dropped).get(column, "was not recorded")
        raise ModelError(f"{column} {why}, so there is nothing to estimate")
    return gate


def answer(design: Design, column: str, size: float = 1.0) -> Answer:
    """`size` times the coefficient of one column, by the estimator that the number of people allows.

    10 people and more: mixed model with a person slope of that column as far as the ladder carries it. 5 to
    9: within-person estimate with CR2 variance. ModelError below 5 people, when the column is not in the
    design, or when the model cannot be fitted."""
    few_people = possible(design, column).within_only
    fitted = fit_within(design) if few_people else climb(design, column)
    if column not in (fitted.design.names if isinstance(fitted, Rung) else fitted.names):
        raise ModelError(f"{column} does not vary within people, so there is nothing to estimate")
    estimate, std_error, df = fitted.contrast(column, size)
    return Answer(estimate, std_error, df, *limits(estimate, std_error, df), design.n_people, design.n_steps)


@dataclass(frozen=True)
class Variants:
    """One design whose columns can be exchanged many times over; see `variants`. `theta` (k,) is the design's
    own, near which those of variants are looked for; `structure` None stands for the estimator of few people.
    """

    design: Design
    cross: CrossProducts
    column: str
    size: float
    structure: Structure | None
    theta: np.ndarray | None = None

    def exchange(self, columns: tuple[str, ...], values: np.ndarray) -> Contrasts:
        """Estimate, standard error (CR2's of few people) and df of `size` times `column`, each (B,).

        `columns` names the d columns exchanged, the outcome's name standing for the response; `values` is (B,
        n, d), rows as in the design. NaN where a variant cannot be fitted.
        """
        parts = [self._chunk(columns, values[i : i + CHUNK]) for i in range(0, len(values), CHUNK)]
        return Contrasts(
            *(np.concatenate([getattr(p, k) for p in parts]) for k in ("estimate", "std_error", "df"))
        )

    def _chunk(self, columns: tuple[str, ...], values: np.ndarray) -> Contrasts:
        names = self.design.names
        at = [self.cross.p if name == self.design.outcome else names.index(name) for name in columns]
        if self.structure is None:
            found = within_variants(self.design, at, values, names.index(self.column))
            return Contrasts(self.size * found.estimate, abs(self.size) * found.std_error, found.df)
        Z = None
        if self.structure != "intercept" and self.column in columns:
            slope = values[:, :, columns.index(self.column)]
            Z = np.stack([np.ones_like(slope), slope], axis=2)
        return self.contrast(self.cross.with_columns(at, values, Z))

    def contrast(self, cross: CrossProducts) -> Contrasts:
        """The contrast for every variant held in cross-products of this design's shape; not of few people,
        whose error needs more than these."""
        if self.structure is None:
            raise ModelError("cross-products in total carry no error of few people")
        found = fit(cross, self.structure, near=self.theta)
        return found.contrast(picked(self.design.names, self.column, self.size))


def variants(design: Design, column: str, size: float = 1.0) -> Variants:
    """Get a design ready for many re-estimates under the random effects that the design itself carries.
    ModelError as `answer`."""
    if possible(design, column).within_only:
        own = few(design)
        possible(own, column)
        return Variants(own, CrossProducts.build(own.y, own.X, None, own.person), column, size, None)
    rung = climb(design, column)
    estimates = rung.estimates
    return Variants(design, rung.cross, column, size, estimates.structure, estimates.theta[0])
