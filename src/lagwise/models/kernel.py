"""Linear mixed models from per-person cross-products: REML and ML, for one data set or a batch of variants.

The model is y = X beta + Z_i b_i + e with b_i ~ N(0, sigma^2 L L') and e ~ N(0, sigma^2). As in lme4 (Bates
et al. 2015, doi:10.18637/jss.v067.i01) the deviance is profiled over beta and sigma^2 and minimised over
theta, the free entries of the relative Cholesky factor L. With Psi = L L' and K_i = Z_i'Z_i every quantity of
V_i = I + Z_i Psi Z_i' comes from F_i = (I + K_i Psi)^-1, a 1 x 1 or 2 x 2 matrix, so that one evaluation
costs people x small matrices whatever the number of rows. Gradient and Hessian are exact. The deviance does
not change with the sign of a column of L, so that the search is free and a variance of exactly 0 is an
ordinary stationary point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lagwise.core.errors import ModelError
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.estimates import Estimates, Method, Structure, factor

CONVERGED = 1e-8
"""Newton decrement g'H^-1 g (deviance units) below which the step at hand is the last: what it leaves is of
the order of its square."""
ZERO = 1e-4
"""A standardised relative SD below this is set to exactly 0 when the deviance there is no higher."""
SADDLE = 1e-4
"""A stationary point whose Hessian has an eigenvalue below minus this is left along it."""
MAX_STEPS = 60
ROWS: dict[Structure, list[int]] = {"intercept": [0], "uncorrelated": [0, 1], "correlated": [0, 1, 1]}
"""Row of the factor, and so column of Z, of each entry of theta."""


def fit(
    cross: CrossProducts,
    structure: Structure = "intercept",
    method: Method = "reml",
    *,
    near: np.ndarray | None = None,
) -> Estimates:
    """Maximise the (restricted) likelihood of every variant in a batch.

    Parameters
    ----------
    cross : CrossProducts
    structure : 'intercept' (first column of Z only), 'uncorrelated' or 'correlated' (both columns of Z)
    method : 'reml' or 'ml'
    near : (k,), optional
        `theta` of what the batch varies, from which the search then starts; else from moments of each.

    Raises
    ------
    ModelError
        When Z has too few columns for the structure, or rows do not outnumber the columns of X.
    """
    if cross.rows.min() <= cross.p + 1:
        raise ModelError(f"{cross.rows.min():.0f} rows cannot carry {cross.p} columns and a residual")
    data, zscale = _data(cross, structure, method)
    good = np.flatnonzero(cross.ok & (cross.CtC[:, -1, -1] > 0))
    start = None if near is None else near * zscale[:, ROWS[structure]]
    theta, converged = _search(data, good, structure, start)
    return _finish(cross, data, good, theta, converged, zscale, structure, method)


def deviance_at(
    cross: CrossProducts, theta: np.ndarray, structure: Structure, method: Method = "reml"
) -> np.ndarray:
    """Profiled (restricted) deviance (B,) at given `theta` (B, k) in units of Z, as `Estimates.deviance`."""
    data, zscale = _data(cross, structure, method)
    point = _evaluate(data, theta * zscale[:, ROWS[structure]], structure)
    return point.deviance + _unscaled(cross, method)


@dataclass(frozen=True)
class _Data:
    CtC: np.ndarray
    G: np.ndarray
    K: np.ndarray
    n: np.ndarray
    method: Method

    def take(self, at: np.ndarray) -> _Data:
        if len(at) == len(self.CtC) == 1:
            return self
        return _Data(self.CtC[at], self.G[at], self.K[at], self.n[at], self.method)


@dataclass(frozen=True)
class _Point:
    """Deviance and its derivatives at one theta per variant."""

    deviance: np.ndarray
    gradient: np.ndarray
    hessian: np.ndarray
    joint: np.ndarray
    beta: np.ndarray
    P: np.ndarray
    rss: np.ndarray
    moves: np.ndarray


def _data(cross: CrossProducts, structure: Structure, method: Method) -> tuple[_Data, np.ndarray]:
    """The moments a structure needs, with columns of Z scaled to mean square 1, and those scales (B, q)."""
    q = 1 if structure == "intercept" else 2
    if cross.q < q:
        raise ModelError(f"the structure {structure!r} needs {q} columns of Z")
    zscale = np.sqrt(np.einsum("bqqm->bq", cross.ZtZ[:, :q, :q]) / cross.rows[:, None])
    zscale = np.where(zscale > 0, zscale, 1.0)
    G = cross.ZtC[:, :q] / zscale[:, :, None, None]
    K = cross.ZtZ[:, :q, :q] / (zscale[:, :, None, None] * zscale[:, None, :, None])
    return _Data(cross.CtC, G, K, cross.rows, method), zscale


def _unscaled(cross: CrossProducts, method: Method) -> np.ndarray:
    """What the standardisation of X and y took from the deviance, (B,)."""
    out = 2 * (cross.rows - cross.p if method == "reml" else cross.rows) * np.log(cross.scale[:, cross.p])
    return out + 2 * np.log(cross.scale[:, : cross.p]).sum(axis=1) if method == "reml" else out


def _basis(structure: Structure) -> tuple[np.ndarray, np.ndarray]:
    """Directions S_k of Psi's free entries, (k, q, q), and the map from sums over people of N x M to tr(N S_k
    M S_l)."""
    one, both, two = np.diag([1.0, 0.0]), np.array([[0.0, 1.0], [1.0, 0.0]]), np.diag([0.0, 1.0])
    S = {
        "intercept": np.ones((1, 1, 1)),
        "uncorrelated": np.stack([one, two]),
        "correlated": np.stack([one, both, two]),
    }[structure]
    k, q = S.shape[:2]
    return S, np.einsum("kad,lef->fadekl", S, S).reshape(q**4, k * k)


BASES = {structure: _basis(structure) for structure in ROWS}


def _second(structure: Structure) -> np.ndarray:
    """Constant second derivatives (psi, k, k) of Psi's free entries in theta; Psi is quadratic, so they also
    give the first."""
    k = len(ROWS[structure])
    H = np.zeros((k, k, k))
    H[np.arange(k), np.arange(k), np.arange(k)] = 2.0
    if structure == "correlated":
        H[1] = [[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 0.0]]
        H[2, 1, 1] = 2.0
    return H


SECOND = {structure: _second(structure) for structure in ROWS}


def _evaluate(data: _Data, theta: np.ndarray, structure: Structure) -> _Point:
    B, q, m, c = data.G.shape
    p = c - 1
    reml = data.method == "reml"
    freedom = data.n - p if reml else data.n
    L = factor(theta, structure)
    Psi = L @ np.swapaxes(L, 1, 2)
    F, det = _inverse(np.einsum("bacm,bcd->badm", data.K, Psi))
    Q = (F[..., None] * data.G[:, None]).sum(axis=2)
    M = np.einsum("bacm,bcdm->badm", F, data.K)
    PsiG = (Psi @ data.G.reshape(B, q, m * c)).reshape(B, q * m, c)
    S = data.CtC - np.swapaxes(PsiG, 1, 2) @ Q.reshape(B, q * m, c)
    P = np.linalg.inv(S[:, :p, :p])
    beta = (P @ S[:, :p, p:])[:, :, 0]
    rss = np.maximum(S[:, p, p] - np.einsum("bi,bi->b", S[:, :p, p], beta), 1e-12)
    weights = np.concatenate([-beta, np.ones((B, 1))], axis=1)
    u = (Q.reshape(B, q * m, c) @ weights[:, :, None]).reshape(B, q, m)
    Qx = Q[..., :p]
    flat = np.ascontiguousarray(Qx).reshape(B, q * m, p)
    QP = (flat @ P).reshape(B, q, m, p)
    N = np.einsum("bamp,bcmp->bacm", QP, Qx)
    deviance = np.log(det).sum(axis=1) + freedom * (1 + np.log(2 * np.pi * rss / freedom))
    if reml:
        deviance = deviance - np.linalg.slogdet(P)[1]

    basis, pairs = BASES[structure]
    k = len(basis)
    s2 = rss / freedom
    U = np.einsum("bam,bcm->bacm", u, u).reshape(B, q * q, m)
    M, N = M.reshape(B, q * q, m), N.reshape(B, q * q, m) if reml else np.zeros((B, q * q, m))
    UM = U / s2[:, None, None]
    flat_basis = basis.reshape(k, q * q).T
    psi_g = (M - N - UM).sum(axis=2) @ flat_basis
    rss_g = -U.sum(axis=2) @ flat_basis
    left = (basis @ flat.reshape(B, 1, q, m * p)).reshape(B, k, q * m, p)
    Bk = np.swapaxes(left, 2, 3) @ flat[:, None]
    w = np.einsum("bkip,bi->bkp", left, u.reshape(B, q * m))
    PB = P[:, None] @ Bk
    h_psi = ((2 * (N + UM) - M) @ np.swapaxes(M, 1, 2)).reshape(B, q**4) @ pairs
    h_psi = h_psi.reshape(B, k, k) - 2 * (w @ P @ np.swapaxes(w, 1, 2)) / s2[:, None, None]
    if reml:
        h_psi -= PB.reshape(B, k, p * p) @ np.swapaxes(PB, 2, 3).reshape(B, k, p * p).swapaxes(1, 2)
    second = SECOND[structure]
    J = (theta @ second.reshape(k * k, k).T).reshape(B, k, k)
    fixed = np.swapaxes(J, 1, 2) @ h_psi @ J + (psi_g @ second.reshape(k, k * k)).reshape(B, k, k)
    r = (rss_g[:, None] @ J)[:, 0] / s2[:, None]
    profiled = fixed - r[:, :, None] * r[:, None, :] / freedom[:, None, None]
    # Joint in (theta, log sigma) at sigma^2 = rss / freedom.
    joint = np.empty((B, k + 1, k + 1))
    joint[:, :k, :k] = fixed
    joint[:, :k, k] = joint[:, k, :k] = -2 * r
    joint[:, k, k] = 4 * freedom
    moves = (np.swapaxes(J, 1, 2) @ (PB @ P[:, None]).reshape(B, k, p * p)).reshape(B, k, p, p)
    return _Point(deviance, (psi_g[:, None] @ J)[:, 0], profiled, joint, beta, P, rss, moves)


def _inverse(KPsi: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(I + K Psi)^-1 as (B, q, q, m) and det(I + K Psi) as (B, m)."""
    if KPsi.shape[1] == 1:
        det = 1 + KPsi[:, 0, 0]
        return (1 / det)[:, None, None], det
    a, b, c, d = 1 + KPsi[:, 0, 0], KPsi[:, 0, 1], KPsi[:, 1, 0], 1 + KPsi[:, 1, 1]
    det = a * d - b * c
    F = np.empty_like(KPsi)
    F[:, 0, 0], F[:, 0, 1], F[:, 1, 0], F[:, 1, 1] = d, -b, -c, a
    F /= det[:, None, None]
    return F, det


