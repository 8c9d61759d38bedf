"""Within-person estimates with CR2 cluster-robust variance: for caseloads of few people, and as fixed effects
beside a mixed model."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from lagwise.core.claim import said
from lagwise.core.errors import ModelError
from lagwise.models.cluster import ClusterFit, cluster_many, fit_clustered
from lagwise.models.crossproducts import SINGULAR, CrossProducts, stacked
from lagwise.models.design import Design, centred_on_people
from lagwise.models.estimable import ROUNDING, estimable
from lagwise.models.estimates import Contrasts, picked
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
    engine = "within"
    reason = ""

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
        return self.found.contrast(picked(self.names, column, size))


def few(design: Design) -> Design:
    """A design as it is fitted to few people.

    Exposures keep their part within people, and the outcome held equal its part between people as well. Load
    jump and the indicators of its coding stay as they are: they are already relative to the person's own
    past, and their mean over the record holds later loads, through which pain answers back. The usual load is
    taken from its mean over the person's steps; anchored at one of them it would tell of the pain at the
    time. Columns that do not vary within people are left out.
    """
    centred = centred_on_people(design.X, design.person)
    X = np.where([name == "log_usual" for name in design.names], centred, design.X)
    size = np.linalg.norm(design.X, axis=0)
    still = np.linalg.norm(centred, axis=0) <= ROUNDING * np.maximum(size, 1e-300)
    reasons, levels = [], level_columns(design)
    for i, name in enumerate(design.names):
        if name in levels or i == 0:
            still[i] = False
        elif name.endswith("_between"):
            still[i] = True
            reasons.append((name, said("column.few_people")))
        elif still[i]:
            reasons.append((name, said("column.still_within")))
    at = np.flatnonzero(~still)
    kept, more = estimable(X[:, at[1:]], [design.names[i] for i in at[1:]])
    at = np.concatenate([at[:1], at[1:][kept]])
    dropped = (*design.dropped, *reasons, *more)
    return replace(design, X=X[:, at], names=tuple(design.names[i] for i in at), dropped=dropped)


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
    d = _of_few(design)
    return _weighed(d, fit(CrossProducts.build(d.y, d.X, None, d.person)).theta[0, 0])


def fit_each_within(designs: Sequence[Design]) -> list[WithinFit | None]:
    """`fit_within` of each of many designs, None where it stops; those of the same columns and as many people
    are searched for at once."""
    alike: dict[tuple[tuple[str, ...], int], list[tuple[int, Design]]] = {}
    found: list[WithinFit | None] = [None] * len(designs)
    for i, design in enumerate(designs):
        with suppress(ModelError):
            d = _of_few(design)
            alike.setdefault((d.names, d.n_people), []).append((i, d))
    for batch in alike.values():
        cross = stacked([CrossProducts.build(d.y, d.X, None, d.person) for _, d in batch])
        for (i, d), theta in zip(batch, fit(cross).theta[:, 0], strict=True):
            with suppress(ModelError):
                found[i] = _weighed(d, theta)
    return found


def _of_few(design: Design) -> Design:
    """What `few` leaves of a design, where there is something to estimate from it."""
    require_spread(design)
    d = few(design)
    _require_columns(d, len(d.names) - 1 - len(level_columns(d) & set(d.names)))
    return d


def _weighed(d: Design, theta: float) -> WithinFit:
    """Least squares of rows weighted by a random intercept of `theta` residual SDs."""
    if not np.isfinite(theta):
        raise ModelError("the columns are too nearly mixtures of one another")
    both = turned(d, theta)
    return _clustered(d, d.names, both[:, :-1], both[:, -1], d.dropped, said("model.within"))


def turned(d: Design, ratio: float) -> np.ndarray:
    """(n, p + 1) columns of X and y times V_i^-1/2, V_i = I + ratio^2 11'."""
    share = (1 - 1 / np.sqrt(1 + np.bincount(d.person) * ratio**2))[d.person]
    both = np.column_stack([d.X, d.y])
    both -= share[:, None] * (both - centred_on_people(both, d.person))
    return both


