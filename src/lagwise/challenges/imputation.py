"""Multiple imputation of person-steps: values are filled in step by step, and every lag is built again from
them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.core.results import Panel
from lagwise.models.design import OF_TRAINING
from lagwise.panel.build import panel_from_blocks
from lagwise.panel.derive import outcome_columns, person_index, shifted, split_parts

CYCLES = 5
LOG_LOAD = "log_load"


@dataclass(frozen=True)
class Gaps:
    """A panel's steps as numbers to fill: `values` (n, v) of `names` (the outcome first, log load second
    where load is recorded), person-centred; NaN where unknown.

    `middle` (n, v) person means; `low`, `high` (v,) observed range; `rest` (n,) 1 rest, 0 trained, NaN
    unknown.
    """

    panel: Panel
    names: tuple[str, ...]
    person: np.ndarray
    values: np.ndarray
    middle: np.ndarray
    low: np.ndarray
    high: np.ndarray
    rest: np.ndarray


def gaps_of(panel: Panel, exposures: tuple[str, ...]) -> Gaps:
    """What is known and what is not of the outcome, load and the exposures that enter the primary model."""
    frame = panel.frame
    person = person_index(panel.blocks)
    load = frame["load"].to_numpy(dtype=float)
    rated = panel.study.outcome.name
    columns: dict[str, np.ndarray] = {rated: frame[rated].to_numpy(dtype=float)}
    if np.isfinite(load).any():
        columns[LOG_LOAD] = np.log(load, out=np.full(len(load), np.nan), where=load > 0)
    for term in exposures:
        if not panel.study.variables[term].whole:
            columns[term] = frame[term].to_numpy(dtype=float)
    raw = np.column_stack(list(columns.values()))
    rest = (
        np.where(np.isnan(load), np.nan, (load == 0).astype(float))
        if LOG_LOAD in columns
        else np.zeros(len(load))
    )
    table = pd.DataFrame(raw).groupby(person).transform("mean")
    middle = table.fillna(table.mean()).to_numpy()
    return Gaps(
        panel,
        tuple(columns),
        person,
        raw - middle,
        middle,
        np.nanmin(raw, axis=0),
        np.nanmax(raw, axis=0),
        rest,
    )


def fill(gaps: Gaps, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """One imputation: (n, v) values on their own scale and (n,) rest, by chained normal regressions with
    drawn coefficients.

    Each column is regressed on the others of its step, on all of the step before and after, on rest and the
    step's place in the record; unknown steps are rest with the share of rest among known ones.
    """
    unknown = np.isnan(gaps.values)
    rest = gaps.rest.copy()
    open_state = np.isnan(rest)
    rest[open_state] = rng.random(open_state.sum()) < np.nanmean(gaps.rest) if open_state.any() else 0
    values = np.where(unknown, 0.0, gaps.values)
    place = gaps.panel.frame["step"].to_numpy(dtype=float)
    for _ in range(CYCLES):
        for j in range(values.shape[1]):
            todo = unknown[:, j]
            if not todo.any():
                continue
            near = [
                np.nan_to_num(shifted(values[:, k], gaps.person, s))
                for k in range(values.shape[1])
                for s in (1, -1)
            ]
            X = np.column_stack([np.ones(len(values)), np.delete(values, j, axis=1), *near, rest, place])
            values[todo, j] = _drawn(X, values[:, j], ~todo, todo, rng)
    out = np.clip(values + gaps.middle, gaps.low, gaps.high)
    return np.where(unknown, out, gaps.values + gaps.middle), rest


def _drawn(
    X: np.ndarray, y: np.ndarray, known: np.ndarray, todo: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Posterior predictive draw of y[todo] from the normal regression of y[known] on X, flat prior, a hair of
    ridge.
    """
    A, b = X[known], y[known]
    gram = A.T @ A
    inverse = np.linalg.inv(gram + 1e-6 * np.diag(np.maximum(np.diag(gram), 1.0)))
    beta = inverse @ (A.T @ b)
    left = b - A @ beta
    variance = float(left @ left) / rng.chisquare(max(1, len(b) - X.shape[1]))
    drawn = beta + np.linalg.cholesky(variance * inverse + 1e-15 * np.eye(len(beta))) @ rng.normal(
        size=len(beta)
    )
    return X[todo] @ drawn + np.sqrt(variance) * rng.normal(size=int(todo.sum()))


