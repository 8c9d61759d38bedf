"""The grid of people, weeks and true differences, and what a record in each of its cells would tell."""

from __future__ import annotations

import time
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.work import map_tasks, open_executor, seeds
from lagwise.core.errors import LagwiseError
from lagwise.core.study import Study
from lagwise.planning.assumptions import Assumptions, require_usable
from lagwise.planning.ratings import COLUMNS, RatingTask, compare, how_many, rating_table, rating_tasks
from lagwise.planning.simulate import Task, simulate
from lagwise.planning.summary import summary

CHUNK = 50_000
"""Person-weeks simulated in one task; the split never depends on who runs it."""
MOST = 200_000_000
"""Person-weeks simulated in all."""
FEWEST, LARGEST = 50, 20_000
"""Caseloads per cell."""
Progress = Callable[[int, int], None]
"""Called with the tasks done and how many there are."""


@dataclass(frozen=True)
class Plan:
    """What `plan` found.

    `table` has one row per cell (see `plan`); `study` and `assumptions` are what it was made under;
    `caseloads` were simulated in each cell from `seed`; `seconds` is how long it took. `ratings` has the
    largest size with a true difference of 0, rated weekly and rated daily (see `plan`); no rows where that
    was not simulated.
    """

    table: pd.DataFrame
    study: Study
    assumptions: Assumptions
    caseloads: int
    seed: int
    seconds: float = 0.0
    ratings: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(COLUMNS)))


