"""The grid of people, weeks and true differences, and what can be expected of a record in each of its cells."""

from __future__ import annotations

import math
import time
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.work import map_tasks, open_executor, seeds
from lagwise.core.errors import LagwiseError
from lagwise.core.results import Picture
from lagwise.core.study import Study
from lagwise.planning.assumptions import Assumptions, require_usable
from lagwise.planning.simulate import Task, simulate

CHUNK = 50_000
"""Person-weeks simulated in one task; the split never depends on who runs it."""
MOST = 200_000_000
"""Person-weeks simulated in all."""
FEWEST, LARGEST = 50, 20_000
"""Caseloads per cell."""
OUTCOMES = ("p_beyond", "p_partly", "p_within", "p_open", "p_no_interval")
"""Chances that together make 1: see `plan`."""

Progress = Callable[[int, int], None]
"""Called with the tasks done and how many there are."""


@dataclass(frozen=True)
class Plan:
    """What `plan` found.

    `table` has one row per cell (see `plan`); `study` and `assumptions` are what it was made under; `caseloads` were simulated in each
    cell from `seed`; `seconds` is how long it took.
    """

    table: pd.DataFrame
    study: Study
    assumptions: Assumptions
    caseloads: int
    seed: int
    seconds: float = 0.0

    @property
    def picture(self) -> Picture:
        """The grid as a figure's plain data; `lagwise.figure(plan)` draws it."""
        from lagwise.planning.picture import grid_picture

        return grid_picture(self)

    @property
    def assumed(self) -> tuple[str, ...]:
        """What was assumed, in sentences."""
        from lagwise.planning.words import assumed

        return assumed(self.study, self.assumptions)

    @property
    def notes(self) -> tuple[str, ...]:
        """How to read the chances, with what this grid cannot show."""
        from lagwise.planning.words import notes

        return notes(self)


def plan(
    people: int | Iterable[int],
    weeks: int | Iterable[int],
    effect: float | Iterable[float] = (0.0, 0.5),
    *,
    study: Study | None = None,
    assumptions: Assumptions | None = None,
    caseloads: int = 500,
    seed: int = 1,
    workers: int | None = None,
    cluster: str | None = None,
    progress: Progress | None = None,
) -> Plan:
    """What a record of so many people over so many weeks would be able to tell, by simulation.

    Each cell of the grid people x weeks x effect is simulated `caseloads` times from the process of the synthetic caseloads under the assumptions, and
    every caseload is analysed as a report would: the study's primary model with its ladder of person slopes (within people from 5 to 9, nothing below 5)
    and its interval.

    Parameters
    ----------
    people, weeks : int or several
        Size of the record: people, and weeks that each may be followed.
    effect : float or several
        True difference in next week's pain, in points on the 0-10 scale per primary contrast of the study (+50 % over usual load by default), as the process
        adds it, before the ends of the scale and the rounding of ratings.
    study : Study, optional
        Its contrast, practically_zero, exposures, usual load, pain summary and flare rise are used; by default the defaults.
    assumptions : Assumptions, optional
    caseloads : simulated per cell, 50 to 20000
    seed : int
        A cell's numbers depend on the seed and the cell, not on the other cells, nor on workers.
    workers : local processes; None or 1 means this process
    cluster : address of a Dask scheduler, in place of local processes
    progress : callable(done, of), optional

    Returns
    -------
    Plan
        `table`, one row per cell. z is practically_zero; an interval is [low, high] in points; chances are shares of all simulated caseloads, and every
        `_error` is the Monte Carlo standard error of the column before it:

        people, weeks, effect, caseloads, fitted (caseloads that gave an interval);
        width, width_error, width_low, width_high: median and middle 80 of 100 of high - low, which has no mean where records are very short; mean (of the estimates), bias = mean - effect, bias_error; coverage, coverage_error: share
        of the intervals with low <= effect <= high; these over fitted caseloads;
        p_beyond: the interval excludes practically zero, low > z or high < -z; p_partly: it excludes 0 and reaches both into practically zero and out of it;
        p_within: it lies wholly within practically zero, -z <= low and high <= z; p_open: none of these, so that it includes 0; p_no_interval; the five make 1.
        p_excludes_zero: low > 0 or high < 0 (with an effect of 0: how often a difference is seen that is not there);
        usable_people, person_weeks: means of what enters the primary model; flare_onsets, flare_onsets_low, flare_onsets_high: mean and middle 80 of 100 of
        the weeks at risk that a flare-up follows; flare_people: mean number of people with at least one; p_flare_model: enough for a flare model;
        gate, gate_share: the gate reached by most caseloads, and by what share of them.

    Raises
    ------
    LagwiseError
        For sizes, effects or studies that cannot be simulated.
    """
    began = time.perf_counter()
    plan_of = Study("Planning") if study is None else study
    assumed = Assumptions() if assumptions is None else assumptions
    require_usable(plan_of)
    cells = [
        (n, t, e)
        for e in _effects(effect)
        for n in _sizes("people", people, 1, 5000)
        for t in _sizes("weeks", weeks, 2, 520)
    ]
    _require_size(cells, caseloads)
    tasks = [task for cell in cells for task in tasks_of(cell, caseloads, seed)]
    with open_executor(workers, cluster) as executor:
        parts = map_tasks(partial(simulate, plan_of, assumed), tasks, executor, progress)
    rows, zero = [], plan_of.analysis.practically_zero
    for cell in cells:
        own = [part for part, task in zip(parts, tasks, strict=True) if (task.people, task.weeks, task.effect) == cell]
        rows.append(summary(cell, pd.concat(own, ignore_index=True), zero))
    return Plan(pd.DataFrame(rows), plan_of, assumed, caseloads, seed, time.perf_counter() - began)


