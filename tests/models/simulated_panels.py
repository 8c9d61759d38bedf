"""Panels with a known truth, made straight from the definitions, for the model tests and benchmarks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.core.terms import SPLIT, panel_columns

RISE = 2.0


def simulate(
    seed: int,
    *,
    people: int = 40,
    steps: int = 26,
    effect: float = 0.0,
    slope_sd: float = 0.0,
    feedback: float = 0.12,
    carry: float = 0.4,
    noise: float = 1.0,
    person_sd: float = 1.2,
    stress: float = 0.15,
    missing: float = 0.0,
    rest: float = 0.0,
    level: float = 4.0,
    exposures: tuple[str, ...] = ("jump", "effort", "stress", "sleep_hours", "worry"),
) -> Panel:
    """A clinic with feedback: pain of step t cuts the load of step t; load of step t moves pain of step t + 1.

    `effect` is points of next-step pain per log unit of jump. `feedback` is the share of load cut per point of pain
    above the person's own level.
    """
    rng = np.random.default_rng(seed)
    shape = (people, steps)
    own = level + person_sd * rng.standard_normal(people)
    slope = effect + slope_sd * rng.standard_normal(people)
    tense = 4 + rng.normal(0, 1, (people, 1)) + rng.normal(0, 1.3, shape)
    plan = np.exp(rng.normal(2.7, 0.3, (people, 1)) + 0.005 * np.arange(steps) + rng.normal(0, 0.25, shape))
    resting = rng.random(shape) < rest
    pain, load, jump, usual = (np.full(shape, np.nan) for _ in range(4))
    pain[:, 0] = np.clip(own + rng.normal(0, noise / np.sqrt(1 - carry**2), people), 0, 10)
    for t in range(steps):
        load[:, t] = np.where(resting[:, t], 0.0, plan[:, t] * (1 - feedback) ** (pain[:, t] - own))
        past = load[:, max(0, t - 4) : t]
        if past.shape[1] >= 3:
            usual[:, t] = past.mean(axis=1)
            both = (load[:, t] > 0) & (usual[:, t] > 0)
            jump[:, t] = np.where(both, np.log(np.where(both, load[:, t], 1) / np.where(both, usual[:, t], 1)), 0.0)
        if t + 1 < steps:
            pull = slope * np.nan_to_num(jump[:, t]) + stress * (tense[:, t] - 4)
            pain[:, t + 1] = np.clip(own + carry * (pain[:, t] - own) + pull + rng.normal(0, noise, people), 0, 10)
    columns = {
        "load": load,
        "usual": usual,
        "jump": jump,
        "effort": np.clip(6 + np.nan_to_num(jump) + rng.normal(0, 1, shape), 0, 10),
        "stress": np.clip(tense, 0, 10),
        "sleep_hours": np.clip(7.5 - 0.2 * (tense - 4) + rng.normal(0, 0.8, shape), 3, 11),
        "worry": np.clip(0.5 * pain + rng.normal(1, 1, shape), 0, 10),
        "pain": pain,
    }
    columns["effort"] = np.where(load > 0, columns["effort"], np.nan)
    seen = rng.random(shape) >= missing
    for name in ("stress", "sleep_hours", "worry", "pain"):
        columns[name] = np.where(seen, columns[name], np.nan)
    return panel_of(columns, study=Study(title="Simulated", analysis=AnalysisPlan(exposures=exposures)))


def panel_of(columns: dict[str, np.ndarray], *, study: Study) -> Panel:
    """A panel from (people, steps) arrays of at least pain, load, usual and jump."""
    people, steps = columns["pain"].shape
    frame = pd.DataFrame({name: values.ravel() for name, values in columns.items()})
    frame.insert(0, "person", np.repeat([f"p{i:03d}" for i in range(people)], steps))
    frame.insert(1, "step", np.tile(np.arange(steps), people))
    frame["step_start"] = pd.Timestamp("2024-01-01") + pd.to_timedelta(7 * frame["step"], unit="D")
    by = frame.groupby("person", sort=False)
    frame["state"] = np.where(frame["load"].isna(), "unknown", np.where(frame["load"] > 0, "trained", "rest"))
    frame["rested"] = (frame["load"] == 0).astype(float).where(frame["load"].notna())
    frame["restarted"] = ((frame["usual"] == 0) & (frame["load"] > 0)).astype(float).where(frame["jump"].notna())
    log_usual = np.log(frame["usual"].where(frame["usual"] > 0))
    frame["log_usual"] = (log_usual - log_usual.groupby(frame["person"]).transform("mean")).where(
        frame["usual"] != 0, 0.0
    )
    frame["pain_before"] = by["pain"].shift(1)
    frame["pain_next"] = by["pain"].shift(-1)
    earlier = by["pain"].transform(lambda s: s.expanding(3).mean().shift(1))
    frame["usual_pain"] = earlier
    known = frame["pain"].notna() & earlier.notna()
    frame["at_risk"] = (frame["pain"] < earlier + RISE).astype(float).where(known)
    frame["flare_next"] = (
        (frame["pain_next"] >= earlier + RISE).astype(float).where(frame["at_risk"].eq(1) & frame["pain_next"].notna())
    )
    if "flare_reported" not in frame:
        frame["flare_reported"] = np.nan
    frame["flare_reported_next"] = by["flare_reported"].shift(-1)
    for name in panel_columns():
        if name not in frame:
            frame[name] = np.nan
    for name in SPLIT:
        mean = frame.groupby("person")[name].transform("mean")
        frame[f"{name}_within"] = frame[name] - mean
        means = frame.groupby("person")[name].mean()
        frame[f"{name}_between"] = mean - means.mean()
    return Panel(frame=frame[list(panel_columns())].copy(), study=study)


def with_analysis(panel: Panel, **changes: object) -> Panel:
    """The same panel under another analysis plan."""
    analysis = replace(panel.study.analysis, **changes)
    return replace(panel, study=replace(panel.study, analysis=analysis))


def changed(panel: Panel, **columns: object) -> Panel:
    """The same panel with some columns of the frame replaced."""
    return replace(panel, frame=panel.frame.assign(**columns))
