"""Many caseloads of one cell of the grid, each analysed by the primary model of a report."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from lagwise.challenges.work import seeds
from lagwise.core.errors import ModelError
from lagwise.core.gate import flare_gate, gate_for
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import Design, design
from lagwise.models.estimable import estimable
from lagwise.models.estimates import picked
from lagwise.models.ladder import climb_many, require_spread
from lagwise.models.rows import column_of, limits, planned_contrast
from lagwise.models.within import fit_each_within
from lagwise.panel import panel_from_blocks
from lagwise.planning.assumptions import Assumptions, process_of
from lagwise.synthetic.fast import blocks_of
from lagwise.synthetic.observe import Records, observe
from lagwise.synthetic.process import Weeks, run
from lagwise.synthetic.spec import Spec

GATE_COLUMNS = ("n_people", "n_steps", "onsets", "flare_people", "informative")
ANSWER_COLUMNS = ("estimate", "std_error", "low", "high")


@dataclass(frozen=True)
class Task:
    """Some caseloads of one cell: `people` and `weeks` of each, the true difference in points per primary
    contrast, how many, and their seed.
    """

    people: int
    weeks: int
    effect: float
    caseloads: int
    seed: np.random.SeedSequence


def simulate(study: Study, assumptions: Assumptions, task: Task) -> pd.DataFrame:
    """One row per caseload.

    Returns
    -------
    DataFrame
        n_people and n_steps that enter the primary model; estimate, std_error, low and high of the primary
        contrast in points (NaN where there is none: below 5 people, or a model that cannot be fitted);
        onsets, flare_people (with at least one onset) and informative (people with an onset and an at-risk
        week without one) of the flare model; gate; flare_model (True where one may be fitted).
    """
    panel = panel_of_many(study, assumptions, task)
    out = pd.DataFrame(0, index=range(task.caseloads), columns=list(GATE_COLUMNS))
    answers = np.full((task.caseloads, len(ANSWER_COLUMNS)), np.nan)
    main = _design(panel, panel.study.outcome.column)
    if main is not None:
        at = _caseload(main, task.people)
        out["n_steps"] = np.bincount(at, minlength=task.caseloads)
        first = np.flatnonzero(np.diff(main.person, prepend=-1))
        out["n_people"] = np.bincount(at[first], minlength=task.caseloads)
        answers = _answers(study, main, np.searchsorted(at, np.arange(task.caseloads + 1)))
    flares = _design(panel, "flare_next")
    if flares is not None:
        _count_flares(out, _caseload(flares, task.people), flares)
    out[list(ANSWER_COLUMNS)] = answers
    out["gate"] = [gate_for(n).name for n in out["n_people"]]
    out["flare_model"] = [flare_gate(n, k) for n, k in zip(out["onsets"], out["informative"], strict=True)]
    return out


def answers_of(study: Study, panel: Panel, task: Task) -> np.ndarray:
    """(caseloads, 4) estimate, std_error, low and high of the primary contrast by the mixed model, NaN where
    there is none.
    """
    main = _design(panel, panel.study.outcome.column)
    if main is None:
        return np.full((task.caseloads, len(ANSWER_COLUMNS)), np.nan)
    return _answers(study, main, np.searchsorted(_caseload(main, task.people), np.arange(task.caseloads + 1)))


def panel_of_many(study: Study, assumptions: Assumptions, task: Task) -> Panel:
    """The people of all of a task's caseloads in one panel; codes S0, S1 ... in order, `task.people` to a
    caseload.

    People do not know of each other, and a between-person part only shifts by a constant when caseloads share
    a panel, so a caseload's rows of this panel give the same slopes as a panel of its own.
    """
    spec = process_of(assumptions, study, task.people, task.weeks, task.effect)
    happened, recorded, lost, rated = (np.random.default_rng(s) for s in seeds(task.seed, 4))
    weeks = run(spec, happened, task.people * task.caseloads)
    records = with_gaps(observe(weeks, spec, recorded), weeks, spec, assumptions.missing_weeks, lost)
    blocks = blocks_of(weeks, records, rated, study)
    if study.pain.rated == "start":
        blocks["pain_before"] = blocks[f"pain_{study.pain.summary}"]
    return panel_from_blocks(blocks, study)


def with_gaps(records: Records, weeks: Weeks, spec: Spec, share: float, rng: np.random.Generator) -> Records:
    """Records without whole weeks, `share` of them on average: a week's log odds of being lost rise by
    `missing_of_pain` per point of pain.

    Pain is taken from the person's own level, and the base rate is set so that the share holds over all
    weeks.
    """
    if share == 0:
        return records
    slope = spec.missing_of_pain * (weeks.pain - weeks.level[:, None])
    base = np.log(share / (1 - share))
    for _ in range(20):
        chance = 1 / (1 + np.exp(-(base + slope)))
        base += (share - chance.mean()) / np.mean(chance * (1 - chance))
    kept = rng.random(weeks.pain.shape) >= 1 / (1 + np.exp(-(base + slope)))
    return replace(records, made=records.made & kept[:, :, None], logged=records.logged & kept)


def _design(panel: Panel, outcome: str) -> Design | None:
    try:
        return design(panel, outcome=outcome)
    except ModelError:
        return None


def _caseload(d: Design, people: int) -> np.ndarray:
    """(n,) 0-based caseload of every row; ascending, since codes are numbers filled up with zeros."""
    return np.array([int(code[1:]) // people for code in d.people])[d.person]


def _count_flares(out: pd.DataFrame, caseload: np.ndarray, d: Design) -> None:
    per = pd.DataFrame({"caseload": caseload, "person": d.person, "y": d.y}).groupby(["caseload", "person"])[
        "y"
    ]
    people = per.agg(["sum", "size"]).reset_index()
    people["any"], people["both"] = people["sum"] > 0, (people["sum"] > 0) & (people["sum"] < people["size"])
    sums = (
        people.groupby("caseload")[["sum", "any", "both"]].sum().reindex(out.index, fill_value=0).astype(int)
    )
    out[["onsets", "flare_people", "informative"]] = sums.to_numpy()


def _answers(study: Study, d: Design, ends: np.ndarray) -> np.ndarray:
    """(caseloads, 4) estimate, std_error, low and high of the primary contrast; rows of caseload i are
    ends[i]:ends[i + 1].
    """
    column, (_, size) = column_of(study.analysis.primary), planned_contrast(study)
    found = np.full((len(ends) - 1, 4), np.nan)
    ready: dict[tuple[str, ...], list[tuple[int, CrossProducts]]] = {}
    few: list[tuple[int, Design]] = []
    for i, (start, end) in enumerate(itertools.pairwise(ends)):
        part = _part(d, start, end)
        if part is None or column not in part.names:
            continue
        if gate_for(part.n_people).within_only:
            few.append((i, part))
        else:
            Z = np.column_stack([np.ones(part.n_steps), part.X[:, part.names.index(column)]])
            ready.setdefault(part.names, []).append((i, CrossProducts.build(part.y, part.X, Z, part.person)))
    for (i, _), fitted in zip(few, fit_each_within([part for _, part in few]), strict=True):
        if fitted is not None and column in fitted.names:
            found[i] = _with_limits(*fitted.contrast(column, size))
    for names, batch in ready.items():
        weights = picked(names, column, size)
        for (i, _), one in zip(batch, climb_many([cross for _, cross in batch]), strict=True):
            if one is not None:
                c = one.contrast(weights)
                found[i] = _with_limits(float(c.estimate[0]), float(c.std_error[0]), float(c.df[0]))
    return found


def _part(d: Design, start: int, end: int) -> Design | None:
    """The design of some rows, or None where nothing may be estimated from them."""
    people, person = np.unique(d.person[start:end], return_inverse=True)
    if gate_for(len(people)).name == "describe":
        return None
    keep, _ = estimable(d.X[start:end, 1:], d.names[1:])
    part = replace(
        d, y=d.y[start:end], X=np.column_stack([np.ones(end - start), d.X[start:end, 1:][:, keep]]),
        person=person, names=("intercept", *(d.names[1 + k] for k in keep)),
        people=tuple(d.people[k] for k in people), frame=pd.DataFrame(),
    )  # fmt: skip
    try:
        require_spread(part)
    except ModelError:
        return None
    return part


def _with_limits(estimate: float, std_error: float, df: float) -> tuple[float, float, float, float]:
    return estimate, std_error, *limits(estimate, std_error, df)
