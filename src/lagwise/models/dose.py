"""Is the association with load jumps straight? Natural cubic spline of jump in the mixed model."""

from __future__ import annotations

import time

import numpy as np
import pandas as pd
from scipy.special import fdtrc, stdtrit

from lagwise.core.effects import effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.core.study import INTERVAL
from lagwise.models.contrasts import trained_rows
from lagwise.models.design import Design, design, design_from
from lagwise.models.gates import gate_frame, gate_row
from lagwise.models.ladder import Rung, climb

KNOTS = (0.05, 0.275, 0.5, 0.725, 0.95)
"""Quantiles of the trained steps' jumps at which the knots stand: three inside, two at the ends (Harrell
2015, ch. 2)."""
BENDS = ("jump_bend1", "jump_bend2", "jump_bend3")
POINTS = 61


def fit_dose(panel: Panel) -> Fit:
    """Dose-response of jump: a natural cubic spline with 3 interior knots in the mixed model, in points
    against usual load.

    The curve is f(jump) - f(0), with f linear outside the outer knots, the other columns as in the primary
    analysis, and the random effects of the highest rung of the ladder that holds (person slopes of jump are
    straight lines).

    Returns
    -------
    Fit
        engine 'dose', no rows in `effects`. `tables`: curve (jump in log units, percent over usual load,
        estimate, std_error, low, high in points; over the 5th to 95th percentile of the trained steps' jumps
        and no further), rug (jump, percent of each trained step), knots (quantile, jump), nonlinearity (f,
        df1, df2, p: Wald test that all bends are 0, with the smallest of the bends' Satterthwaite degrees of
        freedom). Not usable, with `why_not`, when people are too few, there is no load, or jumps take too few
        values.

    Examples
    --------
    >>> lw.fit_dose(panel).table("knots")["quantile"].tolist()
    [0.05, 0.275, 0.5, 0.725, 0.95]
    """
    began = time.perf_counter()
    data = design(panel)
    problem = _not_possible(data)
    if problem:
        return _refused(data, problem)
    trained = data.frame["jump"].to_numpy(dtype=float)[trained_rows(data)]
    knots = np.quantile(trained, KNOTS)
    if np.min(np.diff(knots)) <= 1e-9 * max(1.0, float(np.ptp(trained))):
        return _refused(data, "load jumps take too few different values to place five knots")
    bent = _with_spline(data, knots)
    kept = [c for c in BENDS if c in bent.names]
    if "jump" not in bent.names or len(kept) < len(BENDS):
        return _refused(data, "the spline's columns are mixtures of the other columns")
    try:
        rung = climb(bent, "jump")
    except ModelError as error:
        return _refused(data, error.what)
    converged = bool(rung.estimates.converged[0])
    gates = gate_frame(
        [
            gate_row(
                "converged",
                float(converged),
                "1",
                converged,
                "the search for the variances ended at a stationary point",
            )
        ]
    )
    return Fit(
        engine="dose",
        outcome=data.outcome,
        effects=effects_frame([]),
        diagnostics=gates,
        usable=converged,
        why_not="" if converged else "the search for the variances did not converge",
        rung=f"{rung.words}; natural cubic spline of jump, 3 interior knots",
        rung_reason=rung.reason,
        n_people=data.n_people,
        n_steps=data.n_steps,
        tables={
            "curve": _curve(rung, knots),
            "rug": _with_percent(pd.DataFrame({"jump": np.sort(trained)})),
            "knots": pd.DataFrame({"quantile": KNOTS, "jump": knots}),
            "nonlinearity": _nonlinearity(rung),
        },
        settings={"pain_adjusted": data.pain_adjusted, "knots": list(KNOTS)},
        seconds=time.perf_counter() - began,
        step=panel.study.step,
        asked=panel.study.asked,
    )


def natural_spline(x: np.ndarray, knots: np.ndarray) -> np.ndarray:
    """(n, 3) columns that bend a straight line: restricted cubic splines on five knots, linear outside the
    outer two.

    b_j(x) = [(x - t_j)+^3 - (x - t_4)+^3 (t_5 - t_j) / (t_5 - t_4) + (x - t_5)+^3 (t_4 - t_j) / (t_5 - t_4)]
    / (t_5 - t_1)^2.
    """
    x = np.asarray(x, dtype=float)[:, None]
    first, fourth, fifth = knots[:3], knots[3], knots[4]

    def cube(at: np.ndarray) -> np.ndarray:
        return np.maximum(x - at, 0.0) ** 3

    width = fifth - fourth
    bent = cube(first) - cube(fourth) * (fifth - first) / width + cube(fifth) * (fourth - first) / width
    return bent / (fifth - knots[0]) ** 2


def _not_possible(data: Design) -> str:
    gate = gate_for(data.n_people)
    if not gate.mixed:
        return f"{gate.sentence} The dose-response curve needs at least 10 people."
    if "jump" not in data.names:
        return "no load jump varies in the usable steps"
    return ""


def _with_spline(data: Design, knots: np.ndarray) -> Design:
    frame = data.frame.assign(
        **dict(zip(BENDS, natural_spline(data.frame["jump"].to_numpy(), knots).T, strict=True))
    )
    columns = [c for c in data.names[1:] if c != "jump"]
    return design_from(
        frame, ["jump", *BENDS, *columns], outcome=data.outcome, pain_adjusted=data.pain_adjusted, dropped=data.dropped,
        asked=data.asked,
    )  # fmt: skip


def _curve(rung: Rung, knots: np.ndarray) -> pd.DataFrame:
    at = np.linspace(knots[0], knots[-1], POINTS)
    basis = np.column_stack([at, natural_spline(at, knots) - natural_spline(np.zeros(1), knots)])
    rows = []
    for jump, values in zip(at, basis, strict=True):
        weights = np.zeros(len(rung.design.names))
        for column, value in zip(("jump", *BENDS), values, strict=True):
            weights[rung.design.names.index(column)] = value
        found = rung.estimates.contrast(weights)
        estimate, error, df = float(found.estimate[0]), float(found.std_error[0]), float(found.df[0])
        half = stdtrit(df, 0.5 + INTERVAL / 2) * error if error > 0 else 0.0
        rows.append(
            {
                "jump": jump,
                "estimate": estimate,
                "std_error": error,
                "low": estimate - half,
                "high": estimate + half,
            }
        )
    return _with_percent(pd.DataFrame(rows))


def _with_percent(frame: pd.DataFrame) -> pd.DataFrame:
    frame.insert(1, "percent", 100 * np.expm1(frame["jump"]))
    return frame


def _nonlinearity(rung: Rung) -> pd.DataFrame:
    at = [rung.design.names.index(c) for c in BENDS]
    beta, cov = rung.estimates.beta[0][at], rung.estimates.cov[0][np.ix_(at, at)]
    df = min(rung.contrast(c)[2] for c in BENDS)
    f = float(beta @ np.linalg.solve(cov, beta)) / len(at)
    return pd.DataFrame([{"f": f, "df1": len(at), "df2": df, "p": float(fdtrc(len(at), df, f))}])


def _refused(data: Design, problem: str) -> Fit:
    return Fit(
        "dose", data.outcome, effects_frame([]), gate_frame([]), False, "not fitted",
        why_not=problem, n_people=data.n_people, n_steps=data.n_steps, asked=(data.asked.variable,),
    )  # fmt: skip
