"""How long does it last? Distributed lags of the load jump on next step's pain, with a smoothness prior."""

from __future__ import annotations

import time

import numpy as np
import pandas as pd

from lagwise.core.effects import effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.core.study import INTERVAL
from lagwise.models.design import Design, design, design_from
from lagwise.models.gates import gate_frame, gate_row
from lagwise.models.smooth import Smooth, fit_smooth

TAU = 0.5
"""Prior scale of the SD of second differences between lags, points per log unit."""
ROUGH = 1000.0
"""A tau so large that it smooths nothing."""
NOTE = (
    "Lags above 0 are what earlier jumps add at the same pain now: whatever they did to pain by now is adjusted away, "
    "so the curve shows delayed, not total, associations."
)


def fit_lags(panel: Panel, lags: int = 4) -> Fit:
    """Distributed lags 0 to lags - 1 of jump on pain_next.

    pain_next = sum over l of b_l jump_{t-l} + the primary analysis's other columns + rested and restarted of every lag + person
    intercept + residual. The second differences of b_0, b_1, ... are normal around 0 with SD tau ~ half-normal(0.5 points per log
    unit); level and trend are free. The posterior is computed exactly on a grid of tau (`lagwise.models.smooth`), without
    sampling.

    Parameters
    ----------
    panel : Panel
    lags : int
        How many lags, 3 to 8; lag 0 is the step before pain_next.

    Returns
    -------
    Fit
        engine 'lags', no rows in `effects`. `tables`: curve (lag, estimate, std_error, low, high, cumulative, cumulative_low,
        cumulative_high; points per log unit of jump, the cumulative columns being the sum of lags 0 to this one), unsmoothed (lag,
        estimate, std_error, low, high without smoothing) and smoothness (quantity, value). Not usable, with `why_not`,
        when people are too few or the lags cannot be told apart.

    Raises
    ------
    ModelError
        When `lags` is outside 3 to 8, or no step is complete.
    """
    began = time.perf_counter()
    if not 3 <= lags <= 8:
        raise ModelError(f"{lags} lags were asked for", where="fit_lags", mend="Ask for 3 to 8.")
    data = design(panel)
    gate = gate_for(data.n_people)
    if not gate.mixed:
        return _refused(data, f"{gate.sentence} Distributed lags need at least 10 people.")
    if "jump" not in data.names:
        return _refused(data, "no load jump varies in the usable steps")
    try:
        lagged = _lagged(panel, data, lags)
    except ModelError:
        return _refused(data, f"no step has known loads {lags - 1} steps back")
    if not gate_for(lagged.n_people).mixed:
        return _refused(
            lagged, f"only {lagged.n_people} people have steps with known loads {lags - 1} steps back; 10 are needed"
        )
    wanted = [f"jump_lag{lag}" for lag in range(lags)]
    if any(c not in lagged.names for c in wanted) or lagged.n_steps <= len(lagged.names) + 2:
        return _refused(lagged, "the lags of jump cannot be told apart in these steps")
    if np.ptp(lagged.y) == 0:
        return _refused(lagged, f"pain_next is {lagged.y[0]:g} on every usable step; there is nothing to explain")
    at = [lagged.names.index(c) for c in wanted]
    others = [i for i in range(len(lagged.names)) if i not in at]
    parts = lagged.X[:, others], lagged.X[:, at]
    smooth = fit_smooth(lagged.y, *parts, lagged.person, scale=TAU)
    rough = fit_smooth(lagged.y, *parts, lagged.person, scale=TAU, taus=np.array([ROUGH]))
    ends = float(smooth.weight[-1])
    gates = gate_frame(
        [
            gate_row(
                "grid", ends, "<= 0.01", ends <= 0.01, "posterior weight at the end of the grid of smoothness values"
            )
        ]
    )
    return Fit(
        engine="lags",
        outcome=data.outcome,
        effects=effects_frame([]),
        diagnostics=gates,
        usable=ends <= 0.01,
        why_not="" if ends <= 0.01 else "the data ask for rougher lags than the grid of smoothness values holds",
        rung="person intercepts, smooth distributed lags of jump",
        n_people=lagged.n_people,
        n_steps=lagged.n_steps,
        tables={
            "curve": _curve(smooth, lags),
            "unsmoothed": _curve(rough, lags)[["lag", "estimate", "std_error", "low", "high"]],
            "smoothness": pd.DataFrame(
                [
                    {
                        "quantity": "SD of second differences, points per log unit",
                        "value": float(smooth.weight @ smooth.tau),
                    },
                    {"quantity": "residual SD, points", "value": smooth.sigma},
                ]
            ),
        },
        settings={"lags": lags, "tau_prior": TAU, "pain_adjusted": data.pain_adjusted},
        notes=(NOTE,),
        seconds=time.perf_counter() - began,
        step=panel.study.step,
    )


def _lagged(panel: Panel, data: Design, lags: int) -> Design:
    """The primary design with jump, rested and restarted of every lag, complete rows only."""
    whole = panel.frame.sort_values(["person", "step"], kind="stable")
    groups = whole.groupby("person", sort=False)
    columns: dict[str, pd.Series] = {}
    for lag in range(lags):
        for name in ("jump", "rested", "restarted"):
            columns[f"{name}_lag{lag}"] = groups[name].shift(lag)
    extra = whole[["person", "step"]].assign(**columns)
    frame = data.frame.merge(extra, on=["person", "step"], how="left", validate="one_to_one")
    own = ("jump", "rested", "restarted")
    return design_from(
        frame,
        [*(f"jump_lag{lag}" for lag in range(lags)), *(c for c in data.names[1:] if c not in own),
         *(f"{name}_lag{lag}" for name in own[1:] for lag in range(lags))],
        outcome=data.outcome,
        pain_adjusted=data.pain_adjusted,
        dropped=data.dropped,
    )  # fmt: skip


def _curve(smooth: Smooth, lags: int) -> pd.DataFrame:
    rows = []
    for lag in range(lags):
        one, upto = np.zeros(lags), np.zeros(lags)
        one[lag], upto[: lag + 1] = 1.0, 1.0
        mean, sd, low, high = smooth.summary(one, INTERVAL)
        total, _, total_low, total_high = smooth.summary(upto, INTERVAL)
        rows.append({"lag": lag, "estimate": mean, "std_error": sd, "low": low, "high": high, "cumulative": total,
                     "cumulative_low": total_low, "cumulative_high": total_high})  # fmt: skip
    return pd.DataFrame(rows)


def _refused(data: Design, problem: str) -> Fit:
    return Fit(
        "lags", data.outcome, effects_frame([]), gate_frame([]), False, "not fitted",
        why_not=problem, n_people=data.n_people, n_steps=data.n_steps,
    )  # fmt: skip
