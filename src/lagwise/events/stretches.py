"""Two stretches of the calendar: each person against themselves, and what a straight trend would give."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from lagwise.core.errors import ModelError
from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL, Study
from lagwise.describe.numbers import ratings_of
from lagwise.events.single import LEAST, phase_changes

SEASON = 0.9
"""Share of each stretch's days in months that the other holds too, from which both hold the same months."""
TOLD = ("difference", "trend", "beyond")
COLUMNS = (
    "earlier", "later", "variable", "reason", "season", "n_people", "n_steps", "mean_earlier", "mean_later",
    *(f"{name}{end}" for name in TOLD for end in ("", "_low", "_high")), "df", "steps_apart",
)  # fmt: skip
PEOPLE = ("person", "earlier", "later", "steps_earlier", "steps_later", "mean_earlier", "mean_later",
          "difference")  # fmt: skip


@dataclass(frozen=True)
class Sums:
    """What one variable comes to by person: `n`, `mean` and `at` (mean step) in each stretch, (people,
    stretches), NaN without a value; `xx` and `xy`, squares and products of step and value about the means of
    each part of the record that stretches cut it into."""

    n: np.ndarray
    mean: np.ndarray
    at: np.ndarray
    xx: np.ndarray
    xy: np.ndarray


def compared(panel: Panel, outcome: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Every two stretches of the plan, by whom and how far a person's values differ between them.

    A step belongs to a stretch when its middle day does. Everybody with `LEAST` steps with a value in both
    counts once, with the difference of the two means.

    `trend` is the slope per step within people and within parts of the record, pooled over people, times the
    mean distance of their middles; `beyond` is the difference without it. Parts are the stretches, what is
    before the first and what is after the last: a step up or down from one to the next is no slope. Intervals
    are those of a jackknife of whole people, by the t of people - 1 df.

    Returns
    -------
    rows : DataFrame of `COLUMNS`
        One row per pair and variable, what is asked about first. `reason`: 'people'; 'alone' (one person:
        autoregressive errors as in `lagwise.events.single`, no trend); 'flat' (one person, whose values leave
        no variance); 'nobody'; 'overlap' (stretches share days); 'numbered' (nothing is known of the
        calendar). `season`: 'same' when both hold the same months of the year, else 'other' or 'unknown'.
    people : DataFrame of `PEOPLE`
        Of what is asked about, one row per pair and person: personal data.

    Raises
    ------
    ModelError
        When the plan names fewer than two stretches.
    """
    study, frame = panel.study, panel.frame.sort_values(["person", "step"], kind="stable")
    ends = {n: (date.fromisoformat(a), date.fromisoformat(b)) for n, (a, b) in study.blocks.items()}
    names = sorted(ends, key=ends.__getitem__)
    if len(names) < 2:
        raise ModelError("the plan names fewer than two stretches of the calendar")
    middle = frame["step_start"] + pd.Timedelta(days=study.clock.step_days // 2)
    sides = {n: (pd.Timestamp(a), pd.Timestamp(b)) for n, (a, b) in ends.items()}
    within = np.column_stack([middle.between(*sides[n], inclusive="both") for n in names])
    code, everybody = pd.factorize(frame["person"])
    step = frame["step"].to_numpy(dtype=float)
    others = [v for v in ("load", *ratings_of(study)) if v != outcome and frame[v].notna().any()]
    values = {v: frame[v].to_numpy(dtype=float) for v in (outcome, *others)}
    edge = min(a for a, _ in sides.values()), max(b for _, b in sides.values())
    told_of = within.any(axis=1) | ~middle.between(*edge, inclusive="both")
    sums = {
        v: _sums(code, len(everybody), step, np.where(told_of, y, np.nan), within) for v, y in values.items()
    }
    rows: list[dict[str, Any]] = []
    people: list[tuple[Any, ...]] = []
    for a, b in combinations(range(len(names)), 2):
        shared = ends[names[a]][1] >= ends[names[b]][0]
        why = "numbered" if study.numbered else "overlap" if shared else ""
        season = _season(ends[names[a]], ends[names[b]], study)
        for variable, y in values.items():
            s = sums[variable]
            who = np.flatnonzero((s.n[:, [a, b]] >= LEAST).all(axis=1) & (not why))
            if why:
                told: dict[str, Any] = {"reason": why}
            elif len(who) == 1:
                own = np.flatnonzero((code == who[0]) & within[:, [a, b]].any(axis=1))
                told = _alone(step[own], y[own], float(step[own[within[own, b]]].min()))
            else:
                told = _several(s, who, a, b)
            means = s.mean[who][:, [a, b]]
            if len(who):
                told |= dict(zip(("mean_earlier", "mean_later"), means.mean(axis=0), strict=True))
            n = {"n_people": len(who), "n_steps": int(s.n[who][:, [a, b]].sum()), "season": season}
            rows.append({"earlier": names[a], "later": names[b], "variable": variable} | n | told)
            if variable == outcome:
                people += [
                    (str(everybody[i]), names[a], names[b], *s.n[i, [a, b]], *m, m[1] - m[0])
                    for i, m in zip(who.tolist(), means, strict=True)
                ]
    return pd.DataFrame(rows, columns=list(COLUMNS)), pd.DataFrame(people, columns=list(PEOPLE))


def _sums(code: np.ndarray, people: int, step: np.ndarray, y: np.ndarray, within: np.ndarray) -> Sums:
    keep = np.isfinite(y)
    code, step, y, within = code[keep], step[keep], y[keep], within[keep]
    n, mean, at = (np.zeros((people, within.shape[1])) for _ in range(3))
    for k, inside in enumerate(within.T):
        n[:, k] = np.bincount(code[inside], minlength=people)
        with np.errstate(invalid="ignore"):
            for to, v in ((mean, y), (at, step)):
                to[:, k] = np.bincount(code[inside], v[inside], minlength=people) / n[:, k]
    new = np.ones(len(y), dtype=bool)
    new[1:] = (code[1:] != code[:-1]) | (within[1:] != within[:-1]).any(axis=1)
    part = np.cumsum(new) - 1
    size = np.bincount(part)
    x, z = (v - (np.bincount(part, v) / size)[part] for v in (step, y))
    xx, xy = (np.bincount(code, x * v, minlength=people) for v in (x, z))
    return Sums(n.astype(int), mean, at, xx, xy)


def _several(sums: Sums, who: np.ndarray, a: int, b: int) -> dict[str, Any]:
    """Mean difference, what the trend gives of it and what is beyond, each with its jackknife interval."""
    n = len(who)
    if not n:
        return {"reason": "nobody"}
    d, apart = (m[who, b] - m[who, a] for m in (sums.mean, sums.at))
    xx, xy = sums.xx[who], sums.xy[who]
    rest = [v.sum() - v for v in (d, apart, xx, xy)]
    with np.errstate(invalid="ignore", divide="ignore"):
        left = np.array([rest[0], rest[3] / rest[2] * rest[1]]) / (n - 1)
        whole = np.array([d.mean(), xy.sum() / xx.sum() * apart.mean()])
    values, out = (np.vstack([v, v[:1] - v[1:]]) for v in (whole[:, None], left))
    error = np.sqrt((n - 1) / n * ((out - out.mean(axis=1, keepdims=True)) ** 2).sum(axis=1))
    reach = float(stdtrit(n - 1, 0.5 + INTERVAL / 2)) * error
    told: dict[str, Any] = {"reason": "people", "df": float(n - 1), "steps_apart": float(apart.mean())}
    for name, value, half in zip(TOLD, values[:, 0], reach, strict=True):
        told |= {name: value, f"{name}_low": value - half, f"{name}_high": value + half}
    return told


def _alone(step: np.ndarray, y: np.ndarray, start: float) -> dict[str, Any]:
    """One person's difference, errors of neighbouring steps being alike."""
    try:
        found = phase_changes(step.astype(int).tolist(), y.tolist(), [int(start)]).rows.iloc[0]
    except ModelError:
        return {"reason": "flat"}
    limits = {
        "difference": found["estimate"],
        "difference_low": found["low"],
        "difference_high": found["high"],
    }
    return {"reason": "alone", "df": float(found["df"])} | limits


def _season(first: tuple[date, date], second: tuple[date, date], study: Study) -> str:
    if study.numbered:
        return "unknown"
    months = [pd.date_range(*ends).month.to_numpy() for ends in (first, second)]
    shares = [float(np.isin(own, other).mean()) for own, other in (months, months[::-1])]
    return "same" if min(shares) >= SEASON else "other"
