"""The joint model of ratings, load and pain: one call, the one effect table."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import said
from lagwise.core.effects import contrast_size, effects_frame
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.core.study import INTERVAL, LOAD_CONTRAST
from lagwise.core.variable import JUMP
from lagwise.models.design import MARKS
from lagwise.models.gates import converged_row, failed, gate_frame, gate_row
from lagwise.models.rated_data import rated_data
from lagwise.models.rated_fit import FLAT, RatedFit, fit_joint, innovations
from lagwise.models.rated_likelihood import CENTRE, SPREAD
from lagwise.models.rating_noise import TOLD, RatingNoise, Span
from lagwise.models.rows import asked, column_of, limits, spread

LAGS = (1, 2, 3, 4)
APART = 4.0
"""Standard errors (1 / sqrt(n)) beyond which an innovation's autocorrelation is pointed out."""


def fit_rated(panel: Panel) -> Fit:
    """Fit the joint model of the plan's outcome, called pain here: ratings as noisy measures of pain, load
    answering pain, load and exposures moving the next step's pain.

    With d what moves of a person's pain: rating_t = level + trend + d_t + passing error; on trained steps log
    load_t = own way + rho log usual load + trend + stress and sleep - f d_t + g level - k error_t + noise;
    d_t+1 = phi d_t + (effect + own slope) jump_t + rested + exposures' within parts + noise; and whether a
    rating is missing is a measure of d_t, by itself and after load above usual. Linear-Gaussian; the
    variances, phi, f, g, k and rho by restricted likelihood with weak penalties (`PRIORS`). f is load's
    answer to the pain that moves, k its answer to the error of the rating: k = f where people act on the
    rating itself, 0 where they act on what they feel. How it does on 7,300 simulated caseloads:
    docs/rating-error.md.

    Parameters
    ----------
    panel : Panel
        It is not changed. The exposures are those of its study.

    Returns
    -------
    Fit
        engine 'rated', `pain_adjusted` 'latent', rows as of the mixed model within people, points of the next
        step's pain per unit and for the primary contrast; none is primary. Standard errors include the
        uncertainty of the variances (delta method) and are, from 20 people on, at least those of the people's
        influences; df are Satterthwaite's, at least 3.

        `tables`: rating (carry_over, error_sd in points, lasting_sd, reliability = lasting variance over
        lasting and error variance, felt_answer f, level_answer g and rating_answer k in log units of load
        lower (f, k) or higher (g) per point, slope_sd in points per log unit; each with std_error, low, high
        and its prior in words), answers (the primary contrast at k free, k = 0 and k = f) and innovations
        (autocorrelations of the ratings' innovations at lags 1 to 4 and their correlation with the load
        innovation of the step before, with the standard error 1 / sqrt(n)).

    Raises
    ------
    ModelError
        Where the plan asks about the same step (lag 0), without a load, below 5 people, below 8 steps, or
        where no rating differs within people: in words.

    Examples
    --------
    >>> import lagwise as lw
    >>> fit = lw.fit_rated(panel)
    >>> fit.effects["pain_adjusted"].unique().tolist()
    ['latent']
    """
    began = time.perf_counter()
    data = rated_data(panel)
    found = fit_joint(data)
    gates = _gates(found)
    why_not = failed(gates)
    tables = {
        "rating": rating_table(found),
        "answers": answers_table(panel, found),
        "innovations": innovations_table(found),
    }
    rated = int(np.isfinite(data.y).sum())
    return Fit(
        engine="rated",
        outcome=panel.study.outcome.column,
        effects=effects_frame(_rows(panel, found)),
        diagnostics=gates,
        usable=not why_not,
        rung=said("model.rated", label=panel.study.outcome.variable.label),
        why_not=why_not,
        rung_reason=gate_for(len(data.people)).sentence,
        n_people=len(data.people),
        n_steps=rated,
        tables=tables,
        settings={"exposures": panel.study.analysis.exposures},
        made=found,
        notes=tuple(f"{term} left out: {why}" for term, why in data.left),
        seconds=time.perf_counter() - began,
        step=panel.study.step,
        asked=panel.study.asked,
        columns=tuple(n if n in (*MARKS, "unknown") else column_of(n) for n in data.of_pain),
        dropped=data.left,
    )


def _rows(panel: Panel, found: RatedFit) -> list[dict[str, Any]]:
    study, data = panel.study, found.data
    shared = {
        "engine": "rated", "model": said("model.rated", label=study.outcome.variable.label),
        "outcome": study.outcome.column, "adjustment": "adjusted", "pain_adjusted": "latent",
        "primary": False, "scale": "points", "interval": INTERVAL, "n_people": len(data.people),
        "n_steps": int(np.isfinite(data.y).sum()),
    }  # fmt: skip
    terms = [term for term in data.of_pain if term in study.variables]
    every = asked([column_of(term) for term in terms], terms, study, between=False)
    return [
        shared | named | spread(*found.contrast(named["term"], named["contrast_size"])) for _, named in every
    ]


