"""Within-person estimates with CR2 cluster-robust variance, for caseloads of few people."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lagwise.core.errors import ModelError
from lagwise.models.cluster import ClusterFit, cluster_many, fit_clustered
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import ROUNDING, Design, estimable
from lagwise.models.estimates import Contrasts
from lagwise.models.kernel import fit
from lagwise.models.ladder import require_spread


def level_columns(design: Design) -> frozenset[str]:
    """Columns that say how people differ in level: of few people only their mean outcome, since a handful
    tells each person apart."""
    return frozenset(f"{name}_between" for name in (design.asked.name, design.asked.before))


@dataclass(frozen=True)
class WithinFit:
    """Least squares of few people's steps, clustered on people.

    `design` holds what was fitted, `names` its columns, `found` their coefficients with the CR2 covariance.
    `dropped` lists (column, why) for columns that were left out.
    """

    design: Design
    names: tuple[str, ...]
    found: ClusterFit
    dropped: tuple[tuple[str, str], ...]
    words: str
    _y: tuple[np.ndarray, ...]

    @property
    def beta(self) -> np.ndarray:
        """(k,) coefficients."""
        return self.found.beta

    def moments(self) -> tuple[np.ndarray, np.ndarray]:
        """Per person, of the columns as fitted: X_i'X_i (m, k, k) and X_i'y_i (m, k)."""
        pairs = list(zip(self.found.x, self._y, strict=True))
        return np.stack([x.T @ x for x, _ in pairs]), np.stack([x.T @ y for x, y in pairs])

    def contrast(self, column: str, size: float = 1.0) -> tuple[float, float, float]:
        """Estimate, CR2 standard error and Satterthwaite df of `size` times one column's coefficient
        (`lagwise.models.cluster`)."""
        c = np.zeros(len(self.names))
        c[self.names.index(column)] = size
        return self.found.contrast(c)


def few(design: Design) -> Design:
    """A design as it is fitted to few people.

    Exposures keep their part within people, and the outcome held equal its part between people as well. Load
    jump and the indicators of its coding stay as they are: they are already relative to the person's own
    past, and their mean over the record holds later loads, through which pain answers back. The usual load is
    taken from its mean over the person's steps; anchored at one of them it would tell of the pain at the
    time. Columns that do not vary within people are left out.
    """
    usual = np.array([name == "log_usual" for name in design.names])
    centred = centred_on_people(design.X, design.person)
    X = np.where(usual, centred, design.X)
    size = np.linalg.norm(design.X, axis=0)
    still = np.linalg.norm(centred, axis=0) <= ROUNDING * np.maximum(size, 1e-300)
    reasons, levels = [], level_columns(design)
    for i, name in enumerate(design.names):
        if name in levels or i == 0:
            still[i] = False
        elif name.endswith("_between"):
            still[i] = True
            reasons.append((name, "is not told with this few people"))
        elif still[i]:
            reasons.append((name, "does not vary within people"))
    at = np.flatnonzero(~still)
    kept, more = estimable(X[:, at[1:]], [design.names[i] for i in at[1:]])
    at = np.concatenate([at[:1], at[1:][kept]])
    return replace(
        design,
        X=X[:, at],
        names=tuple(design.names[i] for i in at),
        dropped=(*design.dropped, *reasons, *more),
    )


def fit_within(design: Design) -> WithinFit:
    """The within-person estimator of a design, with CR2 variance clustered on people
    (`lagwise.models.cluster`).

    The columns are those of `few`. What is left of people's levels beside their mean pain is a random
    intercept, whose variance the data give (REML): rows are weighted by it, so that where it is 0 this is
    least squares, and where it is large each person is compared with their own mean. The errors lean on
    neither.

    Raises
    ------
    ModelError
        When no column varies within people or no residual is left.
    """
    require_spread(design)
    d = few(design)
    moving = [name for name in d.names[1:] if name not in level_columns(d)]
    if not moving:
        raise ModelError("no exposure varies within people", mend="Record more steps per person.")
    if d.n_steps - d.n_people - len(moving) < 1:
        raise ModelError(
            f"{d.n_steps} usable steps of {d.n_people} people cannot carry {len(moving)} within-person columns",
            mend="Name fewer exposures under [analysis] exposures, or record more steps.",
        )
    theta = fit(CrossProducts.build(d.y, d.X, None, d.person)).theta[0, 0]
    if not np.isfinite(theta):
        raise ModelError("the columns are too nearly mixtures of one another")
    counts = np.bincount(d.person)
    share = (1 - 1 / np.sqrt(1 + counts * theta**2))[d.person]
    both = np.column_stack([d.X, d.y])
    both -= share[:, None] * (both - centred_on_people(both, d.person))
    X, y = both[:, :-1], both[:, -1]
    found = fit_clustered(y, X, d.person)
    parts = tuple(np.split(y, np.cumsum(counts)[:-1]))
    return WithinFit(
        d, d.names, found, d.dropped, "within-person model, CR2 variance clustered on people", parts
    )


def within_many(cross: CrossProducts, position: int) -> Contrasts:
    """The estimate of `fit_within` of one column for every variant of a batch.

    Parameters
    ----------
    cross : CrossProducts
        Of designs made by `few`.
    position : column of X

    Returns
    -------
    Contrasts
        Estimate, the model's own standard error (CR2 needs what `within_variants` takes) and Satterthwaite
        df, each (B,); NaN where a variant cannot be fitted.
    """
    weights = np.zeros(cross.p)
    weights[position] = 1.0
    return fit(cross).contrast(weights)


def within_variants(d: Design, columns: Sequence[int], values: np.ndarray, position: int) -> Contrasts:
    """The contrast of `fit_within`, CR2 error and all, with some columns exchanged.

    Parameters
    ----------
    d : Design
        Made by `few`.
    columns : positions in X of the d exchanged columns; one past the last is the response
    values : (B, n, d), rows as in the design
    position : column of X

    Returns
    -------
    Contrasts
        Estimate, CR2 standard error and Satterthwaite df, each (B,); NaN where a variant cannot be fitted.
    """
    cross = CrossProducts.build(d.y, d.X, None, d.person).with_columns(list(columns), values)
    theta = fit(cross).theta[:, 0]
    good = cross.ok & np.isfinite(theta)
    C = np.repeat(np.column_stack([d.X, d.y])[None], int(good.sum()), axis=0)
    C[:, :, columns] = values[good]
    counts = np.bincount(d.person)
    parts = np.split(C, np.cumsum(counts)[:-1], axis=1)
    sums = np.stack([part.sum(axis=1) for part in parts], axis=1)
    shrunk = theta[good, None] ** 2 / (1 + counts * theta[good, None] ** 2)
    CtC = np.stack([part.swapaxes(1, 2) @ part for part in parts], axis=1)
    CtC -= shrunk[:, :, None, None] * sums[:, :, :, None] * sums[:, :, None, :]
    k = d.X.shape[1]
    found = cluster_many(CtC[:, :, :k, :k], CtC[:, :, :k, k], np.eye(k)[position])
    out = np.full((3, len(values)), np.nan)
    out[:, good] = found.estimate, found.std_error, found.df
    return Contrasts(*out)


def centred_on_people(values: np.ndarray, person: np.ndarray) -> np.ndarray:
    """(n, k) columns less each person's mean, `person` codes 0..m-1."""
    means = (
        np.stack([np.bincount(person, weights=v) for v in values.T], axis=1) / np.bincount(person)[:, None]
    )
    return values - means[person]
