"""Panels on which a challenge must, or must not, come out one way; every one drawn with seed 1."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context
from lagwise.core.results import Challenge, Fit, Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.models import fit_mixed
from lagwise.panel import panel_from_blocks
from lagwise.say import challenge
from lagwise.synthetic import CLINIC, NO_EFFECT, Spec, simulate_panel

STEADY = replace(CLINIC, of_jump_sd=0.0, feedback=0.0, stress_cut=0.0, missing_of_pain=0.0, dropout_of_pain=0.0)
"""As the clinic, but load does not answer pain or stress and every person has the same slope."""


@lru_cache(maxsize=32)
def drawn(spec: Spec) -> Panel:
    """A panel of this process with seed 1."""
    return simulate_panel(spec, np.random.default_rng(1))


@lru_cache(maxsize=32)
def fitted(spec: Spec) -> Fit:
    """Its mixed fit."""
    return fit_mixed(drawn(spec))


def tried(name: str, spec: Spec, **options) -> Challenge:
    """One challenge of a process."""
    return challenge(drawn(spec), fitted(spec), only=[name], **options)[name]


def tried_on(name: str, panel: Panel, **options) -> Challenge:
    """One challenge of a panel."""
    return challenge(panel, fit_mixed(panel), only=[name], **options)[name]


def context(spec: Spec, **options) -> Context:
    """A context of a process."""
    return Context(drawn(spec), fitted(spec), **options)


def value(result: Challenge, quantity: str) -> float:
    """One number of a challenge."""
    return float(result.numbers.set_index("quantity").loc[quantity, "value"])


def blocks(pain: np.ndarray, load: np.ndarray, **others: np.ndarray) -> pd.DataFrame:
    """Blocks of a panel from (people, steps) arrays of pain and load; load 0 is rest, missing is unknown."""
    n, T = pain.shape
    state = np.where(np.isnan(load), "unknown", np.where(load > 0, "trained", "rest"))
    columns = {
        "recorded": state, "n_sessions": (load > 0).astype("int64"), "load_sets": load,
        "n_checkins": (~np.isnan(pain)).astype("int64"), "n_ratings": (~np.isnan(pain)).astype("int64"),
        "pain_mean": pain, "pain_worst": pain, "pain_last": pain,
        "pain_before": np.column_stack([np.full(n, np.nan), pain[:, :-1]]),
    }  # fmt: skip
    blank = ("effort", "near_failure_share", "stress", "sleep_hours", "sleep_quality", "worry", "confidence", "flare_reported")  # fmt: skip
    columns |= {name: np.full((n, T), np.nan) for name in blank} | others
    start = np.datetime64("2024-01-01", "us") + (np.arange(T) * 7).astype("timedelta64[D]")
    return pd.DataFrame(
        {
            "person": pd.Series(np.repeat([f"P{i:03d}" for i in range(n)], T), dtype="str"),
            "step": np.tile(np.arange(T), n),
            "step_start": np.tile(start, n),
            **{name: np.asarray(values).ravel() for name, values in columns.items()},
            "source": "logs",
        }
    )


def plain_panel(pain: np.ndarray, load: np.ndarray, exposures: tuple[str, ...] = ("jump",), **others) -> Panel:
    """A panel from arrays under a plan with these exposures, the first of them primary."""
    study = Study("Arrays", analysis=AnalysisPlan(exposures=exposures, primary=exposures[0]))
    return panel_from_blocks(blocks(pain, load, **others), study)


def slopes_panel(slopes: np.ndarray, T: int = 40, noise: float = 0.6) -> Panel:
    """People with given slopes of next step's pain on jump; nothing else goes on. Seed 1."""
    rng = np.random.default_rng(1)
    n = len(slopes)
    load = np.exp(rng.normal(3, 0.3, (n, T)))
    usual = np.stack([load[:, t - 4 : t].mean(axis=1) for t in range(4, T)], axis=1)
    jump = np.column_stack([np.zeros((n, 4)), np.log(load[:, 4:] / usual)])
    pain = np.full((n, T), 5.0)
    pain[:, 1:] += np.asarray(slopes)[:, None] * jump[:, :-1] + rng.normal(0, noise, (n, T - 1))
    return plain_panel(np.clip(pain, 0, 10), load)


__all__ = ["CLINIC", "NO_EFFECT"]