def _moments(data: _Data) -> np.ndarray:
    """(B, q) starting values of the relative SDs: sums of squares of Z'r of least-squares residuals r, set to
    their expectations."""
    B, q, m, c = data.G.shape
    p = c - 1
    beta = np.linalg.solve(data.CtC[:, :p, :p], data.CtC[:, :p, p:])
    weights = np.concatenate([-beta, np.ones((B, 1, 1))], axis=1)
    u2 = ((data.G.reshape(B, q * m, c) @ weights).reshape(B, q, m) ** 2).sum(axis=2)
    diagonal = data.K[:, np.arange(q), np.arange(q)]
    A = np.empty((B, q + 1, q + 1))
    A[:, 0, 0] = data.n - p
    A[:, 0, 1:] = A[:, 1:, 0] = diagonal.sum(axis=2)
    A[:, 1:, 1:] = (data.K**2).sum(axis=3)
    rss = data.CtC[:, p, p] - (data.CtC[:, p:, :p] @ beta)[:, 0, 0]
    A[:, np.arange(q + 1), np.arange(q + 1)] *= 1 + 1e-9
    found = np.linalg.solve(A, np.concatenate([rss[:, None], u2], axis=1)[:, :, None])[:, :, 0]
    sigma2 = np.where(found[:, :1] > 0, found[:, :1], (rss / data.n)[:, None])
    return np.sqrt(np.clip(found[:, 1:] / np.maximum(sigma2, 1e-300), 0.04, 100.0))


