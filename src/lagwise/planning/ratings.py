"""The same simulated records rated weekly and rated daily, each read twice: ratings as they are, and with
their error allowed for.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.challenges.work import seeds
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.models.rated_data import LEAST_STEPS, rated_data
from lagwise.models.rated_fit import fit_joint
from lagwise.models.rows import limits, planned_contrast
from lagwise.planning.assumptions import Assumptions
from lagwise.planning.simulate import Task, answers_of, panel_of_many
from lagwise.planning.summary import mean, mean_error, middle, share

RHYTHMS = ("weekly", "daily")
FEWEST, LARGEST = 10, 5000
"""Caseloads read by the joint model, with either rhythm."""
OF_100 = 3
"""Of 100 caseloads of a cell, those that are read by the joint model where nothing else is asked for: a fit
takes some twenty times as long as the mixed model's.
"""
BESIDE = 5
"""Caseloads read by the mixed model for each that the joint model reads as well."""
EACH = 5
"""Caseloads of one task that the joint model reads."""
COLUMNS = (
    "people", "weeks", "ratings", "model", "caseloads", "fitted", "width", "width_error", "width_low",
    "width_high", "mean", "mean_error", "p_excludes_zero", "p_excludes_zero_error",
)  # fmt: skip


@dataclass(frozen=True)
class RatingTask:
    """Caseloads with a true difference of 0, all rated `ratings`; the first `joint` of them are read by the
    joint model as well.
    """

    task: Task
    ratings: str
    joint: int


def how_many(asked: int | None, caseloads: int, study: Study, people: int, weeks: int) -> int:
    """Caseloads that the joint model reads with either rhythm; 0 where a report's headline would not be the
    joint model's, or where few caseloads are simulated.

    Raises
    ------
    LagwiseError
        When a number is asked for that cannot be simulated.
    """
    if asked is not None and asked != 0 and not FEWEST <= asked <= LARGEST:
        raise LagwiseError(
            f"{asked} caseloads rated weekly and daily",
            where="rating_caseloads",
            mend=f"Give 0 for none, or a number from {FEWEST} to {LARGEST}.",
        )
    if why_not(study, people, weeks):
        return 0
    n = min(caseloads * OF_100 // 100, LARGEST) if asked is None else asked
    return n if n >= FEWEST else 0


def why_not(study: Study, people: int, weeks: int) -> str:
    """Why rating rhythms cannot be compared for records of this size: not_load, few_people or few_weeks;
    empty where they can.
    """
    if not study.variables[study.analysis.primary].whole:
        return "not_load"
    gate = gate_for(people)
    if gate.within_only or not gate.mixed:
        return "few_people"
    return "few_weeks" if weeks < LEAST_STEPS else ""


def rating_tasks(people: int, weeks: int, n: int, seed: int) -> list[RatingTask]:
    """Tasks of both rhythms, in order; in the n-th of either the same weeks happen to the same people."""
    sizes = [min(EACH, n - i) for i in range(0, n, EACH)]
    root = np.random.SeedSequence(seed, spawn_key=(zlib.crc32(f"ratings {people} {weeks}".encode()),))
    drawn = list(zip(sizes, seeds(root, len(sizes)), strict=True))
    return [RatingTask(Task(people, weeks, 0.0, BESIDE * k, s), how, k) for how in RHYTHMS for k, s in drawn]


def compare(study: Study, assumptions: Assumptions, job: RatingTask) -> pd.DataFrame:
    """One row per caseload of a task: ratings, joint (True where the joint model was tried), and estimate,
    low and high of either model in points per primary contrast, NaN where it gave none.
    """
    task = job.task
    panel = panel_of_many(study, replace(assumptions, ratings=job.ratings), task)
    out = pd.DataFrame(answers_of(study, panel, task)[:, [0, 2, 3]], columns=["estimate", "low", "high"])
    found = np.full((task.caseloads, 3), np.nan)
    for i, one in enumerate(caseloads_of(panel, task.people, job.joint)):
        found[i] = _joint(one)
    out[["joint_estimate", "joint_low", "joint_high"]] = found
    return out.assign(ratings=job.ratings, joint=np.arange(task.caseloads) < job.joint)


def caseloads_of(panel: Panel, people: int, n: int) -> list[Panel]:
    """The first `n` caseloads of a panel of many as panels of their own; between-person parts stay those of
    the whole, and the joint model uses none.
    """
    at = {name: getattr(panel, name)["person"].str[1:].astype(int) // people for name in ("frame", "blocks")}
    return [
        replace(
            panel, **{name: getattr(panel, name)[own == i].reset_index(drop=True) for name, own in at.items()}
        )
        for i in range(n)
    ]


def _joint(panel: Panel) -> tuple[float, float, float]:
    primary = panel.study.analysis.primary
    try:
        data = rated_data(panel)
        if primary not in data.of_pain:
            return (np.nan,) * 3
        found = fit_joint(data)
    except (ModelError, np.linalg.LinAlgError):
        return (np.nan,) * 3
    if not found.usable:
        return (np.nan,) * 3
    estimate, std_error, df = found.contrast(primary, planned_contrast(panel.study)[1])
    return (estimate, *limits(estimate, std_error, df))


def rating_table(people: int, weeks: int, found: pd.DataFrame) -> pd.DataFrame:
    """`Plan.ratings` from the rows of `compare`: for either rhythm the mixed model, the joint model, and both
    at once.
    """
    rows = []
    for how in RHYTHMS:
        own = found[found["ratings"] == how]
        tried = own[own["joint"]]
        above, below = tried[["low", "joint_low"]] > 0, tried[["high", "joint_high"]] < 0
        same = above.all(axis=1) | below.all(axis=1)
        both: dict[str, object] = {"caseloads": len(tried), **share("p_excludes_zero", same)}
        both["fitted"] = int(tried[["estimate", "joint_estimate"]].notna().all(axis=1).sum())
        models = {"mixed": _row(own, ""), "joint": _row(tried, "joint_"), "both": both}
        rows += [{"ratings": how, "model": name, **row} for name, row in models.items()]
    return pd.DataFrame(rows).assign(people=people, weeks=weeks)[list(COLUMNS)]


def _row(found: pd.DataFrame, prefix: str) -> dict[str, object]:
    estimate, low, high = (found[f"{prefix}{name}"] for name in ("estimate", "low", "high"))
    known = estimate.notna()
    return {
        "caseloads": len(found), "fitted": int(known.sum()), **middle("width", (high - low)[known]),
        "mean": mean(estimate[known]), "mean_error": mean_error(estimate[known]),
        **share("p_excludes_zero", (low > 0) | (high < 0)),
    }  # fmt: skip
