"""How long does it last? Distributed lags of load on the outcome, with a smoothness prior."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import optimize
from scipy.special import stdtr

from lagwise.core.claim import said
from lagwise.core.effects import effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Fit, Panel
from lagwise.core.study import INTERVAL
from lagwise.core.variable import JUMP
from lagwise.core.words import outcome_label
from lagwise.models.cluster import ClusterFit, fit_clustered
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import MARKS, Design, design, design_from, usual_held
from lagwise.models.gates import gate_frame, gate_row, made, refused
from lagwise.models.kernel import fit
from lagwise.models.rows import spread_table
from lagwise.models.within import turned

TAU = 0.5
"""Prior scale of the SD of second differences between lags, points of a 0-10 scale per log unit."""
GRID = 41
"""Values of the SD of second differences that are tried."""


def fit_lags(panel: Panel, lags: int = 4) -> Fit:
    """Distributed lags 0 to lags - 1 of load on the plan's outcome (pain_next), and what a rise that lasts
    adds up to.

    pain_next = sum over l of b_l x_l + rested and restarted of every lag + log_usual of the earliest lag +
    the primary analysis's other columns + person intercept + residual, with x_l = log(load at t - l) -
    log(usual load of the earliest lag), 0 where there was none. So b_l compares one log unit more load at t -
    l with the same loads at the other lags and the same usual load before all of them; b_0 + ... + b_l a rise
    that lasted from t - l to t. (At a fixed usual load of step t, which holds the lagged loads itself, more
    at one lag would mean less at another.)

    Estimates are generalised least squares at the REML variance of person intercepts, with CR2 variance
    clustered on people and Satterthwaite degrees of freedom, since people differ in how pain goes with load.
    The second differences of b_0, b_1, ... are normal around 0 with SD tau ~ half-normal(0.5 points of a 0-10
    scale per log unit); level and trend are free (`lagwise.models.smooth`).

    Parameters
    ----------
    panel : Panel
    lags : int
        How many lags, 3 to 8; lag 0 is the step before pain_next.

    Returns
    -------
    Fit
        engine 'lags', no rows in `effects`. `tables`: curve (lag, estimate, std_error, low, high, cumulative,
        cumulative_low, cumulative_high; points per log unit of load, the cumulative columns being the sum of
        lags 0 to this one), unsmoothed (lag, estimate, std_error, low, high, df without smoothing) and
        smoothness (quantity, value). Not usable, with `why_not`, when people are too few or the lags cannot
        be told apart.

    Raises
    ------
    ModelError
        When `lags` is outside 3 to 8, or no step is complete.

    Examples
    --------
    >>> curve = lw.fit_lags(panel).table("curve")
    >>> curve["lag"].tolist()
    [0, 1, 2, 3]
    """
    began = time.perf_counter()
    if not 3 <= lags <= 8:
        raise ModelError(f"{lags} lags were asked for", where="fit_lags", mend="Ask for 3 to 8.")
    data = design(panel)
    gate = gate_for(data.n_people)
    if not gate.mixed:
        return refused("lags", data, said("not_fitted.few_for_lags", gate=gate.sentence))
    if JUMP not in data.names:
        return refused("lags", data, said("not_fitted.no_jump", step=panel.study.step))
    try:
        lagged = _lagged(panel, data, lags)
    except ModelError:
        return refused("lags", data, said("not_fitted.no_lags", lags=lags - 1, step=panel.study.step))
    wanted = [f"load_lag{lag}" for lag in range(lags)]
    problem = _problem(lagged, wanted)
    if problem:
        return refused("lags", lagged, problem)
    cross = CrossProducts.build(lagged.y, lagged.X, None, lagged.person)
    ratio = float(np.nan_to_num(fit(cross).theta[0, 0]))
    both = turned(lagged, ratio)
    found = fit_clustered(both[:, -1], both[:, :-1], lagged.person)
    at = [lagged.names.index(c) for c in wanted]
    tau = TAU * data.asked.scale
    residual = float(np.sqrt(found.rss / (lagged.n_steps - len(lagged.names))))
    part = np.ix_(at, at)
    curve = smooth(found.beta[at], found.cov[part], residual**2 * found.bread[part], scale=tau)
    ends = float(curve.weight[-1])
    usable = ends <= 0.01
    smoothness = {
        "quantity.bends": float(curve.weight @ curve.tau),
        "quantity.residual": residual,
        "quantity.intercepts_points": ratio * residual,
    }
    alone = ((lag, found.contrast(np.eye(len(found.beta))[i])) for lag, i in enumerate(at))
    return made(
        "lags",
        panel,
        lagged,
        began,
        "" if usable else said("not_usable.rougher"),
        effects=effects_frame([]),
        diagnostics=gate_frame([gate_row("grid", ends, "<= 0.01", usable, said("gate.grid"))]),
        rung=said("model.lags"),
        tables={
            "curve": _curve(curve, found, at),
            "unsmoothed": spread_table(alone, "lag", ["estimate", "std_error", "low", "high", "df"]),
            "smoothness": pd.DataFrame(
                [(said(name), value) for name, value in smoothness.items()], columns=["quantity", "value"]
            ),
        },
        settings={"lags": lags, "tau_prior": tau, "pain_adjusted": data.pain_adjusted},
        notes=(said("note.lags", label=data.asked.variable.label),),
    )


def _problem(lagged: Design, wanted: list[str]) -> str:
    """Why lags of load cannot be told from these steps, in words; empty when they can."""
    step = lagged.study.step
    if not gate_for(lagged.n_people).mixed:
        return said("not_fitted.few_with_lags", people=lagged.n_people, lags=len(wanted) - 1, step=step)
    if any(c not in lagged.names for c in wanted) or lagged.n_steps <= len(lagged.names) + 2:
        return said("not_fitted.lags_alike", step=step)
    if np.ptp(lagged.y) == 0:
        outcome = outcome_label(lagged.outcome, lagged.asked.variable, step)
        return said("not_fitted.one_value", outcome=outcome, value=lagged.y[0], step=step)
    return ""


def _lagged(panel: Panel, data: Design, lags: int) -> Design:
    """The primary design with load, rested and restarted of every lag and the usual load before the earliest,
    complete rows only."""
    whole = usual_held(panel.frame.sort_values(["person", "step"], kind="stable"))
    groups = whole.groupby("person", sort=False)
    early = {name: groups[name].shift(lags - 1) for name in ("usual", "log_usual")}
    positive = early["usual"].gt(0)
    base = np.log(early["usual"].where(positive))
    columns: dict[str, pd.Series] = {
        "usual_before": early["log_usual"],
        "unused_before": early["usual"].eq(0).astype(float).where(early["usual"].notna()),
    }
    for lag in range(lags):
        load = groups["load"].shift(lag)
        both = load.gt(0) & positive
        known = load.notna() & early["usual"].notna()
        columns[f"load_lag{lag}"] = (np.log(load.where(both)) - base).where(both, 0.0).where(known)
        columns[f"rested_lag{lag}"] = load.eq(0).astype(float).where(known)
    extra = whole[["person", "step"]].assign(**columns)
    frame = data.frame.merge(extra, on=["person", "step"], how="left", validate="one_to_one")
    loads, rests = ([f"{name}_lag{lag}" for lag in range(lags)] for name in ("load", "rested"))
    others = (c for c in data.names[1:] if c not in (JUMP, *MARKS, "log_usual"))
    return design_from(
        frame,
        [*loads, "usual_before", *others, *rests, "unused_before"],
        outcome=data.outcome,
        pain_adjusted=data.pain_adjusted,
        dropped=data.dropped,
        study=data.study,
    )


def _curve(curve: Smooth, found: ClusterFit, at: list[int]) -> pd.DataFrame:
    rows = []
    everything = np.eye(len(found.beta))[at]
    for lag in range(len(at)):
        own = []
        for picked in (np.arange(len(at)) == lag, np.arange(len(at)) <= lag):
            df = found.contrast(picked @ everything)[2]
            own.append(curve.summary(picked.astype(float), INTERVAL, df))
        total, _, low, high = own[1]
        rows.append((lag, *own[0], total, low, high))
    names = "lag estimate std_error low high cumulative cumulative_low cumulative_high"
    return pd.DataFrame(rows, columns=names.split())


@dataclass(frozen=True)
class Smooth:
    """Smoothed coefficients b (k,) as a mixture over the SD of their second differences.

    `tau` (g,) grid in the units of b, `weight` (g,) its posterior weights, `mean` (g, k) and `cov` (g, k, k)
    of b given tau.
    """

    tau: np.ndarray
    weight: np.ndarray
    mean: np.ndarray
    cov: np.ndarray

    def summary(self, weights: np.ndarray, width: float, df: float) -> tuple[float, float, float, float]:
        """Mean, SD, and lower and upper limit of weights'b, the interval having equal tails of t
        distributions with `df`."""
        centre = self.mean @ weights
        scale = np.sqrt(np.maximum(np.einsum("i,gij,j->g", weights, self.cov, weights), 1e-300))
        mean = float(self.weight @ centre)
        sd = float(np.sqrt(self.weight @ (scale**2 + (centre - mean) ** 2)))

        def limit(p: float) -> float:
            reach = np.abs(centre - mean).max() + 1e4 * scale.max()

            def beyond(x: float) -> float:
                return float(self.weight @ stdtr(df, (x - centre) / scale)) - p

            return float(optimize.brentq(beyond, mean - reach, mean + reach))

        return mean, sd, limit((1 - width) / 2), limit((1 + width) / 2)


def smooth(
    b: np.ndarray, robust: np.ndarray, working: np.ndarray, *, scale: float, taus: np.ndarray | None = None
) -> Smooth:
    """Estimates b with second differences D of the truth ~ N(0, tau^2) and tau ~ half-normal(scale); its
    level and trend are free.

    Given tau the estimate is W b with W = I - G D, G = V D'(D V D' + tau^2 I)^-1, and V the working
    covariance brought to the robust one's mean variance: its shape is known better than that of a robust
    covariance from few people. The error of W b has covariance W R W' + tau^2 G G' with R the robust
    covariance, which is the posterior covariance where R = V. tau is integrated over on a grid by the density
    of D b and its prior.

    Parameters
    ----------
    b : (k,) estimates in their order, k >= 3
    robust, working : (k, k) cluster-robust covariance, and the covariance under independent errors
    scale : prior scale of tau, in the units of b
    taus : (g,) grid of tau above 0; by default 41 values from 0.001 to 4 times `scale`
    """
    k = len(b)
    D = np.diff(np.eye(k), n=2, axis=0)
    V = working * float(np.mean(np.diag(robust) / np.diag(working)))
    bent, spread = D @ b, D @ V @ D.T
    if taus is None:
        taus = np.linspace(0.0, 4.0 * scale, GRID)
        taus[0] = 1e-3 * scale
    log, mean, cov = [], [], []
    for tau in taus:
        S = spread + tau**2 * np.eye(k - 2)
        G = np.linalg.solve(S, D @ V).T
        W = np.eye(k) - G @ D
        log.append(
            -0.5 * (np.linalg.slogdet(S)[1] + bent @ np.linalg.solve(S, bent)) - 0.5 * (tau / scale) ** 2
        )
        mean.append(W @ b)
        cov.append(W @ robust @ W.T + tau**2 * G @ G.T)
    weight = np.exp(np.array(log) - max(log))
    return Smooth(taus, weight / weight.sum(), np.stack(mean), np.stack(cov))