def rebuilt(gaps: Gaps, filled: tuple[np.ndarray, np.ndarray]) -> Panel:
    """The panel of filled steps, every lag built anew."""
    values, rest = filled
    study, blocks = gaps.panel.study, gaps.panel.blocks
    outcome = study.outcome
    named = dict(zip(gaps.names, values.T, strict=True))
    rated = named.pop(outcome.name)
    rated = np.where(guessed(gaps), np.clip(rated, outcome.variable.low, outcome.variable.high), rated)
    summary = f"{outcome.name}_{study.pain.summary}"
    columns: dict[str, np.ndarray] = {summary if summary in blocks else outcome.name: rated}
    columns[outcome.before] = _before(gaps, rated)
    if LOG_LOAD in named:
        columns[f"load_{study.load.measure}"] = np.where(rest == 1, 0.0, np.exp(named.pop(LOG_LOAD)))
        columns["recorded"] = np.where(rest == 1, "rest", "trained")
    for name, column in named.items():
        columns[name] = np.where((rest == 1) & (name in OF_TRAINING), np.nan, column)
    plan = replace(study, load=replace(study.load, no_sessions_means="unknown"))
    return panel_from_blocks(blocks.assign(**columns), plan)


def moved(panel: Panel, gaps: Gaps, filled: tuple[np.ndarray, np.ndarray], delta: float) -> Panel:
    """A panel of `rebuilt` whose filled outcomes are shifted by `delta` and held to their scale, with
    everything that is made from them; its blocks stay.
    """
    asked, frame = panel.study.outcome, panel.frame
    rated = filled[0][:, gaps.names.index(asked.name)]
    rated = np.where(guessed(gaps), np.clip(rated + delta, asked.variable.low, asked.variable.high), rated)
    made = {asked.name: rated, asked.before: _before(gaps, rated)}
    parts = {
        f"{name}_{part}": values
        for name in made
        if f"{name}_within" in frame
        for part, values in zip(("within", "between"), split_parts(made[name], gaps.person), strict=True)
    }
    return replace(panel, frame=frame.assign(**made, **outcome_columns(rated, gaps.person, asked), **parts))


def guessed(gaps: Gaps) -> np.ndarray:
    """(n,) steps whose outcome is filled in."""
    return np.isnan(gaps.values[:, 0])


def _before(gaps: Gaps, rated: np.ndarray) -> np.ndarray:
    """The outcome before each step: in weekly tables that of the step or of the one before, else as it was
    recorded and, where it was not, that of the step before.
    """
    panel, earlier = gaps.panel, shifted(rated, gaps.person, 1)
    if panel.blocks["source"].iloc[0] == "weeks":
        return rated if panel.study.pain.rated == "start" else earlier
    before = panel.frame[panel.study.outcome.before].to_numpy(dtype=float)
    return np.where(np.isnan(before), earlier, before)


def pooled(estimates: np.ndarray, errors: np.ndarray, complete_df: float) -> tuple[float, float, float]:
    """Rubin's rules over m imputations with the small-sample df of Barnard & Rubin (1999,
    doi:10.1093/biomet/86.4.948): estimate, standard error, df.
    """
    m = len(estimates)
    inside = float(np.mean(errors**2))
    between = float(np.var(estimates, ddof=1)) * (1 + 1 / m)
    total = inside + between
    share = between / total
    observed = (complete_df + 1) / (complete_df + 3) * complete_df * (1 - share)
    df = observed if share <= 0 else 1 / (share**2 / (m - 1) + 1 / observed)
    return float(np.mean(estimates)), float(np.sqrt(total)), float(df)
