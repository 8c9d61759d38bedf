"""The ladder of random effects: the richest structure that the data carry, and why not a richer one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lagwise.core.claim import said
from lagwise.core.errors import ModelError
from lagwise.core.words import outcome_label, plain
from lagwise.models.crossproducts import CrossProducts, stacked
from lagwise.models.design import Design
from lagwise.models.estimable import ROUNDING
from lagwise.models.estimates import Estimates, Structure, picked
from lagwise.models.kernel import fit

LADDER: tuple[Structure, ...] = ("correlated", "uncorrelated", "intercept")
EDGE = 1e-3
"""A slope SD (relative to the residual, over the exposure's spread) or 1 - |correlation| below this is at its
edge."""


@dataclass(frozen=True)
class Rung:
    """A fitted mixed model and how it was reached.

    `slope` is the column with a person slope, '' when there is none. `reasons` says, per rung above, why it
    was left.
    """

    design: Design
    cross: CrossProducts
    estimates: Estimates
    slope: str
    reasons: tuple[str, ...]
    engine = "mixed"

    @property
    def names(self) -> tuple[str, ...]:
        """The columns of the model."""
        return self.design.names

    @property
    def dropped(self) -> tuple[tuple[str, str], ...]:
        """(column, why) for columns left out."""
        return self.design.dropped

    @property
    def words(self) -> str:
        """The rung in words, as it stands in effect tables."""
        e = self.estimates
        slope, zero = plain(self.slope, self.design.study.variables), bool(e.theta[0, 0] == 0)
        return said("model.mixed", slope=slope, structure=e.structure, zero=zero)

    @property
    def reason(self) -> str:
        """Why the rungs above were left; empty at the top."""
        return "; ".join(self.reasons)

    @property
    def slope_values(self) -> np.ndarray:
        """(n,) values of the column with a person slope."""
        return self.design.X[:, self.design.names.index(self.slope)]

    @property
    def person_columns(self) -> np.ndarray:
        """(n, q) columns whose coefficients differ between people: a constant and, with slopes, theirs."""
        ones = np.ones(self.design.n_steps)
        return np.column_stack([ones, self.slope_values]) if self.slope else ones[:, None]

    def contrast(self, column: str, size: float = 1.0) -> tuple[float, float, float]:
        """Estimate, standard error and Satterthwaite df of `size` times one column's coefficient."""
        c = self.estimates.contrast(self.weights(column, size))
        return float(c.estimate[0]), float(c.std_error[0]), float(c.df[0])

    def weights(self, column: str, size: float = 1.0) -> np.ndarray:
        """Contrast weights that pick one column of X times `size`."""
        return picked(self.names, column, size)


def climb(design: Design, slope: str = "") -> Rung:
    """Fit the ladder correlated slope -> uncorrelated -> intercept only, and stop at the first rung that
    holds.

    Parameters
    ----------
    design : Design
    slope : str
        Column of X with a person slope; '' or a column that was left out means person intercepts only.

    Raises
    ------
    ModelError
        When no mixed model can be fitted: too few rows, an outcome without spread, or one step per person.
    """
    require_spread(design)
    position = design.index(slope) if slope else None
    ones = np.ones((design.n_steps, 1))
    Z = ones if position is None else np.column_stack([ones, design.X[:, position]])
    cross = CrossProducts.build(design.y, design.X, Z, design.person)
    reasons: list[str] = []
    if slope and position is None:
        why = dict(design.dropped).get(slope, said("column.still"))
        reasons.append(said("rung.no_slopes", column=plain(slope, design.study.variables), why=why))
    for structure in LADDER if position is not None else LADDER[-1:]:
        estimates = fit(cross, structure)
        problem = _problem(estimates, cross)
        if not problem:
            return Rung(design, cross, estimates, slope if structure != "intercept" else "", tuple(reasons))
        if structure == "intercept":
            raise ModelError(
                f"no mixed model could be fitted: {problem}", mend="Record more steps per person."
            )
        reasons.append(said("rung.left", structure=structure, why=problem))
    raise AssertionError("the ladder has a last rung")


def climb_many(parts: Sequence[CrossProducts]) -> list[Estimates | None]:
    """The estimates at the rung that `climb` reaches on each of many data sets of the same columns; None
    where no model can be fitted.

    Parameters
    ----------
    parts : cross-products with Z = [1, the column with a person slope]
    """
    found: list[Estimates | None] = [None] * len(parts)
    left = list(range(len(parts)))
    for structure in LADDER:
        if not left:
            break
        batch = fit(stacked([parts[i] for i in left]), structure)
        for k, i in enumerate(left):
            one = batch.take(k)
            found[i] = None if _problem(one, parts[i]) else one
        left = [i for i in left if found[i] is None]
    return found


def require_spread(design: Design) -> None:
    """Stop where no lagged model has anything to estimate.

    Raises
    ------
    ModelError
    """
    label = design.asked.variable.label
    if design.outcome != design.asked.column:
        label = outcome_label(design.outcome, design.asked.variable)
    means = np.bincount(design.person, weights=design.y) / np.bincount(design.person)
    if np.abs(design.y - means[design.person]).max() <= ROUNDING * max(1.0, np.abs(design.y).max()):
        same = np.ptp(design.y) == 0
        raise ModelError(
            (
                f"{label} is {design.y[0]:g} in every row that can be used"
                if same
                else f"{label} does not vary within anybody"
            )
            + ", so there is nothing to explain",
            mend=f"Check that the {design.asked.name} column holds the ratings.",
        )
    if design.n_steps <= len(design.names) + 2:
        raise ModelError(
            f"{design.n_steps} usable rows cannot carry a model with {len(design.names)} columns",
            mend="Name fewer exposures under [analysis] exposures, or record more steps.",
        )
    if design.n_steps == design.n_people:
        raise ModelError(
            "every person has one usable row, so that nothing can be compared within people",
            mend="Record at least a few consecutive steps per person.",
        )
    fitted = design.X @ np.linalg.lstsq(design.X, design.y, rcond=None)[0]
    if np.sum((design.y - fitted) ** 2) <= 1e-12 * np.sum((design.y - design.y.mean()) ** 2):
        raise ModelError(
            f"the exposures reproduce {label} exactly; no residual is left to estimate an error from",
            mend=f"Check that no exposure is a copy of {design.asked.variable.label}.",
        )


def _problem(estimates: Estimates, cross: CrossProducts) -> str:
    """What keeps a rung from being used, in words; empty when nothing does.

    An intercept variance of 0 is a result, not a failure, below the correlated rung: the between-person parts
    of the columns can account for all of people's differences in level, and leaving their slopes out as well
    would make the errors too small.
    """
    if not np.isfinite(estimates.deviance[0]):
        return said("rung.mixtures")
    if estimates.structure != "intercept":
        covariance = estimates.covariance()[0]
        spread = np.sqrt(cross.ZtZ[0, 1, 1].sum() / cross.n)
        relative = np.sqrt(np.diag(covariance)) * np.array([1.0, spread]) / estimates.sigma[0]
        if relative[1] < EDGE:
            return said("rung.no_slope_variance")
        if estimates.structure == "correlated":
            if relative[0] < EDGE:
                return said("rung.no_intercept_variance")
            correlation = covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])
            if 1 - abs(correlation) < EDGE:
                return said("rung.correlation", sign=float(np.sign(correlation)))
        if not estimates.positive[0]:
            return said("rung.hessian")
    return "" if estimates.converged[0] else said("rung.search")
