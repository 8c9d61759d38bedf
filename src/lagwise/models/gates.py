"""Gates of a mixed or within-person fit: what must hold before its numbers are written up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from lagwise.models.collinear import NEAR, nearest_pair
from lagwise.models.design import Design
from lagwise.models.ladder import Rung
from lagwise.models.people import person_effects
from lagwise.models.second import Agreement
from lagwise.models.within import WithinFit, centred_on_people

AGREE = 0.02
"""Largest difference between two optimisers, in standard errors of the primary coefficient."""
SKEW, KURTOSIS = 2.0, 7.0
"""Absolute skewness and excess kurtosis of residuals beyond which linear models are not trusted (West et al.
1995)."""
OUTLYING = 4.0
"""Person effect, in its own SDs, from which a person is pointed out."""

COLUMNS = ("gate", "value", "limit", "passed", "meaning")


def gate_row(gate: str, value: float, limit: str, passed: bool | None, meaning: str) -> dict[str, Any]:
    """One row of a diagnostics table; `passed` None means the gate does not decide here."""
    return {"gate": gate, "value": float(value), "limit": limit, "passed": passed, "meaning": meaning}


def gate_frame(rows: Sequence[dict[str, Any]]) -> pd.DataFrame:
    """Rows as a diagnostics table."""
    frame = pd.DataFrame(list(rows), columns=list(COLUMNS))
    return frame.astype({"passed": object})


def failed(frame: pd.DataFrame) -> str:
    """The gates that failed, in words; empty when none did."""
    lost = [
        str(g).replace("_", " ") for g, p in zip(frame["gate"], frame["passed"], strict=True) if p is False
    ]
    return "; ".join(f"failed: {gate}" for gate in lost)


def mixed_gates(rung: Rung, agreement: Agreement) -> pd.DataFrame:
    """Converged, Hessian, agreement, residual shape, outlying people and near-collinear exposures of the
    primary mixed model."""
    e = rung.estimates
    lowest = float(np.linalg.eigvalsh(e.hessian[0])[0])
    rows = [
        gate_row("converged", float(e.converged[0]), "1", bool(e.converged[0]), "the search for the variances ended at a stationary point"),
        gate_row("hessian_positive_definite", lowest, "> 0", bool(e.positive[0]), "smallest eigenvalue of the deviance's Hessian: the point found is a minimum"),
        agreement_row(agreement),
        *residual_rows(residuals(rung)),
    ]  # fmt: skip
    effects = person_effects(rung)
    spread = np.sqrt(np.diag(e.covariance()[0]))
    with np.errstate(invalid="ignore", divide="ignore"):
        size = np.where(spread > 0, np.abs(effects) / spread, 0.0)
    far = float(size.max())
    note = "largest person effect in its own SDs"
    rows.append(
        gate_row("random_effect_outlier", far, f"<= {OUTLYING:g}", True if far <= OUTLYING else None,
                 note if far <= OUTLYING else f"{note}: one person lies far from the others; see the estimates without each person")
    )  # fmt: skip
    rows.append(collinear_row(rung.design))
    return gate_frame(rows)


def collinear_row(design: Design) -> dict[str, Any]:
    """The pair of exposures that go together most closely within people; it is named and never fails a
    fit."""
    value, well, meaning = nearest_pair(design)
    return gate_row("near_collinear", value, f"within {NEAR:g}", True if well else None, meaning)


def agreement_row(agreement: Agreement) -> dict[str, Any]:
    """The second optimiser's row; not decided when it gave nothing to compare."""
    if agreement.difference is None:
        return gate_row("second_search", np.nan, f"<= {AGREE:g}", None, f"not comparable: {agreement.reason}")
    return gate_row(
        "second_search", agreement.difference, f"<= {AGREE:g}", agreement.difference <= AGREE,
        "difference from statsmodels in standard errors of the primary coefficient"
        + (f", {agreement.reason}" if agreement.reason else ""),
    )  # fmt: skip


def residual_rows(standardised: np.ndarray) -> list[dict[str, Any]]:
    """Skewness and excess kurtosis of residuals."""
    z = (standardised - standardised.mean()) / standardised.std()
    skew, kurtosis = float((z**3).mean()), float((z**4).mean() - 3)
    return [
        gate_row("residual_skewness", skew, f"within {SKEW:g}", abs(skew) <= SKEW, "shape of the residuals: 0 is symmetric"),
        gate_row("residual_kurtosis", kurtosis, f"<= {KURTOSIS:g}", kurtosis <= KURTOSIS, "shape of the residuals: 0 is normal, more is heavy-tailed"),
    ]  # fmt: skip


def within_gates(fit: WithinFit) -> pd.DataFrame:
    """Residual shape and near-collinear exposures of a within-person fit."""
    d = fit.design
    r = centred_on_people((d.y - d.X @ fit.beta)[:, None], d.person)[:, 0]
    return gate_frame([*residual_rows(r), collinear_row(d)])


def residuals(rung: Rung) -> np.ndarray:
    """(n,) residuals after fixed and person effects, in residual SDs."""
    d, effects = rung.design, person_effects(rung)
    fitted = d.X @ rung.estimates.beta[0] + effects[d.person, 0]
    if effects.shape[1] == 2:
        fitted = fitted + effects[d.person, 1] * rung.slope_values
    return (d.y - fitted) / rung.estimates.sigma[0]
