"""First-order autoregressive errors over the true distances between steps.

Errors of one person d steps apart have correlation rho^d, so that a step without a rating is a gap, never a
neighbour. Given the error before it across a gap of g steps, an error has mean rho^g times that one and
variance 1 - rho^(2g): rows are freed of the correlation one after the other, without a matrix.
"""

from __future__ import annotations

import numpy as np

from lagwise.core.errors import ModelError

LIMIT = 0.995
"""|rho| is searched up to here."""


def gaps(step: np.ndarray, person: np.ndarray | None = None) -> np.ndarray:
    """(n,) steps since the row before, 0 at a person's first; rows are sorted by person and step.

    Raises
    ------
    ModelError
        When steps are not whole numbers, or one occurs twice.
    """
    if not (np.isfinite(step).all() and (step == np.round(step)).all()):
        raise ModelError("steps are not whole numbers", mend="Number the steps from the first one on.")
    gap = np.diff(step, prepend=step[:1]).astype(float)
    first = np.arange(len(step)) == 0
    if person is not None:
        first[1:] = person[1:] != person[:-1]
    if (gap[~first] <= 0).any():
        raise ModelError("a step occurs twice", mend="Give one value per step.")
    return np.where(first, 0.0, gap)


def whitened(A: np.ndarray, gap: np.ndarray, rho: np.ndarray | float) -> tuple[np.ndarray, np.ndarray]:
    """Columns freed of the correlation, and the logarithm of its determinant.

    Parameters
    ----------
    A : (n, k), rows sorted by person and step
    gap : (n,) of `gaps`
    rho : (B,) or number between -1 and 1, the ends left out

    Returns
    -------
    (B, n, k) or (n, k) columns U A with U'U = R^-1, and (B,) or () log|R|.
    """
    carry = np.where(gap > 0, np.asarray(rho, dtype=float)[..., None] ** np.maximum(gap, 1), 0.0)
    left = 1 - carry**2
    before = np.concatenate([A[:1], A[:-1]])
    return (A - carry[..., None] * before) / np.sqrt(left)[..., None], np.log(left).sum(axis=-1)


def correlations(step: np.ndarray, rho: float) -> tuple[np.ndarray, np.ndarray]:
    """(n, n) correlations rho^d of one person's errors, and their derivatives d rho^(d - 1)."""
    apart = np.abs(step[:, None] - step[None, :]).astype(float)
    return rho**apart, apart * rho ** np.maximum(apart - 1, 0)
