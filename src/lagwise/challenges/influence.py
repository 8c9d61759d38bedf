"""How far one person's leaving moves an estimate, against what chance gives where people differ as the fitted
model says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lagwise.core.errors import ModelError
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.estimates import Estimates, factor
from lagwise.models.kernel import fit
from lagwise.models.ladder import Rung
from lagwise.models.people import person_effects

NUMBERS, HELD = 20_000_000, 2_000_000
"""People times squared columns times simulated outcomes drawn at a time, and held at a time, some tens of
megabytes.
"""
RIDGE = 1e-9
"""Of the mean of the information's diagonal: keeps a column that only one person speaks about from stopping
the inverse.
"""


@dataclass(frozen=True)
class Influence:
    """Each person's standing, (m,) all.

    `apart` is the move of the contrast by a person's leaving over its standard deviation, the variances as
    estimated; `p` the share of simulated caseloads in which anyone stands as far apart (one p for all
    people); `share` the share of the information about the contrast that the person brings; `moved` the
    |move| itself, up to a factor that is everybody's.
    """

    apart: np.ndarray
    p: np.ndarray
    share: np.ndarray
    moved: np.ndarray


def influence(rung: Rung, column: str, simulated: int, rng: np.random.Generator) -> Influence:
    """Standing of each person in a fitted mixed model, for the coefficient of one column.

    With information A_i = X_i'V_i^-1 X_i of person i, the estimate b = A^-1 sum X_i'V_i^-1 y_i and b_(i)
    without person i, Var(b_(i)) - Var(b) is the variance of the move b - b_(i) (Hausman 1978,
    doi:10.2307/1913827), all at the variances estimated from everybody. The largest |move| / SD is compared
    with that of `simulated` outcomes drawn from the fitted model on the same X (`_drawn`), the variances
    estimated anew in each; so that people whose slopes differ by a normal amount are ordinary. ModelError
    when fewer than half of the simulated outcomes can be fitted."""
    cross, e = rung.cross, rung.estimates
    at = rung.design.names.index(column)
    own, share, moved = (found[0] for found in _apart(cross, rung.design.y[None], e, at))
    each = max(1, min(simulated, NUMBERS // (cross.people * cross.p**2)))
    parts = [_largest(rung, min(each, simulated - i), rng, at) for i in range(0, simulated, each)]
    largest = np.concatenate(parts)
    good = np.isfinite(largest)
    if good.mean() < 0.5:
        raise ModelError("too few simulated outcomes can be fitted")
    p = (1 + (largest[None, good] >= own[:, None] - 1e-9).sum(axis=1)) / (1 + good.sum())
    return Influence(own, p, share, moved)


def _largest(rung: Rung, n: int, rng: np.random.Generator, at: int) -> np.ndarray:
    """(n,) largest |move| / SD of anyone in outcomes drawn from the fitted model; NaN where it has no fit."""
    Y = _drawn(rung, n, rng)
    again = rung.cross.with_responses(Y)
    refit = fit(again, rung.estimates.structure, near=rung.estimates.theta[0])
    largest = np.full(n, np.nan)
    good = np.isfinite(refit.deviance)
    if good.any():
        largest[good] = np.nanmax(_apart(again, Y, refit, at)[0][good], axis=1)
    return largest


def _drawn(rung: Rung, n: int, rng: np.random.Generator) -> np.ndarray:
    """(n, rows) outcomes of the fitted model: person effects drawn anew, and the residuals, set to the
    residual SD, each with a sign drawn anew.

    Signs keep what residuals of ratings have and normal ones lack: people who scatter more than others, bad
    weeks that stand out (a wild bootstrap; Liu 1988, doi:10.1214/aos/1176351062).
    """
    d, e = rung.design, rung.estimates
    sigma = float(e.sigma[0])
    L = sigma * factor(e.theta, e.structure)[0]
    Z, middle = rung.person_columns, d.X @ e.beta[0]
    left = d.y - middle - (Z * person_effects(rung)[d.person]).sum(axis=1)
    left *= sigma / np.sqrt(np.mean(left**2))
    effects = rng.normal(size=(n, d.n_people, len(L))) @ L.T
    return middle + (effects[:, d.person] * Z).sum(axis=2) + left * rng.choice([-1.0, 1.0], (n, d.n_steps))


def _apart(
    cross: CrossProducts, Y: np.ndarray, e: Estimates, at: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(B, m) |move| / SD of one coefficient by each person's leaving, and the share of information that the
    person brings; `Y` (B, n) outcomes.
    """
    ends = np.append(cross.starts[1:], cross.n)
    parts = [cross.C[a:b, : cross.p] for a, b in zip(cross.starts, ends, strict=True)]
    xx = np.stack([x.T @ x for x in parts])
    each = max(1, HELD // xx.size)
    some = (slice(i, i + each) for i in range(0, len(Y), each))
    found = [_some_apart(cross, parts, xx, Y, e, at, one) for one in some]
    apart, share, moved = (np.concatenate(values) for values in zip(*found, strict=True))
    return apart, share, moved


def _some_apart(
    cross: CrossProducts,
    parts: list[np.ndarray],
    xx: np.ndarray,
    Y: np.ndarray,
    e: Estimates,
    at: int,
    some: slice,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """`_apart` of some of the batch, from every person's rows and their cross-products."""
    p, scale = cross.p, cross.scale[some]
    y = np.split((Y[some] - cross.shift[some, p:]) / scale[:, p:], cross.starts[1:], axis=1)
    xy = np.stack([own @ x for own, x in zip(y, parts, strict=True)], axis=1)
    L = factor(e.theta[some], e.structure)[:, None]
    q, turned = L.shape[-1], np.swapaxes(L, -1, -2)
    K = np.moveaxis(cross.ZtZ[some, :q, :q], 3, 1)
    G = np.moveaxis(cross.ZtC[some, :q], 2, 1)
    lifted = L @ np.linalg.inv(np.eye(q) + turned @ K @ L) @ turned @ G
    pulled = np.swapaxes(G[..., :p], -1, -2) @ lifted
    A, c = xx - pulled[..., :p], xy - pulled[..., p]
    whole, sums = A.sum(axis=1), c.sum(axis=1)
    whole = whole + RIDGE * np.trace(whole, axis1=1, axis2=2)[:, None, None] / p * np.eye(p)
    full, rest = np.linalg.inv(whole), np.linalg.inv(whole[:, None] - A)
    everybody = np.einsum("bj,bj->b", full[:, at], sums)[:, None]
    without = np.einsum("bmj,bmj->bm", rest[:, :, at], sums[:, None] - c)
    before, after = full[:, at, at][:, None], rest[:, :, at, at]
    spread = np.sqrt(np.maximum(after - before, 1e-300)) * (e.sigma[some] / scale[:, p])[:, None]
    moved = np.abs(everybody - without)
    return moved / spread, 1 - before / after, moved
