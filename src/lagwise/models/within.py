"""Within-person (fixed-effects) estimates with CR2 cluster-robust variance, for caseloads of few people."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lagwise.core.errors import ModelError
from lagwise.models.crossproducts import SINGULAR, CrossProducts
from lagwise.models.design import Design, estimable
from lagwise.models.estimates import Contrasts
from lagwise.models.ladder import require_spread


@dataclass(frozen=True)
class WithinFit:
    """Least squares after taking each person's mean from every column (person dummies absorbed).

    `names` are the columns that vary within people, `beta` (k,) their coefficients, `cov` (k, k) the CR2 covariance. `dropped`
    lists (column, why) for columns with nothing to compare within people.
    """

    design: Design
    names: tuple[str, ...]
    beta: np.ndarray
    cov: np.ndarray
    dropped: tuple[tuple[str, str], ...]
    _x: tuple[np.ndarray, ...]
    _y: tuple[np.ndarray, ...]
    _bread: np.ndarray
    _adjusted: tuple[np.ndarray, ...]

    def moments(self) -> tuple[np.ndarray, np.ndarray]:
        """Per person, of centred columns: X_i'X_i (m, k, k) and X_i'y_i (m, k)."""
        pairs = list(zip(self._x, self._y, strict=True))
        return np.stack([x.T @ x for x, _ in pairs]), np.stack([x.T @ y for x, y in pairs])

    words = "within-person model (fixed effects), CR2 variance"

    def contrast(self, column: str, size: float = 1.0) -> tuple[float, float, float]:
        """Estimate, CR2 standard error and Satterthwaite df of `size` times one column's coefficient.

        df = (sum_i g_i'g_i)^2 / sum_ij (g_i'g_j)^2 with g_i the weights by which cluster i enters the variance, under
        independent errors (Bell & McCaffrey 2002; Pustejovsky & Tipton 2018, doi:10.1080/07350015.2016.1247004).
        """
        c = np.zeros(len(self.names))
        c[self.names.index(column)] = size
        direction = self._bread @ c
        h = [a @ direction for a in self._adjusted]
        xh = np.array([x.T @ v for x, v in zip(self._x, h, strict=True)])
        gram = -xh @ self._bread @ xh.T
        gram[np.diag_indices(len(h))] += [v @ v for v in h]
        df = np.trace(gram) ** 2 / np.sum(gram**2)
        return float(c @ self.beta), float(np.sqrt(c @ self.cov @ c)), float(df)


def fit_within(design: Design) -> WithinFit:
    """The fixed-effects estimator of a design, with CR2 variance clustered on people.

    V = B (sum_i X_i'A_i e_i e_i'A_i X_i) B with B = (X'X)^-1 on person-centred columns and A_i the symmetric square root of the
    pseudo-inverse of I - X_i B X_i', which makes V exactly unbiased when errors are independent.

    Raises
    ------
    ModelError
        When no column varies within people or no residual is left.
    """
    require_spread(design)
    counts = np.bincount(design.person)
    ends = np.cumsum(counts)[:-1]
    means = np.stack([np.bincount(design.person, weights=x) for x in design.X.T], axis=1) / counts[:, None]
    X = design.X - means[design.person]
    y = design.y - (np.bincount(design.person, weights=design.y) / counts)[design.person]
    names = design.names[1:]
    small = np.linalg.norm(X[:, 1:], axis=0) <= 1e-9 * np.maximum(np.linalg.norm(design.X[:, 1:], axis=0), 1e-300)
    keep, reasons = estimable(np.where(small, 0.0, X[:, 1:]), names)
    if not keep:
        raise ModelError("no exposure varies within people", mend="Record more steps per person.")
    if design.n_steps - design.n_people - len(keep) < 1:
        raise ModelError(
            f"{design.n_steps} usable steps of {design.n_people} people cannot carry {len(keep)} within-person columns",
            mend="Name fewer exposures under [analysis] exposures, or record more steps.",
        )
    x = X[:, 1:][:, keep]
    bread = np.linalg.inv(x.T @ x)
    beta = bread @ (x.T @ y)
    xs, es = np.split(x, ends), np.split(y - x @ beta, ends)
    adjusted = tuple(_adjust(xi, bread) for xi in xs)
    scores = np.array([a.T @ e for a, e in zip(adjusted, es, strict=True)])
    return WithinFit(
        design,
        tuple(names[i] for i in keep),
        beta,
        bread @ (scores.T @ scores) @ bread,
        (*design.dropped, *((name, "does not vary within people") for name, _ in reasons)),
        tuple(xs),
        tuple(np.split(y, ends)),
        bread,
        adjusted,
    )


def _adjust(x: np.ndarray, bread: np.ndarray) -> np.ndarray:
    """A_i X_i of one person."""
    values, vectors = np.linalg.eigh(np.eye(len(x)) - x @ bread @ x.T)
    root = np.where(values > 1e-9, 1 / np.sqrt(np.maximum(values, 1e-9)), 0.0)
    return vectors @ (root[:, None] * (vectors.T @ x))


def within_many(cross: CrossProducts, position: int) -> Contrasts:
    """The fixed-effects coefficient of one column for every variant of a batch, in closed form.

    Parameters
    ----------
    cross : CrossProducts
        With a constant 1 as first column of Z.
    position : column of X

    Returns
    -------
    Contrasts
        Estimate, classical standard error and residual degrees of freedom (n - people - columns), each (B,); NaN
        where the column does not vary within people.
    """
    p, k = cross.p, cross.p + 1
    sums = cross.ZtC[:, 0]
    inner = cross.CtC - np.swapaxes(sums / cross.ZtZ[:, 0, 0][..., None], 1, 2) @ sums
    total = cross.CtC[:, np.arange(k), np.arange(k)]
    share = inner[:, np.arange(k), np.arange(k)] / np.maximum(total, 1e-300)
    keep = np.flatnonzero((share[:, :p] > SINGULAR).any(axis=0))
    B = cross.batch
    nothing = Contrasts(*(np.full(B, np.nan) for _ in range(3)))
    if position not in keep:
        return nothing
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
