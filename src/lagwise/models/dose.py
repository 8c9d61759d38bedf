"""Is the association with load jumps straight? Natural cubic spline of jump in the mixed model."""

from __future__ import annotations

import time

import numpy as np
import pandas as pd
from scipy.special import fdtrc, stdtrit

from lagwise.core.claim import said
from lagwise.core.effects import effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.core.study import INTERVAL
from lagwise.core.variable import JUMP
from lagwise.models.contrasts import trained_rows
from lagwise.models.design import design, design_from
from lagwise.models.gates import converged_row, gate_frame, made, refused
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
    gate = gate_for(data.n_people)
    if not gate.mixed:
        return refused("dose", data, said("not_fitted.few_for_dose", gate=gate.sentence))
    if JUMP not in data.names:
        return refused("dose", data, said("not_fitted.no_jump", step=panel.study.step))
    trained = data.frame[JUMP].to_numpy(dtype=float)[trained_rows(data)]
    knots = np.quantile(trained, KNOTS)
    if np.min(np.diff(knots)) <= 1e-9 * max(1.0, float(np.ptp(trained))):
        return refused("dose", data, said("not_fitted.few_knots"))
    bends = natural_spline(data.frame[JUMP].to_numpy(), knots).T
    bent = design_from(
        data.frame.assign(**dict(zip(BENDS, bends, strict=True))),
        [JUMP, *BENDS, *(c for c in data.names[1:] if c != JUMP)],
        outcome=data.outcome,
        pain_adjusted=data.pain_adjusted,
        dropped=data.dropped,
        study=data.study,
    )
    if not {JUMP, *BENDS} <= set(bent.names):
        return refused("dose", data, said("not_fitted.spline_mixed"))
    try:
        rung = climb(bent, JUMP)
    except ModelError as error:
        return refused("dose", data, error.what)
    converged = bool(rung.estimates.converged[0])
    return made(
        "dose",
        panel,
        data,
        began,
        "" if converged else said("not_usable.search"),
        effects=effects_frame([]),
        diagnostics=gate_frame([converged_row(converged)]),
        rung=said("model.dose", mixed=rung.words),
        rung_reason=rung.reason,
        tables={
            "curve": _curve(rung, knots),
            "rug": _with_percent(pd.DataFrame({JUMP: np.sort(trained)})),
            "knots": pd.DataFrame({"quantile": KNOTS, JUMP: knots}),
            "nonlinearity": _nonlinearity(rung),
        },
        settings={"pain_adjusted": data.pain_adjusted, "knots": list(KNOTS)},
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


def _curve(rung: Rung, knots: np.ndarray) -> pd.DataFrame:
    at = np.linspace(knots[0], knots[-1], POINTS)
    basis = np.column_stack([at, natural_spline(at, knots) - natural_spline(np.zeros(1), knots)])
    weights = np.zeros(len(rung.design.names))
    columns = [rung.design.names.index(name) for name in (JUMP, *BENDS)]
    rows = []
    for jump, values in zip(at, basis, strict=True):
        weights[columns] = values
        found = rung.estimates.contrast(weights)
        estimate, error, df = float(found.estimate[0]), float(found.std_error[0]), float(found.df[0])
        half = stdtrit(df, 0.5 + INTERVAL / 2) * error if error > 0 else 0.0
        rows.append((jump, estimate, error, estimate - half, estimate + half))
    return _with_percent(pd.DataFrame(rows, columns=[JUMP, "estimate", "std_error", "low", "high"]))


def _with_percent(frame: pd.DataFrame) -> pd.DataFrame:
    frame.insert(1, "percent", 100 * np.expm1(frame[JUMP]))
    return frame


def _nonlinearity(rung: Rung) -> pd.DataFrame:
    at = [rung.design.names.index(c) for c in BENDS]
    beta, cov = rung.estimates.beta[0][at], rung.estimates.cov[0][np.ix_(at, at)]
    df = min(rung.contrast(c)[2] for c in BENDS)
    f = float(beta @ np.linalg.solve(cov, beta)) / len(at)
    return pd.DataFrame([{"f": f, "df1": len(at), "df2": df, "p": float(fdtrc(len(at), df, f))}])