def plan(
    people: int | Iterable[int],
    weeks: int | Iterable[int],
    effect: float | Iterable[float] = (0.0, 0.5),
    *,
    study: Study | None = None,
    assumptions: Assumptions | None = None,
    caseloads: int = 500,
    rating_caseloads: int | None = None,
    seed: int = 1,
    workers: int | None = None,
    cluster: str | None = None,
    progress: Progress | None = None,
) -> Plan:
    """What a record of so many people over so many weeks would be able to tell, by simulation.

    Each cell of the grid people x weeks x effect is simulated `caseloads` times from the process of the
    synthetic caseloads under the assumptions, and every caseload is analysed with ratings as they are: the
    mixed model with its ladder of person slopes (within people from 5 to 9, nothing below 5) and its
    interval. At the largest size fewer caseloads, with a true difference of 0, are rated weekly and rated
    daily and read by the joint model of ratings, load and pain as well.

    Parameters
    ----------
    people, weeks : int or several
        Size of the record: people, and weeks that each may be followed.
    effect : float or several
        True difference in next week's pain, in points on the 0-10 scale per primary contrast of the study
        (+50 % over usual load by default), as the process adds it, before the ends of the scale and the
        rounding of ratings.
    study : Study, optional
        Its contrast, practically_zero, exposures, usual load, pain summary and flare rise are used; by
        default the defaults.
    assumptions : Assumptions, optional
    caseloads : simulated per cell, 50 to 20000
    rating_caseloads : int, optional
        Read by the joint model with weekly and with daily ratings each, 10 to 5000, or 0 for none; five times
        as many by the mixed model. By default 3 of 100 `caseloads`, none where that is below 10 or a report's
        headline would not be the joint model's (below 10 people or 8 weeks, or a study that does not ask
        about load).
    seed : int
        A cell's numbers depend on the seed and the cell, not on the other cells, nor on workers.
    workers : local processes; None or 1 means this process
    cluster : address of a Dask scheduler, in place of local processes
    progress : callable(done, of), optional

    Returns
    -------
    Plan
        `table`, one row per cell. z is practically_zero; an interval is [low, high] in points; chances are
        shares of all simulated caseloads, and every `_error` is the Monte Carlo standard error of the column
        before it:

        people, weeks, effect, caseloads, fitted (caseloads that gave an interval);
        width, width_error, width_low, width_high: median and middle 80 of 100 of high - low, which has no
        mean where records are very short; mean (of the estimates), bias = mean - effect, bias_error;
        coverage, coverage_error: share of the intervals with low <= effect <= high; these over fitted
        caseloads; p_beyond: the interval excludes practically zero, low > z or high < -z; p_partly: it
        excludes 0 and reaches both into practically zero and out of it; p_within: it lies wholly within
        practically zero, -z <= low and high <= z; p_open: none of these, so that it includes 0;
        p_no_interval; the five make 1. p_excludes_zero: low > 0 or high < 0 (with an effect of 0: how often a
        difference is seen that is not there); usable_people, person_weeks: means of what enters the primary
        model; flare_onsets, flare_onsets_low, flare_onsets_high: mean and middle 80 of 100 of the weeks at
        risk that a flare-up follows; flare_people: mean number of people with at least one; p_flare_model:
        enough for a flare model; gate, gate_share: the gate reached by most caseloads, and by what share of
        them.

        `ratings`, rows weekly and daily by model (mixed: ratings as they are; joint: their error allowed for;
        both: intervals of both leave out 0 on the same side, in the caseloads read by both): people, weeks,
        ratings, model, caseloads, fitted, width and its error, low and high as above, mean, mean_error,
        p_excludes_zero, p_excludes_zero_error. Both rhythms rate the same simulated weeks.

    Raises
    ------
    LagwiseError
        For sizes, effects or studies that cannot be simulated.

    Examples
    --------
    >>> import lagwise as lw
    >>> plan = lw.plan(people=12, weeks=8, effect=0.5, caseloads=50, rating_caseloads=0)
    >>> plan.table[["people", "weeks", "effect", "gate"]].values.tolist()
    [[12, 8, 0.5, 'small']]
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
    largest = max((cell[:2] for cell in cells), key=lambda size: (size[0] * size[1], size))
    n = how_many(rating_caseloads, caseloads, plan_of, *largest)
    tasks = [task for cell in cells for task in tasks_of(cell, caseloads, seed)]
    rated = rating_tasks(*largest, n, seed)
    with open_executor(workers, cluster) as executor:
        done = map_tasks(partial(_run, plan_of, assumed), [*tasks, *rated], executor, progress)
    parts, compared = done[: len(tasks)], done[len(tasks) :]
    rows, zero = [], plan_of.outcome.zero
    for cell in cells:
        own = [
            part
            for part, task in zip(parts, tasks, strict=True)
            if (task.people, task.weeks, task.effect) == cell
        ]
        rows.append(summary(cell, pd.concat(own, ignore_index=True), zero))
    found = Plan(pd.DataFrame(rows), plan_of, assumed, caseloads, seed, time.perf_counter() - began)
    return (
        replace(found, ratings=rating_table(*largest, pd.concat(compared, ignore_index=True)))
        if compared
        else found
    )


def _run(study: Study, assumptions: Assumptions, task: Task | RatingTask) -> pd.DataFrame:
    return (
        compare(study, assumptions, task)
        if isinstance(task, RatingTask)
        else simulate(study, assumptions, task)
    )


def tasks_of(cell: tuple[int, int, float], caseloads: int, seed: int) -> list[Task]:
    """A cell cut into tasks of a size that depends on the cell alone, each with a seed of its own."""
    people, weeks, effect = cell
    each = max(1, min(100, CHUNK // (people * weeks)))
    sizes = [min(each, caseloads - i) for i in range(0, caseloads, each)]
    root = np.random.SeedSequence(seed, spawn_key=(zlib.crc32(f"{people} {weeks} {effect!r}".encode()),))
    return [Task(people, weeks, effect, n, s) for n, s in zip(sizes, seeds(root, len(sizes)), strict=True)]


def _sizes(name: str, given: int | Iterable[int], least: int, most: int) -> list[int]:
    values = list(dict.fromkeys(given)) if isinstance(given, Iterable) else [given]
    if not values:
        raise LagwiseError("no number is given", where=name, mend=f"Give at least one, {least} to {most}.")
    for value in values:
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or not least <= value <= most:
            raise LagwiseError(
                f"{value!r} {name} cannot be simulated",
                where=name,
                mend=f"Give whole numbers from {least} to {most}.",
            )
    return [int(value) for value in values]


def _effects(given: float | Iterable[float]) -> list[float]:
    values = list(dict.fromkeys(given)) if isinstance(given, Iterable) else [given]
    if not values:
        raise LagwiseError("no number is given", where="effect", mend="Give at least one, in points.")
    for value in values:
        if not isinstance(value, int | float | np.floating) or not -5 <= value <= 5:
            raise LagwiseError(
                f"a difference of {value!r} points cannot be simulated",
                where="effect",
                mend="Give points from -5 to 5.",
            )
    return list(dict.fromkeys(float(value) + 0.0 for value in values))


def _require_size(cells: list[tuple[int, int, float]], caseloads: int) -> None:
    if not FEWEST <= caseloads <= LARGEST:
        raise LagwiseError(
            f"{caseloads} simulated caseloads per cell",
            where="caseloads",
            mend=f"Give a number from {FEWEST} to {LARGEST}.",
        )
    total = caseloads * sum(people * weeks for people, weeks, _ in cells)
    if total > MOST:
        raise LagwiseError(
            f"this grid asks for {total / 1e6:.0f} million simulated person-weeks; {MOST / 1e6:.0f} million "
            "are the most",
            where="plan",
            mend="Give fewer cells, smaller ones, or fewer caseloads.",
        )
