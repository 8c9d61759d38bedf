"""Cluster bootstrap over people, percentile-t: an interval that leans on neither normal residuals nor a
degrees-of-freedom formula."""

from __future__ import annotations

import numpy as np
import pandas as pd

from lagwise.core.study import INTERVAL
from lagwise.models.crossproducts import SINGULAR
from lagwise.models.estimates import factor
from lagwise.models.jackknife import inverse_times
from lagwise.models.kernel import fit
from lagwise.models.ladder import Rung
from lagwise.models.within import WithinFit

DRAWS = 399
MANY = 200
"""People above whom the variances of a mixed model are not estimated anew in every draw."""
_CHUNK = 100


def bootstrap(
    model: Rung | WithinFit, column: str, size: float = 1.0, *, seed: int = 0, draws: int = DRAWS
) -> pd.DataFrame:
    """Percentile-t interval of `size` times one column's coefficient from resampled people.

    People are drawn with replacement, all their steps with them; the same rung is fitted and t* = (estimate*
    - estimate) / error* kept. The interval is estimate - quantiles of t* x error (Cameron, Gelbach & Miller
    2008, doi:10.1162/rest.90.3.414). Errors are the model's own for a mixed model and the clustered sandwich
    (without small-sample correction, the same in every draw) for a within-person one. In more than `MANY`
    people the ratios of a mixed model's variances stay those of all people: they hardly differ between draws.

    Returns one row: estimate, std_error, low, high, draws (usable), people. Fewer than half of the draws
    usable gives missing limits.
    """
    if isinstance(model, Rung):
        drawn = _mixed if model.design.n_people <= MANY else _at_the_variances
        estimate, std_error, t = drawn(model, column, size, seed, draws)
        people = model.design.n_people
    else:
        estimate, std_error, t = _within(model, column, size, seed, draws)
        people = model.design.n_people
    t = t[np.isfinite(t)]
    low = high = np.nan
    if len(t) >= draws / 2:
        lower, upper = np.quantile(t, [0.5 - INTERVAL / 2, 0.5 + INTERVAL / 2])
        low, high = estimate - upper * std_error, estimate - lower * std_error
    names = ["estimate", "std_error", "low", "high", "draws", "people"]
    return pd.DataFrame([(estimate, std_error, low, high, len(t), people)], columns=names)


def _mixed(rung: Rung, column: str, size: float, seed: int, draws: int) -> tuple[float, float, np.ndarray]:
    rng = np.random.default_rng(seed)
    m = rung.cross.people
    estimate, std_error, _ = rung.contrast(column, size)
    weights = rung.weights(column, size)
    t = []
    for start in range(0, draws, _CHUNK):
        chosen = rng.integers(0, m, (min(_CHUNK, draws - start), m))
        got = fit(
            rung.cross.with_people(chosen), rung.estimates.structure, near=rung.estimates.theta[0]
        ).contrast(weights)
        t.append((got.estimate - estimate) / got.std_error)
    return estimate, std_error, np.concatenate(t)


def _at_the_variances(
    rung: Rung, column: str, size: float, seed: int, draws: int
) -> tuple[float, float, np.ndarray]:
    """As `_mixed`, by the people's sums of X'V^-1 X, X'V^-1 y and y'V^-1 y."""
    d, e = rung.design, rung.estimates
    scale, at = np.abs(d.X).max(axis=0), d.names.index(column)
    C, ends = np.column_stack([d.X / scale, d.y]), np.cumsum(np.bincount(d.person))[:-1]
    weighed = inverse_times(rung.person_columns, d.person, factor(e.theta, e.structure)[0], C)
    each = np.stack([a.T @ b for a, b in zip(np.split(C, ends), np.split(weighed, ends), strict=True)])
    m, c = d.n_people, C.shape[1]
    rng = np.random.default_rng(seed)
    weights = np.stack([np.bincount(rng.integers(0, m, m), minlength=m) for _ in range(draws)])
    total = (weights.astype(float) @ each.reshape(m, c * c)).reshape(draws, c, c)
    inverse = np.linalg.inv(total[:, :-1, :-1])
    beta = (inverse @ total[:, :-1, -1:])[:, :, 0]
    rest = total[:, -1, -1] - np.einsum("bi,bi->b", beta, total[:, :-1, -1])
    variance = rest / (weights @ np.bincount(d.person) - c + 1) * inverse[:, at, at]
    estimate, std_error, _ = rung.contrast(column, size)
    unit = scale[at] / size
    return estimate, std_error, (beta[:, at] - unit * estimate) / np.sqrt(variance) * np.sign(size)


def _within(
    model: WithinFit, column: str, size: float, seed: int, draws: int
) -> tuple[float, float, np.ndarray]:
    rng = np.random.default_rng(seed)
    xx, xy = model.moments()
    m, k = xy.shape
    at = model.names.index(column)
    weights = np.stack([np.bincount(rng.integers(0, m, m), minlength=m) for _ in range(draws)]).astype(float)
    weights = np.vstack([np.ones(m), weights])
    A = (weights @ xx.reshape(m, k * k)).reshape(-1, k, k)
    values = np.linalg.eigvalsh(A)
    ok = values[:, 0] > SINGULAR * values[:, -1]
    inverse = np.linalg.inv(np.where(ok[:, None, None], A, np.eye(k)))
    beta = (inverse @ (weights @ xy)[:, :, None])[:, :, 0]
    scores = xy[None] - np.einsum("mij,bj->bmi", xx, beta)
    along = np.einsum("bmi,bi->bm", scores, inverse[:, at])
    error = abs(size) * np.sqrt(np.sum(weights * along**2, axis=1))
    with np.errstate(invalid="ignore", divide="ignore"):
        t = size * (beta[1:, at] - beta[0, at]) / error[1:]
    t[~ok[1:] | (error[1:] <= 1e-12)] = np.nan
    return float(size * beta[0, at]), float(error[0]), t
