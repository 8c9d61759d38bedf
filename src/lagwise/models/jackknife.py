"""Split-panel jackknife: how much of an estimate is bias of order 1/T from short records with feedback."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.core.errors import ModelError
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import Design, design_from
from lagwise.models.estimates import Structure, factor
from lagwise.models.kernel import fit
from lagwise.models.ladder import Rung
from lagwise.models.rows import limits


@dataclass(frozen=True)
class Linear:
    """An estimate as a weighted sum of the outcome: `weights` (n,) give the estimate when multiplied with
    y."""

    estimate: float
    weights: np.ndarray


def jackknife(rung: Rung, column: str, size: float = 1.0) -> pd.DataFrame:
    """The plain estimate, the estimates in each half of every record, and the bias-corrected one.

    corrected = 2 x whole - (first half + second half) / 2 (Dhaene & Jochmans 2015,
    doi:10.1093/restud/rdv007). Each person's usable steps are cut at their middle, within-person parts are
    centred anew in each half, and the same rung is fitted. The interval of the corrected estimate uses the
    exact variance of that combination under the fitted model, and the df of the plain one.

    Columns: estimate (whole, first_half, second_half, corrected), value, std_error, low, high, n_steps.
    Values are in points per `size` units. When a half cannot carry the model only the first row is given.
    """
    estimate, std_error, df = rung.contrast(column, size)
    low, high = limits(estimate, std_error, df)
    rows = [("whole", estimate, std_error, low, high, rung.design.n_steps)]
    try:
        first, second = halves(rung.design)
        parts = [_linear(d, rung, column, size) for d in (first, second)]
    except ModelError:
        return _frame(rows)
    whole = _linear(rung.design, rung, column, size)
    index = _positions(rung.design, first, second)
    weights = 2 * whole.weights
    for part, at in zip(parts, index, strict=True):
        weights[at] -= part.weights / 2
    corrected = 2 * estimate - (parts[0].estimate + parts[1].estimate) / 2
    error = _error(rung, weights)
    for name, part, half in zip(("first_half", "second_half"), parts, (first, second), strict=True):
        rows.append((name, part.estimate, np.nan, np.nan, np.nan, half.n_steps))
    rows.append(("corrected", corrected, error, *limits(corrected, error, df), rung.design.n_steps))
    return _frame(rows)


def halves(design: Design) -> tuple[Design, Design]:
    """The design's steps cut at the middle of each person's usable record, within-person parts centred anew.

    Raises
    ------
    ModelError
        When a half is empty.
    """
    rank = design.frame.groupby("person").cumcount().to_numpy()
    count = np.bincount(design.person)[design.person]
    late = rank >= (count + 1) // 2
    parts = []
    for half in (~late, late):
        frame = design.frame[half].copy()
        for name in design.names:
            if name.endswith("_within"):
                frame[name] = frame[name] - frame.groupby("person")[name].transform("mean")
                between = name.replace("_within", "_between")
                if between in frame:
                    frame[between] = frame[between] + (design.frame.loc[half, name] - frame[name])
        columns = [n for n in design.names if n != "intercept"]
        part = design_from(frame, columns, outcome=design.outcome, study=design.study)
        parts.append(replace(part, adjustment=design.adjustment, pain_adjusted=design.pain_adjusted))
    return parts[0], parts[1]


def _linear(design: Design, rung: Rung, column: str, size: float) -> Linear:
    """The rung's estimator on a design, with its own variances, as weights on the outcome."""
    if column not in design.names or design.n_steps <= len(design.names) + design.n_people:
        raise ModelError(f"a half of the record cannot carry {column}")
    structure: Structure = rung.estimates.structure
    Z = np.ones((design.n_steps, 1))
    if structure != "intercept":
        if rung.slope not in design.names:
            raise ModelError(f"a half of the record cannot carry slopes of {rung.slope}")
        Z = np.column_stack([Z, design.X[:, design.names.index(rung.slope)]])
    e = fit(CrossProducts.build(design.y, design.X, Z, design.person), structure)
    if not np.isfinite(e.deviance[0]):
        raise ModelError("a half of the record cannot carry the model")
    inverse_X = inverse_times(Z, design.person, factor(e.theta, structure)[0], design.X)
    P = np.linalg.inv(design.X.T @ inverse_X)
    at = design.names.index(column)
    return Linear(size * float(e.beta[0, at]), size * inverse_X @ P[:, at])


def inverse_times(Z: np.ndarray, person: np.ndarray, L: np.ndarray, A: np.ndarray) -> np.ndarray:
    """V^-1 A with V_i = I + Z_i L L'Z_i', row by row."""
    m, q = person.max() + 1, Z.shape[1]
    ZtZ, ZtA = np.zeros((m, q, q)), np.zeros((m, q, A.shape[1]))
    np.add.at(ZtZ, person, Z[:, :, None] * Z[:, None, :])
    np.add.at(ZtA, person, Z[:, :, None] * A[:, None, :])
    inner = L @ np.linalg.inv(np.eye(q) + L.T @ ZtZ @ L) @ L.T
    return A - np.einsum("nq,nqp->np", Z, (inner @ ZtA)[person])


def _error(rung: Rung, weights: np.ndarray) -> float:
    """SD of weights'y under the fitted model."""
    d, e = rung.design, rung.estimates
    L = factor(e.theta, e.structure)[0]
    sums = np.zeros((d.n_people, len(L)))
    np.add.at(sums, d.person, weights[:, None] * rung.person_columns)
    return float(e.sigma[0] * np.sqrt(weights @ weights + np.sum((sums @ L) ** 2)))


def _positions(design: Design, first: Design, second: Design) -> tuple[np.ndarray, np.ndarray]:
    keys = {key: i for i, key in enumerate(zip(design.frame["person"], design.frame["step"], strict=True))}
    pick = [
        np.array([keys[k] for k in zip(d.frame["person"], d.frame["step"], strict=True)])
        for d in (first, second)
    ]
    return pick[0], pick[1]


def _frame(rows: list[tuple]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["estimate", "value", "std_error", "low", "high", "n_steps"])