def derived(free: np.ndarray, days: float, scale: float = 1.0) -> dict[str, float]:
    """What the free parameters mean: carry-over, SDs in points, reliability, and load's answers in log units
    per point.

    `days` is in the units of the data, `scale` points each.
    """
    lasting = np.exp(2 * free[1]) / (1 - free[0] ** 2)
    error = np.exp(2 * free[8]) + days
    return {
        "carry_over": free[0], "error_sd": scale * np.sqrt(error), "lasting_sd": scale * np.sqrt(lasting),
        "reliability": lasting / (lasting + error), "felt_answer": free[6] / scale,
        "rating_answer": free[9] / scale, "level_answer": free[7] / scale,
        "slope_sd": scale * np.exp(free[4]),
    }  # fmt: skip


def rating_table(found: RatedFit) -> pd.DataFrame:
    """What the ratings and load's answer to pain look like, by the joint model: quantity, estimate,
    std_error, low, high, prior."""
    rated = np.isfinite(found.data.y)
    days = float(found.data.noise[rated].mean())
    scale = found.data.scale
    centre = derived(found.free, days, scale)
    h = 1e-5
    slopes = {name: np.empty(len(found.free)) for name in centre}
    for i, e in enumerate(np.eye(len(found.free))):
        up, down = derived(found.free + h * e, days, scale), derived(found.free - h * e, days, scale)
        for name in centre:
            slopes[name][i] = (up[name] - down[name]) / (2 * h)
    rows = []
    priors = {
        "carry_over": said("prior.carry_over", centre=CENTRE[0], spread=SPREAD[0]),
        "error_sd": said("prior.error_sd", half=0.5 * scale),
        "rating_answer": said("prior.rating_answer", answer=0.2 / scale),
    }
    for name, value in centre.items():
        value, std_error = float(value), float(np.sqrt(max(slopes[name] @ found.spread @ slopes[name], 0.0)))
        rows.append((name, value, std_error, *_limits(name, value, std_error), priors.get(name, "")))
    return pd.DataFrame(rows, columns=["quantity", "estimate", "std_error", "low", "high", "prior"])


def told_by(found: RatedFit, noise: RatingNoise) -> RatingNoise:
    """What the ratings say of themselves and load's answer to lasting pain, as the joint model has it; the
    rest is `noise`'s."""
    table = rating_table(found).set_index("quantity")[["estimate", "low", "high"]]
    names = ("carry_over", "error_sd", "reliability", "felt_answer")
    carry, error, share, felt = (Span(*map(float, table.loc[q])) for q in names)
    return replace(
        noise, carry_over=carry, error_sd=error, lasting_sd=float(table["estimate"]["lasting_sd"]),
        reliability=share, told=share.high - share.low <= TOLD,
        answer=Span(-felt.value, -felt.high, -felt.low),
    )  # fmt: skip


def _limits(name: str, value: float, std_error: float) -> tuple[float, float]:
    """The interval of a quantity: of SDs on the log scale, of the reliability held to 0 to 1."""
    if name.endswith("_sd") and value > 0:
        low, high = limits(float(np.log(value)), std_error / value, np.inf)
        return float(np.exp(low)), float(np.exp(high))
    low, high = limits(value, std_error, np.inf)
    return (max(low, 0.0), min(high, 1.0)) if name == "reliability" else (low, high)


def answers_table(panel: Panel, found: RatedFit) -> pd.DataFrame:
    """The primary contrast where load answers the rating as far as the data say ('free'), only what is felt
    ('felt', k = 0), or the rating itself ('rated', k = f)."""
    size = contrast_size(JUMP, panel.study.contrast_of(JUMP) or LOAD_CONTRAST)
    rows = []
    for name, held in (("free", None), ("felt", {"k": 0.0}), ("rated", {"k": np.nan})):
        fit = found if held is None else fit_joint(found.data, near=found, held=held)
        estimate, std_error, df = fit.contrast(JUMP, size)
        rows.append((name, estimate, std_error, *limits(estimate, std_error, df), df, fit.deviance))
    return pd.DataFrame(rows, columns=["answers", "estimate", "std_error", "low", "high", "df", "deviance"])


def innovations_table(found: RatedFit) -> pd.DataFrame:
    """Autocorrelation of the ratings' standardised innovations at lags 1 to 4, and their correlation with the
    load's of the step before: check, lag, value, std_error."""
    rating, load = innovations(found)
    person = np.repeat(np.arange(len(found.data.people)), np.diff(found.data.start))
    rows = []
    for check, first, lags in (("rating", rating, LAGS), ("load_before", load, (1,))):
        for lag in lags:
            same = person[lag:] == person[:-lag]
            a, b = rating[lag:][same], first[:-lag][same]
            both = np.isfinite(a) & np.isfinite(b)
            n = int(both.sum())
            value = float(np.mean(a[both] * b[both])) if n else np.nan
            rows.append((check, lag, value, 1 / np.sqrt(n) if n else np.nan))
    return pd.DataFrame(rows, columns=["check", "lag", "value", "std_error"])


def _gates(found: RatedFit) -> pd.DataFrame:
    table = innovations_table(found)
    far = float((table["value"].abs() / table["std_error"]).max())
    near, smallest = True if far <= APART else None, said("gate.smallest")
    fixed = found.smallest > FLAT
    return gate_frame(
        [
            converged_row(found.converged),
            gate_row("hessian_positive_definite", found.smallest, f"> {FLAT:g}", fixed, smallest),
            gate_row("innovations", far, f"<= {APART:g}", near, said("gate.innovations")),
        ]
    )
