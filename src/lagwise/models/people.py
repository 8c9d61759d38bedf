"""Each person's slope: partially pooled beside their own, which ranks nobody."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import ndtr

from lagwise.core.errors import ModelError
from lagwise.core.results import Fit
from lagwise.models.estimates import factor
from lagwise.models.ladder import Rung
from lagwise.models.rows import limits


def person_effects(rung: Rung) -> np.ndarray:
    """(m, q) predicted person effects (BLUPs): sigma^2 Psi Z_i'(sigma^2 V_i)^-1 (y_i - X_i beta)."""
    return _predicted(rung)[0]


def person_slopes(rung: Rung, column: str) -> pd.DataFrame:
    """One row per person for the slope of `column`, sorted by the partially pooled slope.

    Columns: person; steps; slope, low, high (caseload slope plus the person's predicted departure; the
    interval carries the uncertainty of both, given the variances); own_slope, own_low, own_high (least
    squares on the person's steps alone, after taking off what the other columns of the model account for;
    missing below 4 steps or without spread); p_above_caseload (probability that the person's slope exceeds
    the caseload's, given the variances; 0.5 where the model has no person slopes).
    """
    d, e = rung.design, rung.estimates
    at = d.names.index(column)
    effects, spread, loads = _predicted(rung)
    counts = np.bincount(d.person)
    pick = np.zeros(d.X.shape[1])
    pick[at] = 1.0
    sloped = effects.shape[1] == 2 and rung.slope == column
    departure = effects[:, 1] if sloped else np.zeros(len(counts))
    w = pick[None] - (loads[:, 1] if sloped else 0.0)
    given = spread[:, 1] if sloped else np.zeros(len(counts))
    error = np.sqrt(given + np.einsum("mi,ij,mj->m", w, e.cov[0], w))
    shift = loads[:, 1] if sloped else np.zeros_like(w)
    alone = np.sqrt(given + np.einsum("mi,ij,mj->m", shift, e.cov[0], shift))
    rest = d.y - d.X @ e.beta[0] + d.X[:, at] * e.beta[0, at]
    rows = []
    for i, person in enumerate(d.people):
        slope = float(e.beta[0, at] + departure[i])
        own = _own(rest[d.person == i], d.X[d.person == i, at])
        above = float(ndtr(departure[i] / alone[i])) if sloped and alone[i] > 0 else 0.5
        rows.append((person, int(counts[i]), slope, *limits(slope, float(error[i]), np.inf), *own, above))
    names = "person steps slope low high own_slope own_low own_high p_above_caseload"
    frame = pd.DataFrame(rows, columns=names.split())
    return frame.sort_values(["slope", "person"], kind="stable").reset_index(drop=True)


def pooling(fit: Fit) -> pd.DataFrame:
    """People's slopes of the primary exposure with no pooling, partial pooling and full pooling.

    Returns
    -------
    DataFrame
        pooling; people who have a slope; lowest, middle and highest of their slopes, in points for the
        plan's contrast, and `sd` between them. `none`: least squares on each person's own steps; `partial`:
        drawn towards the caseload's, as the mixed model has it; `full`: one slope for all, from differences
        within people (fixed effects).

    Raises
    ------
    ModelError
        When the fit has no slopes of people, as with fewer than 10 people.
    """
    if "people" not in fit.required().tables:
        raise ModelError(
            "this fit has no slopes of people",
            mend="They need a mixed model with the primary exposure in it.",
        )
    people = fit.table("people")
    size = fit.primary()["contrast_size"].iloc[0]
    full = np.repeat(fit.table("within")["estimate"].to_numpy(dtype=float), len(people))
    own, drawn = size * people["own_slope"].dropna(), size * people["slope"]
    kinds = {"none": own, "partial": drawn, "full": pd.Series(full)}
    rows = [
        (name, len(v), v.min(), v.median(), v.max(), v.std() if name != "full" else 0.0)
        for name, v in kinds.items()
    ]
    return pd.DataFrame(rows, columns=["pooling", "people", "lowest", "middle", "highest", "sd"])


def _predicted(rung: Rung) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Person effects (m, q), their variances given beta (m, q), and d effect / d beta with its sign turned
    (m, q, p)."""
    d, e = rung.design, rung.estimates
    L = factor(e.theta, e.structure)[0]
    q, m, Z = len(L), d.n_people, rung.person_columns
    ZtZ, ZtX, Ztr = np.zeros((m, q, q)), np.zeros((m, q, d.X.shape[1])), np.zeros((m, q))
    np.add.at(ZtZ, d.person, Z[:, :, None] * Z[:, None, :])
    np.add.at(ZtX, d.person, Z[:, :, None] * d.X[:, None, :])
    np.add.at(Ztr, d.person, Z * (d.y - d.X @ e.beta[0])[:, None])
    inner = L @ np.linalg.inv(np.eye(q) + L.T @ ZtZ @ L) @ L.T
    spread = e.sigma[0] ** 2 * np.einsum("mqq->mq", inner)
    return np.einsum("mqr,mr->mq", inner, Ztr), spread, inner @ ZtX


def _own(y: np.ndarray, x: np.ndarray) -> tuple[float, float, float]:
    xc = x - x.mean()
    ss = xc @ xc
    if len(y) < 4 or ss <= 1e-12 * max(1.0, float(x @ x)):
        return np.nan, np.nan, np.nan
    slope = float(xc @ y / ss)
    residual = y - y.mean() - slope * xc
    error = float(np.sqrt(residual @ residual / (len(y) - 2) / ss))
    return (slope, *limits(slope, error, len(y) - 2))