def fit_fixed(design: Design) -> WithinFit:
    """The fixed-effects estimator of a design (person dummies absorbed), with CR2 variance clustered on
    people (`lagwise.models.cluster`).

    Centring load jump on a mean that holds later loads leaves a bias of order 1/T where pain feeds back on
    load; it is a comparator, no primary estimate.

    Raises
    ------
    ModelError
        When no column varies within people or no residual is left.
    """
    require_spread(design)
    both = centred_on_people(np.column_stack([design.X[:, 1:], design.y]), design.person)
    X, names = both[:, :-1], design.names[1:]
    size = np.maximum(np.linalg.norm(design.X[:, 1:], axis=0), 1e-300)
    keep, reasons = estimable(np.where(np.linalg.norm(X, axis=0) <= ROUNDING * size, 0.0, X), names)
    _require_columns(design, len(keep))
    dropped = (*design.dropped, *((name, said("column.still_within")) for name, _ in reasons))
    return _clustered(
        design, tuple(names[i] for i in keep), X[:, keep], both[:, -1], dropped, said("model.fixed")
    )


def _require_columns(d: Design, columns: int) -> None:
    """Stop where no column varies within people, or so many leave no residual."""
    if not columns:
        raise ModelError("no exposure varies within people", mend="Record more steps per person.")
    if d.n_steps - d.n_people - columns < 1:
        raise ModelError(
            f"{d.n_steps} usable steps of {d.n_people} people cannot carry {columns} within-person columns",
            mend="Name fewer exposures under [analysis] exposures, or record more steps.",
        )


def _clustered(d: Design, names, X: np.ndarray, y: np.ndarray, dropped, words: str) -> WithinFit:
    parts = tuple(np.split(y, np.cumsum(np.bincount(d.person))[:-1]))
    return WithinFit(d, names, fit_clustered(y, X, d.person), dropped, words, parts)


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


def fixed_many(cross: CrossProducts, position: int) -> Contrasts:
    """The fixed-effects coefficient of one column for every variant of a batch, in closed form.

    Parameters
    ----------
    cross : CrossProducts
        With a constant 1 as first column of Z.
    position : column of X

    Returns
    -------
    Contrasts
        Estimate, classical standard error and residual degrees of freedom (n - people - columns), each (B,);
        NaN where the column does not vary within people.
    """
    p, k = cross.p, cross.p + 1
    sums = cross.ZtC[:, 0]
    inner = cross.CtC - np.swapaxes(sums / cross.ZtZ[:, 0, 0][..., None], 1, 2) @ sums
    total = cross.CtC[:, np.arange(k), np.arange(k)]
    share = inner[:, np.arange(k), np.arange(k)] / np.maximum(total, 1e-300)
    keep = np.flatnonzero((share[:, :p] > SINGULAR).any(axis=0))
    if position not in keep:
        return Contrasts(*np.full((3, cross.batch), np.nan))
    S, cross_y = inner[:, keep[:, None], keep], inner[:, keep, p]
    values = np.linalg.eigvalsh(S)
    ok = (values[:, 0] > SINGULAR * values[:, -1]) & cross.ok
    inverse = np.linalg.inv(np.where(ok[:, None, None], S, np.eye(len(keep))))
    beta = np.einsum("bij,bj->bi", inverse, cross_y)
    df = cross.rows - cross.people - len(keep)
    rss = inner[:, p, p] - np.einsum("bi,bi->b", beta, cross_y)
    at = int(np.flatnonzero(keep == position)[0])
    ratio = cross.scale[:, p] / cross.scale[:, position]
    with np.errstate(invalid="ignore", divide="ignore"):
        se = np.sqrt(np.maximum(rss, 0) / df * inverse[:, at, at]) * ratio
    blank = np.where(ok, 1.0, np.nan)
    return Contrasts(beta[:, at] * ratio * blank, se * blank, df * blank)
