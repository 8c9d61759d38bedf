"""Panels for the tests of challenges: drawn from the documented process, or laid out from arrays. Seeds are 1 throughout."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd

from lagwise.core.results import Challenge, Fit, Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.models import fit_mixed
from lagwise.panel import panel_from_blocks
from lagwise.say import challenge
from lagwise.synthetic import CLINIC, NO_EFFECT, Spec, simulate_panel

PLAN = Study("Test", analysis=AnalysisPlan(exposures=("jump", "stress")))


@cache
def drawn(spec: Spec = CLINIC, study: Study | None = None) -> tuple[Panel, Fit]:
    """A panel from the documented process and its mixed fit."""
    panel = simulate_panel(spec, np.random.default_rng(1), study=study)
    return panel, fit_mixed(panel)


def clinic() -> tuple[Panel, Fit]:
    return drawn(CLINIC)


def no_effect() -> tuple[Panel, Fit]:
    return drawn(NO_EFFECT)


def mixed_leads(made: tuple[Panel, Fit]) -> tuple[Panel, Fit]:
    """The same records under a plan that lets the mixed model lead."""
    panel, fit = made
    plan = replace(panel.study.analysis, headline="mixed")
    return replace(panel, study=replace(panel.study, analysis=plan)), fit


def laid(
    pain: np.ndarray,
    load: np.ndarray,
    study: Study = PLAN,
    *,
    extra: dict[str, np.ndarray] | None = None,
    **others: np.ndarray,
) -> tuple[Panel, Fit]:
    """A panel of (people, steps) arrays of pain and load (NaN not known, 0 rest), other columns by name, `extra` columns of the blocks, and its fit."""
    n, T = pain.shape
    blank = np.full((n, T), np.nan)
    columns: dict[str, np.ndarray] = {
        "recorded": np.where(np.isnan(load), "unknown", np.where(load > 0, "trained", "rest")),
        "n_sessions": (load > 0).astype("int64"),
        "load_sets": load,
        **(extra or {}),
        **{
            name: others.get(name, blank)
            for name in ("effort", "near_failure_share", "stress", "sleep_hours", "sleep_quality", "worry", "confidence")
        },
        "n_checkins": (~np.isnan(pain)).astype("int64"),
        "n_ratings": (~np.isnan(pain)).astype("int64"),
        "pain_mean": pain,
        "pain_worst": others.get("pain_worst", pain),
        "pain_last": others.get("pain_last", pain),
        "flare_reported": blank,
        "pain_before": np.column_stack([np.full(n, np.nan), pain[:, :-1]]),
    }  # fmt: skip
    start = np.datetime64("2024-01-01", "us") + (np.arange(T) * 7).astype("timedelta64[D]")
    blocks = pd.DataFrame(
        {
            "person": pd.Series(np.repeat([f"P{i:03d}" for i in range(n)], T), dtype="str"),
            "step": np.tile(np.arange(T), n),
            "step_start": np.tile(start, n),
            **{name: values.ravel() for name, values in columns.items()},
            "source": "logs",
        }
    )
    panel = panel_from_blocks(blocks, study)
    return panel, fit_mixed(panel)


def simple(
    *,
    people: int = 30,
    steps: int = 20,
    effect: float = 0.0,
    feedback: float = 0.0,
    carry: float = 0.4,
    noise: float = 0.8,
) -> dict[str, np.ndarray]:
    """(people, steps) pain, load, stress and innovations `shock` of a plain process; load of t moves pain of t + 1."""
    rng = np.random.default_rng(1)
    level = rng.normal(4.5, 1, people)
    load, pain, shock = (np.empty((people, steps)) for _ in range(3))
    stress = rng.normal(4, 1.2, (people, steps))
    pain[:, 0] = level
    for t in range(steps):
        load[:, t] = np.rint(30 * np.exp(rng.normal(0, 0.25, people) - feedback * (pain[:, t] - level))) + 1
        usual = load[:, max(0, t - 4) : t].mean(axis=1) if t else load[:, 0]
        shock[:, t] = rng.normal(0, noise, people)
        if t + 1 < steps:
            move = effect * np.log(load[:, t] / usual)
            pain[:, t + 1] = np.clip(level + carry * (pain[:, t] - level) + move + shock[:, t], 0, 10)
    return {"pain": pain, "load": load, "stress": stress, "shock": shock}


def one(name: str, made: tuple[Panel, Fit], **options: object) -> Challenge:
    """The outcome of one challenge, with what every outcome must have checked."""
    found = challenge(*made, only=[name], **options)[name]
    assert list(found.numbers.columns) == ["quantity", "value", "low", "high", "unit", "key"]
    assert found.limits
    assert found.question
    assert found.sentence
    if not found.problem:
        assert found.picture is not None
        assert found.picture.alt
        assert len(found.picture.data)
        assert found.numbers["value"].notna().any()
    return found


def value(found: Challenge, quantity: str) -> float:
    """One number of an outcome by its name."""
    rows = found.numbers[found.numbers["quantity"] == quantity]
    assert len(rows) == 1, found.numbers["quantity"].tolist()
    return float(rows["value"].iloc[0])