def _search(
    data: _Data, good: np.ndarray, structure: Structure, start: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray]:
    """Newton's method on theta with the Hessian's absolute eigenvalues and step halving, over all variants at
    once, from `start` (B, k) or moments."""
    theta = np.zeros((len(data.CtC), len(ROWS[structure])))
    converged = np.zeros(len(theta), dtype=bool)
    active = good.copy()
    if not len(active):
        return theta, converged
    part = data.take(active)
    if start is None:
        theta[active[:, None], [0, -1] if part.G.shape[1] == 2 else [0]] = _moments(part)
    else:
        theta[active] = start[active]
    point = _evaluate(part, theta[active], structure)
    for _ in range(MAX_STEPS):
        values, vectors = np.linalg.eigh(point.hessian)
        size = np.abs(values)
        size = np.maximum(size, 1e-8 * np.maximum(1.0, size.max(axis=1, keepdims=True)))
        along = (point.gradient[:, None] @ vectors)[:, 0]
        step = -(vectors @ (along / size)[:, :, None])[:, :, 0]
        decrement = np.sum(along**2 / size, axis=1)
        done = decrement < CONVERGED
        if done.any():
            saddle = done & (values[:, 0] < -SADDLE)
            if saddle.any():
                downhill = np.where(along[:, :1] > 0, -1.0, 1.0) * vectors[:, :, 0]
                step[saddle] = 0.05 * downhill[saddle]
                done &= ~saddle
            theta[active[done]] += step[done]
            converged[active[done]] = True
            left = ~done
            active = active[left]
            if not len(active):
                break
            part, point = part.take(np.flatnonzero(left)), _rows(point, left)
            step, decrement = step[left], decrement[left]
        here = theta[active]
        longest = np.abs(step).max(axis=1, keepdims=True)
        step *= np.minimum(1.0, np.maximum(1.0, np.abs(here).max(axis=1, keepdims=True)) / longest)
        share = np.ones(len(active))
        slack = 1e-10 * np.abs(point.deviance) + 1e-12
        trial = _evaluate(part, here + step, structure)
        for _ in range(30):
            worse = np.flatnonzero(~(trial.deviance <= point.deviance - 1e-4 * share * decrement + slack))
            if not len(worse):
                break
            share[worse] /= 2
            again = _evaluate(part.take(worse), (here + share[:, None] * step)[worse], structure)
            for name in _Point.__dataclass_fields__:
                getattr(trial, name)[worse] = getattr(again, name)
        theta[active] = here + share[:, None] * step
        point = trial
    return _to_zero(data, good, theta, structure), converged


