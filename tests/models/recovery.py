"""Bias, coverage and false positives of the primary estimate over simulated caseloads, with Monte Carlo error."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from simulated_panels import simulate

from lagwise.models.design import design
from lagwise.models.jackknife import jackknife
from lagwise.models.ladder import climb
from lagwise.models.rows import limits


@dataclass(frozen=True)
class Scenario:
    """A mechanism and the truth of the effect of one log unit of jump."""

    label: str
    truth: float
    options: Mapping[str, Any]


def estimates(
    scenario: Scenario, seeds: range, pain: str = "during", *, corrected: bool = True
) -> pd.DataFrame:
    """One row per caseload and estimator (plain, and jackknife where `corrected`): estimate, low, high, and the rung."""
    rows = []
    for seed in seeds:
        rung = climb(
            design(simulate(seed, effect=scenario.truth, **scenario.options), pain_adjusted=pain), "jump"
        )
        value, error, df = rung.contrast("jump")
        rows.append(("plain", value, *limits(value, error, df), rung.estimates.structure))
        table = jackknife(rung, "jump").set_index("estimate") if corrected else ()
        if corrected and "corrected" in table.index:
            c = table.loc["corrected"]
            rows.append(("jackknife", c["value"], c["low"], c["high"], rung.estimates.structure))
    return pd.DataFrame(rows, columns=["estimator", "estimate", "low", "high", "rung"])


def summary(scenario: Scenario, found: pd.DataFrame) -> pd.DataFrame:
    """Per estimator: runs, mean, bias, its Monte Carlo error, coverage, its Monte Carlo error, share of intervals without 0."""
    rows = []
    for estimator, part in found.groupby("estimator", sort=False):
        n = len(part)
        cover = float(((part["low"] <= scenario.truth) & (scenario.truth <= part["high"])).mean())
        rows.append(
            {
                "scenario": scenario.label, "truth": scenario.truth, "estimator": estimator, "runs": n, "mean": part["estimate"].mean(),
                "bias": part["estimate"].mean() - scenario.truth, "bias_mc_error": part["estimate"].std() / np.sqrt(n),
                "coverage": cover, "coverage_mc_error": np.sqrt(max(cover * (1 - cover), 0.95 * 0.05) / n),
                "excludes_zero": float(((part["low"] > 0) | (part["high"] < 0)).mean()),
            }
        )  # fmt: skip
    return pd.DataFrame(rows)
