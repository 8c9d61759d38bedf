"""Conditional logistic regression with time-stratified referents: each person is compared with themselves at
nearby times."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from lagwise.core.claim import said
from lagwise.core.errors import ModelError
from lagwise.models.logistic import FARTHEST, FLAT, SHARE, Separated, log_f

BLOCK = 8
"""Steps in a calendar block: about two months of weeks, short enough that slow changes drop out."""


@dataclass(frozen=True)
class ConditionalFit:
    """Conditional likelihood estimates.

    `names` and `beta` (k,), `cov` (k, k). `events` counts events in informative strata (with an event and a
    step without one), `strata` those strata, `people` the people they come from. `dropped` lists (column,
    why), `penalised` the columns that a penalty holds.
    """

    names: tuple[str, ...]
    beta: np.ndarray
    cov: np.ndarray
    log_likelihood: float
    events: int
    strata: int
    people: int
    steps: int
    penalty: float = 0.0
    dropped: tuple[tuple[str, str], ...] = ()
    penalised: tuple[str, ...] = ()


def strata_of(person: np.ndarray, step: np.ndarray, block: int = BLOCK) -> np.ndarray:
    """(n,) stratum codes: person x block of `block` calendar steps, fixed before any event is seen.

    Referents are chosen independently of the event, which avoids overlap bias (Janes et al. 2005,
    doi:10.1097/01.ede.0000181315.18836.9d).
    """
    blocks = np.column_stack([person, np.asarray(step) // block])
    return np.unique(blocks, axis=0, return_inverse=True)[1].ravel()


def fit_conditional(
    y: np.ndarray,
    X: np.ndarray,
    stratum: np.ndarray,
    names: tuple[str, ...],
    person: np.ndarray,
    *,
    penalty: float = 0.0,
    only: tuple[str, ...] | None = None,
) -> ConditionalFit:
    """Maximise the exact conditional likelihood by Newton's method.

    Each stratum contributes exp(x_events beta) / sum over all sets of as many of its steps of exp(x_set
    beta).

    Parameters
    ----------
    y : (n,) of 0 and 1
    X : (n, k) columns, no intercept
    stratum : (n,) codes
    names : k column names
    person : (n,) codes, for counting
    penalty : m of a log-F(m, m) penalty on each coefficient per SD of its column, as in
        `lagwise.models.logistic`
    only : columns that the penalty holds; all by default

    Raises
    ------
    Separated
        Without a penalty, when an estimate runs away.
    ModelError
        When no stratum is informative, no column varies in one, or the search does not converge.
    """
    sets, starts, observed, kept = _sets(y, stratum)
    if not len(starts):
        raise ModelError("no block of steps holds both a flare onset and a step without one")
    varies = np.zeros(X.shape[1], dtype=bool)
    for rows in kept:
        varies |= np.ptp(X[rows], axis=0) > 1e-12
    if not varies.any():
        raise ModelError("no column varies within a block that holds a flare onset")
    x = X[:, varies]
    used = np.concatenate(kept)
    scale = x[used].std(axis=0)
    scale[scale == 0] = 1.0
    T = np.array([x[s].sum(axis=0) for s in sets]) / scale
    keep = _independent(T, starts)
    T = T[:, keep]
    chosen = np.flatnonzero(varies)[keep]
    own = tuple(names[i] for i in chosen)
    held = np.array([penalty if only is None or n in only else 0.0 for n in own])
    beta, value, information = _newton(T, starts, observed, held, own)
    size = scale[keep]
    left = tuple((n, said("column.still_in_blocks")) for i, n in enumerate(names) if i not in chosen)
    cov = np.linalg.inv(information) / np.outer(size, size)
    counts = int(y[used].sum()), len(starts), len(np.unique(person[used])), len(used)
    penalised = tuple(n for n, m in zip(own, held, strict=True) if m)
    return ConditionalFit(own, beta / size, cov, value, *counts, penalty, left, penalised)


def _sets(
    y: np.ndarray, stratum: np.ndarray
) -> tuple[list[list[int]], np.ndarray, np.ndarray, list[np.ndarray]]:
    """All sets of as many steps as events per informative stratum, where each stratum starts, and the
    observed sets."""
    sets: list[list[int]] = []
    starts, observed, kept = [], [], []
    order = np.argsort(stratum, kind="stable")
    cuts = np.flatnonzero(np.diff(stratum[order])) + 1
    for rows in np.split(order, cuts):
        events = int(y[rows].sum())
        if not 0 < events < len(rows):
            continue
        starts.append(len(sets))
        truth = set(rows[y[rows] == 1].tolist())
        for chosen in combinations(rows.tolist(), events):
            if set(chosen) == truth:
                observed.append(len(sets))
            sets.append(list(chosen))
        kept.append(rows)
    return sets, np.array(starts, dtype=int), np.array(observed, dtype=int), kept


def _independent(T: np.ndarray, starts: np.ndarray) -> np.ndarray:
    """Positions of columns that are no mixture of earlier ones once strata are taken out."""
    counts = np.diff(np.append(starts, len(T)))
    centred = T - np.repeat(np.add.reduceat(T, starts) / counts[:, None], counts, axis=0)
    keep: list[int] = []
    for i in range(T.shape[1]):
        trial = centred[:, [*keep, i]]
        values = np.linalg.eigvalsh(trial.T @ trial)
        if values[0] > 1e-9 * values[-1]:
            keep.append(i)
    return np.array(keep, dtype=int)


def _newton(
    T: np.ndarray, starts: np.ndarray, observed: np.ndarray, penalty: np.ndarray, names: tuple[str, ...]
) -> tuple[np.ndarray, float, np.ndarray]:
    """Newton's method with a penalty per column (0 for none); `Separated.columns` names those that run
    away."""
    counts = np.diff(np.append(starts, len(T)))
    free = penalty == 0

    def evaluate(beta: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        eta = T @ beta
        top = np.maximum.reduceat(eta, starts)
        e = np.exp(eta - np.repeat(top, counts))
        total = np.add.reduceat(e, starts)
        p = e / np.repeat(total, counts)
        mean = np.add.reduceat(p[:, None] * T, starts)
        prior, pull, weight = log_f(beta, penalty)
        value = float(np.sum(eta[observed] - top - np.log(total)) + prior)
        gradient = (T[observed] - mean).sum(axis=0) + pull
        information = T.T @ (p[:, None] * T) - mean.T @ mean + np.diag(weight)
        return value, gradient, information

    beta = np.zeros(T.shape[1])
    value, gradient, information = evaluate(beta)
    for _ in range(60):
        values, vectors = np.linalg.eigh(information)
        far = free & (np.abs(beta) > FARTHEST)
        if free.any() and (values[0] < FLAT or far.any()):
            # The columns along the direction in which the likelihood only flattens out.
            flat = free & (np.abs(vectors[:, 0]) > SHARE) if values[0] < FLAT else far
            raise Separated(
                "a mixture of columns separates flare onsets from the other steps of their blocks",
                columns=tuple(n for n, f in zip(names, flat if flat.any() else free, strict=True) if f),
            )
        step = np.linalg.lstsq(information, gradient, rcond=1e-12)[0]
        if gradient @ step < 1e-10:
            return beta, value, information
        step *= min(1.0, 2.0 / np.abs(step).max())
        for _ in range(30):
            new = evaluate(beta + step)
            if new[0] >= value - 1e-12:
                break
            step = step / 2
        beta, (value, gradient, information) = beta + step, new
    raise ModelError("the search for the self-controlled model did not converge")