def _rows(point: _Point, keep: np.ndarray) -> _Point:
    return _Point(*(getattr(point, name)[keep] for name in _Point.__dataclass_fields__))


def _to_zero(data: _Data, good: np.ndarray, theta: np.ndarray, structure: Structure) -> np.ndarray:
    """Diagonal entries made non-negative, and exactly 0 where they ran to 0 and the deviance there is no
    higher."""
    k = theta.shape[1]
    diagonal = {1: [0], 2: [0, 1], 3: [0, 2]}[k]
    if k == 3:
        theta[:, 1] = np.where(theta[:, 0] < 0, -theta[:, 1], theta[:, 1])
    theta[:, diagonal] = np.abs(theta[:, diagonal])
    tiny = np.zeros_like(theta, dtype=bool)
    tiny[:, diagonal] = theta[:, diagonal] < ZERO
    if tiny.any():
        look = good[(tiny & (theta > 0))[good].any(axis=1)]
        if not len(look):
            return theta
        part, zeroed = data.take(look), np.where(tiny, 0.0, theta)[look]
        here, there = _evaluate(part, theta[look], structure), _evaluate(part, zeroed, structure)
        lower = there.deviance <= here.deviance + 1e-8 * (1 + np.abs(here.deviance))
        theta[look] = np.where(lower[:, None], zeroed, theta[look])
    return theta


def _finish(
    cross: CrossProducts,
    data: _Data,
    good: np.ndarray,
    theta: np.ndarray,
    converged: np.ndarray,
    zscale: np.ndarray,
    structure: Structure,
    method: Method,
) -> Estimates:
    B, p, k = cross.batch, cross.p, theta.shape[1]
    freedom = cross.rows - p if method == "reml" else cross.rows

    def blank(*shape: int) -> np.ndarray:
        return np.full((B, *shape), np.nan)

    beta, sigma, deviance, cov, moves = blank(p), blank(), blank(), blank(p, p), blank(k, p, p)
    hessian, joint, positive = blank(k, k), blank(k + 1, k + 1), np.zeros(B, dtype=bool)
    if len(good):
        # With person effects of thousands of residual SDs rounding can leave a P that is no covariance: no
        # fit.
        point = _evaluate(data.take(good), theta[good], structure)
        sound = np.linalg.eigvalsh(point.P)[:, 0] > 0
        good, point = good[sound], _rows(point, sound)
    if len(good):
        T = cross.back()[good]
        s2 = point.rss / freedom[good]
        turn = np.swapaxes(T, 1, 2)
        beta[good] = np.einsum("bij,bj->bi", T, point.beta)
        if cross.intercept:
            beta[good, 0] += cross.shift[good, p]
        cov[good] = s2[:, None, None] * (T @ point.P @ turn)
        moves[good] = s2[:, None, None, None] * (T[:, None] @ point.moves @ turn[:, None])
        sigma[good] = np.sqrt(s2) * cross.scale[good, p]
        hessian[good], joint[good] = point.hessian, point.joint
        positive[good] = np.linalg.eigvalsh(point.hessian)[:, 0] > 1e-6
        deviance[good] = point.deviance + _unscaled(cross, method)[good]
    fitted = np.isin(np.arange(B), good)[:, None]
    theta = np.where(fitted, theta, np.nan) / zscale[:, ROWS[structure]]
    return Estimates(
        structure, method, theta, beta, cov, sigma, deviance, hessian, converged, positive, joint, moves
    )