def tasks_of(cell: tuple[int, int, float], caseloads: int, seed: int) -> list[Task]:
    """A cell cut into tasks of a size that depends on the cell alone, each with a seed of its own."""
    people, weeks, effect = cell
    each = max(1, min(100, CHUNK // (people * weeks)))
    sizes = [min(each, caseloads - i) for i in range(0, caseloads, each)]
    root = np.random.SeedSequence(seed, spawn_key=(zlib.crc32(f"{people} {weeks} {effect!r}".encode()),))
    return [Task(people, weeks, effect, n, s) for n, s in zip(sizes, seeds(root, len(sizes)), strict=True)]


def summary(cell: tuple[int, int, float], found: pd.DataFrame, zero: float) -> dict[str, object]:
    """One row of `Plan.table` from the caseloads of a cell."""
    people, weeks, effect = cell
    n, known = len(found), found.dropna(subset=["estimate"])
    low, high, missing = found["low"], found["high"], found["estimate"].isna()
    beyond, within, excludes = (low > zero) | (high < -zero), (low >= -zero) & (high <= zero), (low > 0) | (high < 0)
    partly = excludes & ~beyond & ~within
    width, covered = known["high"] - known["low"], (known["low"] <= effect) & (known["high"] >= effect)
    gates = found["gate"].value_counts()
    row: dict[str, object] = {
        "people": people, "weeks": weeks, "effect": effect, "caseloads": n, "fitted": len(known),
        **_middle("width", width),
        "mean": _mean(known["estimate"]), "bias": _mean(known["estimate"]) - effect, "bias_error": _mean_error(known["estimate"]),
        **_share("coverage", covered),
    }  # fmt: skip
    chances = (beyond, partly, within, ~(beyond | partly | within | missing), missing)
    for name, chance in zip(OUTCOMES, chances, strict=True):
        row |= _share(name, chance)
    onsets = found["onsets"]
    return row | {
        **_share("p_excludes_zero", excludes),
        "usable_people": _mean(found["n_people"]), "person_weeks": _mean(found["n_steps"]),
        "flare_onsets": _mean(onsets), "flare_onsets_low": float(onsets.quantile(0.1)), "flare_onsets_high": float(onsets.quantile(0.9)),
        "flare_people": _mean(found["flare_people"]), **_share("p_flare_model", found["flare_model"]),
        "gate": gates.index[0], "gate_share": float(gates.iloc[0] / n),
    }  # fmt: skip


def _mean(values: pd.Series) -> float:
    return float(values.mean()) if len(values) else math.nan


def _mean_error(values: pd.Series) -> float:
    return float(values.std() / math.sqrt(len(values))) if len(values) > 1 else math.nan


def _middle(name: str, values: pd.Series) -> dict[str, float]:
    """Median, its Monte Carlo error by order statistics, and the middle 80 of 100."""
    if not len(values):
        return {name: math.nan, f"{name}_error": math.nan, f"{name}_low": math.nan, f"{name}_high": math.nan}
    half = 0.5 / math.sqrt(len(values))
    low, under, middle, over, high = np.quantile(values, [0.1, 0.5 - half, 0.5, 0.5 + half, 0.9])
    return {
        name: float(middle),
        f"{name}_error": float(over - under) / 2,
        f"{name}_low": float(low),
        f"{name}_high": float(high),
    }


def _share(name: str, hits: pd.Series) -> dict[str, float]:
    """A share and its Monte Carlo error, with two hits and two misses added so that it is not 0 at the ends (Agresti & Coull 1998)."""
    n = len(hits)
    if not n:
        return {name: math.nan, f"{name}_error": math.nan}
    near = (float(hits.sum()) + 2) / (n + 4)
    return {name: float(hits.mean()), f"{name}_error": math.sqrt(near * (1 - near) / (n + 4))}


def _sizes(name: str, given: int | Iterable[int], least: int, most: int) -> list[int]:
    values = list(dict.fromkeys(given)) if isinstance(given, Iterable) else [given]
    if not values:
        raise LagwiseError("no number is given", where=name, mend=f"Give at least one, {least} to {most}.")
    for value in values:
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or not least <= value <= most:
            raise LagwiseError(f"{value!r} {name} cannot be simulated", where=name, mend=f"Give whole numbers from {least} to {most}.")  # fmt: skip
    return [int(value) for value in values]


def _effects(given: float | Iterable[float]) -> list[float]:
    values = list(dict.fromkeys(given)) if isinstance(given, Iterable) else [given]
    if not values:
        raise LagwiseError("no number is given", where="effect", mend="Give at least one, in points.")
    for value in values:
        if not isinstance(value, int | float | np.floating) or not -5 <= value <= 5:
            raise LagwiseError(f"a difference of {value!r} points cannot be simulated", where="effect", mend="Give points from -5 to 5.")  # fmt: skip
    return list(dict.fromkeys(float(value) + 0.0 for value in values))


def _require_size(cells: list[tuple[int, int, float]], caseloads: int) -> None:
    if not FEWEST <= caseloads <= LARGEST:
        raise LagwiseError(f"{caseloads} simulated caseloads per cell", where="caseloads", mend=f"Give a number from {FEWEST} to {LARGEST}.")  # fmt: skip
    total = caseloads * sum(people * weeks for people, weeks, _ in cells)
    if total > MOST:
        raise LagwiseError(
            f"this grid asks for {total / 1e6:.0f} million simulated person-weeks; {MOST / 1e6:.0f} million are the most", where="plan",
            mend="Give fewer cells, smaller ones, or fewer caseloads.",
        )  # fmt: skip
