"""Gates of a mixed or within-person fit: what must hold before its numbers are written up."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.effects import effects_frame
from lagwise.core.results import Fit, Panel
from lagwise.models.collinear import NEAR, nearest_pair
from lagwise.models.design import Design, centred_on_people
from lagwise.models.ladder import Rung
from lagwise.models.people import person_effects
from lagwise.models.second import Agreement
from lagwise.models.within import WithinFit

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
    return pd.DataFrame(list(rows), columns=list(COLUMNS)).astype({"passed": object})


def failed(frame: pd.DataFrame) -> str:
    """The gates that failed, in words; empty when none did."""
    lost = [str(g) for g, p in zip(frame["gate"], frame["passed"], strict=True) if p is False]
    return "; ".join(said("not_usable.gate", gate=gate) for gate in lost)


def refused(engine: str, data: Design, problem: str, **more: Any) -> Fit:
    """A fit without numbers of an engine, for the reason in `problem`; `more` is what else it tells."""
    none, size = said("model.none"), {"n_people": data.n_people, "n_steps": data.n_steps}
    more = {"asked": data.study.asked, "step": data.study.step} | size | more
    return Fit(engine, data.outcome, effects_frame([]), gate_frame([]), False, none, why_not=problem, **more)


def made(engine: str, panel: Panel, data: Design, began: float, problem: str, **more: Any) -> Fit:
    """A fit of an engine to the rows of a design, begun at `began` (`time.perf_counter`); `problem` says why
    it is no result, '' where it is one."""
    size, asked = {"n_people": data.n_people, "n_steps": data.n_steps}, panel.study.asked
    more |= {"usable": not problem, "why_not": problem, "step": panel.study.step, "asked": asked} | size
    return Fit(engine, data.outcome, seconds=time.perf_counter() - began, **more)


def converged_row(converged: bool) -> dict[str, Any]:
    """Whether the search for the variances ended at a stationary point."""
    return gate_row("converged", float(converged), "1", bool(converged), said("gate.converged"))


def mixed_gates(rung: Rung, agreement: Agreement) -> pd.DataFrame:
    """Converged, Hessian, agreement, residual shape, outlying people and near-collinear exposures of the
    primary mixed model."""
    e, effects = rung.estimates, person_effects(rung)
    lowest = float(np.linalg.eigvalsh(e.hessian[0])[0])
    spread = np.sqrt(np.diag(e.covariance()[0]))
    with np.errstate(invalid="ignore", divide="ignore"):
        far = float(np.where(spread > 0, np.abs(effects) / spread, 0.0).max())
    near = far <= OUTLYING
    outlier = said("gate.outlier", far=not near)
    return gate_frame(
        [
            converged_row(e.converged[0]),
            gate_row("hessian_positive_definite", lowest, "> 0", bool(e.positive[0]), said("gate.hessian")),
            _agreement_row(agreement),
            *residual_rows(residuals(rung)),
            gate_row("random_effect_outlier", far, f"<= {OUTLYING:g}", True if near else None, outlier),
            collinear_row(rung.design),
        ]
    )


def collinear_row(design: Design) -> dict[str, Any]:
    """The pair of exposures that go together most closely within people; it is named and never fails a
    fit."""
    value, well, meaning = nearest_pair(design)
    return gate_row("near_collinear", value, f"within {NEAR:g}", True if well else None, meaning)


def _agreement_row(agreement: Agreement) -> dict[str, Any]:
    """The second optimiser's row; not decided when it gave nothing to compare."""
    found, limit = agreement.difference, f"<= {AGREE:g}"
    if found is None:
        meaning = said("gate.not_comparable", why=agreement.reason)
        return gate_row("second_search", np.nan, limit, None, meaning)
    return gate_row(
        "second_search", found, limit, found <= AGREE, said("gate.second", instead=agreement.reason)
    )


def residual_rows(standardised: np.ndarray) -> list[dict[str, Any]]:
    """Skewness and excess kurtosis of residuals."""
    z = (standardised - standardised.mean()) / standardised.std()
    skew, kurtosis = float((z**3).mean()), float((z**4).mean() - 3)
    shape, tails = said("gate.skewness"), said("gate.kurtosis")
    return [
        gate_row("residual_skewness", skew, f"within {SKEW:g}", abs(skew) <= SKEW, shape),
        gate_row("residual_kurtosis", kurtosis, f"<= {KURTOSIS:g}", kurtosis <= KURTOSIS, tails),
    ]


def within_gates(fit: WithinFit) -> pd.DataFrame:
    """Residual shape and near-collinear exposures of a within-person fit."""
    d = fit.design
    r = centred_on_people((d.y - d.X @ fit.beta)[:, None], d.person)[:, 0]
    return gate_frame([*residual_rows(r), collinear_row(d)])


def residuals(rung: Rung) -> np.ndarray:
    """(n,) residuals after fixed and person effects, in residual SDs."""
    d, effects = rung.design, person_effects(rung)
    fitted = d.X @ rung.estimates.beta[0] + (effects[d.person] * rung.person_columns).sum(axis=1)
    return (d.y - fitted) / rung.estimates.sigma[0]
