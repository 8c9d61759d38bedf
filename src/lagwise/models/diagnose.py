"""Is a Bayesian fit usable? Gates on the chains, read from an ArviZ DataTree."""

from __future__ import annotations

import operator
import warnings
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from lagwise.core.claim import said

MAX_RHAT = 1.01
MIN_ESS = 400
MIN_BFMI = 0.3
TAILS = (0.05, 0.95)


def gates(posterior: Any, reported: Sequence[str] | None = None) -> pd.DataFrame:
    """One row per gate: gate, value, limit, passed, meaning. Vehtari et al. 2021 (doi:10.1214/20-BA1221) for
    the first three, Betancourt 2017 (arXiv:1701.02434) for the last.

    Parameters
    ----------
    posterior : DataTree
        With groups posterior and sample_stats (diverging, energy).
    reported : sequence of str, optional
        Variables of the posterior that are reported, over which R-hat and the effective sample sizes are
        taken; all by default.

    Returns
    -------
    DataFrame
        `value` is NaN, and the gate not passed, where a figure cannot be computed (R-hat from one chain,
        say). Quantities that are the same in every draw are left out.
    """
    of_interest = _varying(posterior, reported)
    energy = posterior["sample_stats"]["energy"].values
    values = {
        "rhat": (_worst("rhat", of_interest, np.max), "<=", MAX_RHAT),
        "ess_bulk": (_worst("bulk", of_interest, np.min), ">=", MIN_ESS),
        "ess_tail": (_worst("tail", of_interest, np.min), ">=", MIN_ESS),
        "divergences": (float(posterior["sample_stats"]["diverging"].values.sum()), "<=", 0),
        "bfmi": (float(np.min(bfmi(energy))), ">", MIN_BFMI),
    }
    passes = {"<=": operator.le, ">=": operator.ge, ">": operator.gt}
    rows = [
        (name, value, f"{sign} {limit}", bool(passes[sign](value, limit)), said(f"gate.{name}"))
        for name, (value, sign, limit) in values.items()
    ]
    return pd.DataFrame(rows, columns=["gate", "value", "limit", "passed", "meaning"])


def why_not(diagnostics: pd.DataFrame, target: float | None = None) -> str:
    """Empty when every gate passed; else which failed, with value and limit. `target` is the target
    acceptance of the draws."""
    failed = diagnostics[~diagnostics["passed"].astype(bool)]
    parts = []
    for gate, value, limit in zip(
        failed["gate"], failed["value"].astype(float), failed["limit"], strict=True
    ):
        if gate == "divergences" and not np.isnan(value):
            parts.append(said("not_usable.diverged", count=value, target=target))
        else:
            known = None if np.isnan(value) else value
            parts.append(said("not_usable.chains", gate=gate, value=known, limit=limit))
    return "; ".join(parts)


def bfmi(energy: np.ndarray) -> np.ndarray:
    """Mean squared step of the energy over its variance, per chain of (chains, draws)."""
    spread = energy.var(axis=1, ddof=1) if energy.shape[1] > 1 else np.full(len(energy), np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.mean(np.diff(energy, axis=1) ** 2, axis=1) / spread if energy.shape[1] > 1 else spread


def _varying(posterior: Any, names: Sequence[str] | None) -> np.ndarray:
    """Draws of scalar quantities as (chains, draws, quantities), constants left out."""
    data = posterior["posterior"].to_dataset()
    arrays = [
        data[v].transpose("chain", "draw", ...).values for v in (data.data_vars if names is None else names)
    ]
    flat = np.concatenate([a.reshape(*a.shape[:2], -1) for a in arrays], axis=2)
    return flat[:, :, np.ptp(flat, axis=(0, 1)) > 0]


def _worst(kind: str, draws: np.ndarray, worst: Any) -> float:
    from arviz_stats.base import array_stats

    if draws.shape[2] == 0 or draws.shape[1] < 4 or (kind == "rhat" and draws.shape[0] < 2):
        return float("nan")
    options: dict[str, dict[str, Any]] = {
        "bulk": {"method": "bulk"},
        "tail": {"method": "tail", "prob": TAILS},
    }
    more = options.get(kind, {})
    with warnings.catch_warnings():
        # Short chains make the estimators divide by zero; the missing value that results fails the gate.
        warnings.simplefilter("ignore", RuntimeWarning)
        values = (array_stats.ess if more else array_stats.rhat)(draws, chain_axis=0, draw_axis=1, **more)
    return float(worst(np.asarray(values, dtype=float)))
