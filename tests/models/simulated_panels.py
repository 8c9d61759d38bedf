"""Panels with a known truth, made straight from the definitions, for the model tests and benchmarks."""

from dataclasses import replace

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.core.terms import SPLIT, panel_columns

RISE = 2.0
NAMES = ("person", "step", "step_start", "state")


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
    heaped: bool = False,
    exposures: tuple[str, ...] = ("jump", "effort", "stress", "sleep_hours", "worry"),
) -> Panel:
    """A clinic with feedback: pain of step t cuts the load of step t; load of step t moves pain of step t + 1.

    `effect` is points of next-step pain per log unit of jump. `feedback` is the share of load cut per point of pain
    above the person's own level. `heaped` rounds ratings of pain to whole points.
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
            jump[:, t] = np.where(
                both, np.log(np.where(both, load[:, t], 1) / np.where(both, usual[:, t], 1)), 0.0
            )
        if t + 1 < steps:
            pull = slope * np.nan_to_num(jump[:, t]) + stress * (tense[:, t] - 4)
            pain[:, t + 1] = np.clip(
                own + carry * (pain[:, t] - own) + pull + rng.normal(0, noise, people), 0, 10
            )
    columns = {
        "load": load,
        "usual": usual,
        "jump": jump,
        "effort": np.clip(6 + np.nan_to_num(jump) + rng.normal(0, 1, shape), 0, 10),
        "stress": np.clip(tense, 0, 10),
        "sleep_hours": np.clip(7.5 - 0.2 * (tense - 4) + rng.normal(0, 0.8, shape), 3, 11),
        "worry": np.clip(0.5 * pain + rng.normal(1, 1, shape), 0, 10),
        "pain": np.round(pain) if heaped else pain,
    }
    columns["effort"] = np.where(load > 0, columns["effort"], np.nan)
    seen = rng.random(shape) >= missing
    for name in ("stress", "sleep_hours", "worry", "pain"):
        columns[name] = np.where(seen, columns[name], np.nan)
    return panel_of(columns, study=Study(title="Simulated", analysis=AnalysisPlan(exposures=exposures)))


def panel_of(columns: dict[str, np.ndarray], *, study: Study) -> Panel:
    """A panel from (people, steps) arrays of at least pain, load, usual and jump."""
    c = dict(columns)
    people, steps = c["pain"].shape
    blank = np.full((people, steps), np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_usual = np.log(np.where(c["usual"] > 0, c["usual"], np.nan))
    c["log_usual"] = np.where(c["usual"] == 0, 0.0, log_usual - _mean(log_usual)[:, None])
    c["rested"] = np.where(np.isnan(c["load"]), np.nan, c["load"] == 0)
    c["restarted"] = np.where(np.isnan(c["jump"]), np.nan, (c["usual"] == 0) & (c["load"] > 0))
    c["pain_before"], c["pain_next"] = _moved(c["pain"], 1), _moved(c["pain"], -1)
    known = ~np.isnan(c["pain"])
    count = np.cumsum(known, axis=1)
    mean = np.cumsum(np.where(known, c["pain"], 0.0), axis=1) / np.maximum(count, 1)
    c["usual_pain"] = _moved(np.where(count >= 3, mean, np.nan), 1)
    limit = c["usual_pain"] + RISE
    c["at_risk"] = np.where(known & ~np.isnan(limit), c["pain"] < limit, np.nan)
    c["flare_next"] = np.where(
        (c["at_risk"] == 1) & ~np.isnan(c["pain_next"]), c["pain_next"] >= limit, np.nan
    )
    c.setdefault("flare_reported", blank)
    c["flare_reported_next"] = _moved(c["flare_reported"], -1)
    for name in SPLIT:
        own = _mean(c.get(name, blank))
        c[f"{name}_within"] = c.get(name, blank) - own[:, None]
        c[f"{name}_between"] = np.repeat((own - _mean(own[None])[0])[:, None], steps, axis=1)
    frame = pd.DataFrame({name: c.get(name, blank).ravel() for name in panel_columns() if name not in NAMES})
    step = np.tile(np.arange(steps), people)
    frame["person"] = np.repeat([f"p{i:03d}" for i in range(people)], steps)
    frame["step"] = step
    frame["step_start"] = pd.Timestamp("2024-01-01") + pd.to_timedelta(7 * step, unit="D")
    load = c["load"].ravel()
    frame["state"] = np.where(np.isnan(load), "unknown", np.where(load > 0, "trained", "rest"))
    return Panel(frame=frame[list(panel_columns())].copy(), study=study)


def _mean(values: np.ndarray) -> np.ndarray:
    """Row means over known values; missing where none is known."""
    known = ~np.isnan(values)
    count = known.sum(axis=1)
    return np.where(count > 0, np.where(known, values, 0.0).sum(axis=1) / np.maximum(count, 1), np.nan)


def _moved(values: np.ndarray, by: int) -> np.ndarray:
    """Columns moved to the right by `by` steps (to the left when negative), missing at the rim."""
    out = np.full(values.shape, np.nan)
    if by > 0:
        out[:, by:] = values[:, :-by]
    else:
        out[:, :by] = values[:, -by:]
    return out


def with_analysis(panel: Panel, **changes: object) -> Panel:
    """The same panel under another analysis plan."""
    analysis = replace(panel.study.analysis, **changes)
    return replace(panel, study=replace(panel.study, analysis=analysis))


def changed(panel: Panel, **columns: object) -> Panel:
    """The same panel with some columns of the frame replaced."""
    return replace(panel, frame=panel.frame.assign(**columns))
