"""What the flare models would say at this study's own size if load jumps had a known association, or none."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.special import expit, ndtri

from lagwise.core.errors import ModelError
from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.core.variable import JUMP
from lagwise.models.clogit import fit_conditional, strata_of
from lagwise.models.logistic import fit_logistic

RUNS = 100
PERSON_STEPS = 200_000
"""Person-steps simulated per truth at most, though never fewer than 25 runs."""
MOST = 5_000
"""Person-steps of one simulated study at most: with more, fewer people are simulated than the study has,
whose bias is then smaller still (it falls as 1 / people).
"""
COLUMNS = (
    "truth", "estimator", "mean", "bias", "bias_mc_error", "coverage", "coverage_mc_error", "excludes_zero",
    "runs", "onsets",
)  # fmt: skip


@dataclass(frozen=True)
class Mechanism:
    """What is simulated, read off the data: people, steps each, onset log-odds and their person SD, chance
    that a flare ends at a step, lag-1 correlation and SD of log load, and by how much log load falls during a
    flare."""

    people: int
    steps: int
    level: float
    tau: float
    ends: float
    memory: float
    load_sd: float
    drop: float
    usual_steps: int


def mechanism(panel: Panel, outcome: str, level: float, tau: float) -> Mechanism:
    """The mechanism of `bias_at_this_size` from a panel with `outcome` known on at-risk steps only."""
    f = panel.frame.sort_values(["person", "step"], kind="stable")
    lengths = f.groupby("person").size()
    log_load = np.log(f["load"].where(f["load"] > 0))
    departure = log_load - log_load.groupby(f["person"]).transform("mean")
    memory = departure.corr(departure.groupby(f["person"]).shift(1))
    flared = f[outcome].eq(1).groupby(f["person"]).shift(1, fill_value=False)
    second = f[outcome].eq(1).groupby(f["person"]).shift(2, fill_value=False)
    still = f.loc[second, outcome].isna()
    jump = f[JUMP]
    drop = float(jump[~flared].mean() - jump[flared].mean()) if jump[flared].notna().any() else 0.0
    return Mechanism(
        people=len(lengths), steps=int(lengths.median()), level=level, tau=tau,
        ends=float(np.clip(1 - still.mean(), 0.2, 1.0)) if len(still) else 1.0,
        memory=float(np.clip(np.nan_to_num(memory), 0.0, 0.9)),
        load_sd=float(np.nan_to_num(departure.std(), nan=0.3)), drop=drop,
        usual_steps=panel.study.load.usual_steps,
    )  # fmt: skip


def bias_at_this_size(
    how: Mechanism, truths: dict[str, float], *, seed: int = 0, runs: int = RUNS
) -> pd.DataFrame:
    """Bias, coverage and false positives of both flare models with load jump as the only exposure, in
    log-odds per log unit.

    Every run simulates the study's number of people (`simulated_people`) and steps: log load with the study's
    memory, load cut while a flare lasts (so that flares change later exposure), onsets among at-risk steps
    with log-odds level + tau u_i + truth x jump. The jump of a simulated step is log load minus the log of
    the mean load of the `usual_steps` before it.

    Parameters
    ----------
    how : Mechanism
    truths : name -> log odds ratio per log unit
    seed : int
    runs : int
        Simulated studies per truth; fewer where they are large (`PERSON_STEPS`).

    Returns
    -------
    DataFrame
        Columns `COLUMNS`, one row per truth and estimator; `excludes_zero` is the share of intervals without
        0 (false positives when the truth is 0). Runs in which a model could not be fitted are left out of
        `runs`.
    """
    how = replace(how, people=simulated_people(how))
    runs = min(runs, max(25, PERSON_STEPS // (how.people * how.steps)))
    rows = []
    for (name, truth), stream in zip(
        truths.items(), np.random.SeedSequence(seed).spawn(len(truths)), strict=True
    ):
        rng = np.random.default_rng(stream)
        found: dict[str, list[tuple[float, float]]] = {"person intercepts": [], "self-controlled": []}
        onsets = []
        for _ in range(runs):
            person, step, jump, y, risk = _one(how, truth, rng)
            onsets.append(y.sum())
            for estimator, estimate in (
                ("person intercepts", _intercepts),
                ("self-controlled", _self_controlled),
            ):
                try:
                    found[estimator].append(estimate(person, step, jump, y, risk))
                except (ModelError, np.linalg.LinAlgError):
                    continue
        rows += [_summary(name, truth, e, pairs, float(np.mean(onsets))) for e, pairs in found.items()]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def simulated_people(how: Mechanism) -> int:
    """People of a simulated study: the study's own, or as many as `MOST` person-steps hold."""
    return min(how.people, MOST // how.steps)


def _one(how: Mechanism, truth: float, rng: np.random.Generator) -> tuple[np.ndarray, ...]:
    burn, shape = how.usual_steps + 4, (how.people,)
    total = how.steps + burn
    own = how.level + how.tau * rng.standard_normal(shape)
    innovation = how.load_sd * np.sqrt(1 - how.memory**2)
    state = how.load_sd * rng.standard_normal(shape)
    flare = np.zeros(shape, dtype=bool)
    logs, jumps, risk, onset = (np.zeros((how.people, total)) for _ in range(4))
    for t in range(total):
        state = how.memory * state + innovation * rng.standard_normal(shape)
        logs[:, t] = state - how.drop * flare
        past = logs[:, max(0, t - how.usual_steps) : t]
        if t:
            jumps[:, t] = logs[:, t] - np.log(np.exp(past).mean(axis=1))
        risk[:, t] = ~flare
        starts = ~flare & (rng.random(shape) < expit(own + truth * jumps[:, t]))
        onset[:, t] = starts
        flare = starts | (flare & (rng.random(shape) >= how.ends))
    person, step = np.nonzero(np.ones((how.people, how.steps), dtype=bool))
    return person, step, *(v[:, burn:].ravel() for v in (jumps, onset, risk))


def _intercepts(
    person: np.ndarray, step: np.ndarray, jump: np.ndarray, y: np.ndarray, risk: np.ndarray
) -> tuple[float, float]:
    person, jump, y = (v[risk == 1] for v in (person, jump, y))
    code = np.unique(person, return_inverse=True)[1]
    fit = fit_logistic(y, np.column_stack([np.ones(len(y)), jump]), code, nodes=7)
    return float(fit.beta[1]), fit.std_error(1)


def _self_controlled(
    person: np.ndarray, step: np.ndarray, jump: np.ndarray, y: np.ndarray, risk: np.ndarray
) -> tuple[float, float]:
    """All steps of a block are referents, at risk or not, as in the model of the study itself."""
    fit = fit_conditional(y, jump[:, None], strata_of(person, step), (JUMP,), person)
    return float(fit.beta[0]), float(np.sqrt(fit.cov[0, 0]))


def _summary(
    name: str, truth: float, estimator: str, pairs: list[tuple[float, float]], onsets: float
) -> tuple:
    if len(pairs) < 2:
        return (name, estimator, *(np.nan,) * 6, len(pairs), onsets)
    b, se = np.array(pairs).T
    z = float(ndtri(0.5 + INTERVAL / 2))
    n = len(b)
    cover = float(np.mean(np.abs(b - truth) <= z * se))
    return (
        name, estimator, float(b.mean()), float(b.mean() - truth), float(b.std(ddof=1) / np.sqrt(n)), cover,
        float(np.sqrt(cover * (1 - cover) / n)), float(np.mean(np.abs(b) > z * se)), n, onsets,
    )  # fmt: skip
