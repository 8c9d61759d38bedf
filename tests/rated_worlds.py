"""A simulator of its own for the joint model: felt pain, ratings with error, load that answers one or the other. It shares nothing with `lagwise.synthetic`."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.panel import panel_from_blocks

STUDY = Study("Simulated")
BEFORE = 15
"""Weeks lived before the record begins."""


@dataclass(frozen=True)
class World:
    """One process. `effect` points of next week's pain per log unit of jump, `effect_sd` between people; `feedback` share of load cut per point of pain,
    felt or `answers_rating`; `daily` seven ratings a week with SD `day_sd`, else one with SD `error`; `follows` how far load follows the usual load rather than a base of the person's own;
    `same_week` points of the same week per log unit; `hidden` weeks after heavy ones whose high pain is not rated; `worry` rated, answering pain and moving it; `heavy_tails` of pain's shocks."""

    people: int
    weeks: int
    effect: float = 0.0
    effect_sd: float = 0.0
    feedback: float = 0.25
    answers_rating: bool = False
    daily: bool = False
    carry: float = 0.4
    error: float = 0.5
    day_sd: float = 0.8
    shock: float = 0.75
    level: float = 4.0
    follows: float = 0.0
    same_week: float = 0.0
    hidden: bool = False
    worry: bool = False
    heavy_tails: bool = False
    missing: float = 0.08


def simulate(world: World, seed: int) -> Panel:
    """One caseload as a panel; whole-point ratings from 0 to 10."""
    w, rng = world, np.random.default_rng(seed)
    P, T = w.people, BEFORE + w.weeks
    answer = -np.log(1 - w.feedback)
    level = np.clip(rng.normal(w.level, 1.0, P), 0.5, 8)
    base, slope = 38 * np.exp(rng.normal(0, 0.3, P)), rng.normal(w.effect, w.effect_sd, P)
    cycle, phase = rng.integers(4, 7, P), rng.integers(0, 6, P)
    felt, strain = rng.normal(0, w.shock / np.sqrt(1 - w.carry**2), P), np.zeros(P)
    load, jumps, pain, mean, last, worry, stress = (np.full((P, T), np.nan) for _ in range(7))
    for t in range(T):
        strain = 0.5 * strain + rng.normal(0, 1.0, P)
        rated = _rate(w, rng, level + felt)
        answered = rated.mean(axis=1) - level if w.answers_rating else felt
        usual = load[:, max(0, t - 4) : t].mean(axis=1) if t else base
        week = (t + phase) % cycle
        easy = week == cycle - 1
        plan = (
            np.log(base)
            + 0.008 * (t - BEFORE)
            + 0.06 * (week - (cycle - 1) / 2)
            + np.where(easy, np.log(0.6), 0.0)
        )
        own = np.log(np.maximum(usual, 1.0)) + np.where(easy, -0.4, 0.12)
        aim = (1 - w.follows) * plan + w.follows * own
        sets = np.clip(
            np.rint(np.exp(aim - answer * answered - 0.03 * strain + rng.normal(0, 0.25, P))), 3, 200
        )
        sets = np.where(rng.random(P) < 0.03, 0.0, sets)
        both = (sets > 0) & (usual > 0)
        jump = np.where(both, np.log(np.where(both, sets, 1.0) / np.where(both, usual, 1.0)), 0.0)
        if w.same_week:
            felt = felt + w.same_week * jump
            rated = _rate(w, rng, level + felt)
        load[:, t], jumps[:, t], pain[:, t], mean[:, t], last[:, t] = (
            sets, jump, felt, rated.mean(axis=1), rated[:, -1],
        )  # fmt: skip
        worry[:, t] = np.clip(np.rint(3 + 0.5 * felt + 0.15 * strain + rng.normal(0, 0.7, P)), 0, 10)
        stress[:, t] = np.clip(4 + strain, 0, 10)
        shock = w.shock * (rng.standard_t(4, P) / np.sqrt(2) if w.heavy_tails else rng.normal(0, 1, P))
        felt = (
            w.carry * felt
            + slope * jump
            + 0.1 * strain
            + (0.1 * (worry[:, t] - 3) if w.worry else 0.0)
            + shock
        )
    kept = (values[:, BEFORE:] for values in (load, jumps, pain, mean, last, worry, stress))
    return _panel(w, rng, *kept)


def _rate(w: World, rng: np.random.Generator, pain: np.ndarray) -> np.ndarray:
    spread, days = (w.day_sd, 7) if w.daily else (w.error, 1)
    return np.clip(np.rint(pain[:, None] + rng.normal(0, spread, (len(pain), days))), 0, 10)


def _panel(
    w: World,
    rng: np.random.Generator,
    load: np.ndarray,
    jump: np.ndarray,
    pain: np.ndarray,
    *rated: np.ndarray,
) -> Panel:
    shape, n = load.shape, load.size
    seen = rng.random(shape) >= w.missing
    if w.hidden:
        heavy = np.column_stack([np.zeros(shape[0], dtype=bool), jump[:, :-1] > 0.05])
        seen &= ~(heavy & (pain > 0.5) & (rng.random(shape) < 0.8))
    seen[:, [0, -1]] = True
    mean, last, worry, stress = (np.where(seen, values, np.nan).ravel() for values in rated)
    counts = np.where(seen, 7 if w.daily else 1, 0).ravel()
    none, width = np.full(n, np.nan), len(str(shape[0]))
    start = np.datetime64("2024-01-01", "us") + (np.arange(shape[1]) * 7).astype("timedelta64[D]")
    blocks = pd.DataFrame({
        "person": pd.Series(np.repeat([f"S{i:0{width}d}" for i in range(shape[0])], shape[1]), dtype="str"),
        "step": np.tile(np.arange(shape[1]), shape[0]), "step_start": np.tile(start, shape[0]),
        "recorded": np.where(load.ravel() > 0, "trained", "rest"), "n_sessions": np.ones(n, dtype="int64"), "load_sets": load.ravel(),
        "effort": none, "near_failure_share": none, "n_checkins": counts, "n_ratings": counts,
        "pain_mean": mean, "pain_worst": mean, "pain_last": last, "flare_reported": none, "pain_before": none,
        "stress": stress, "sleep_hours": none, "sleep_quality": none, "worry": worry if w.worry else none, "confidence": none, "source": "logs",
    })  # fmt: skip
    return panel_from_blocks(blocks, STUDY)
