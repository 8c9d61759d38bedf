"""What a record can be asked, and what is missing for the rest: codes and numbers."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Literal

import pandas as pd

from lagwise.core.columns import LOAD_NEEDS
from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.results import Caseload, Panel
from lagwise.core.terms import whole
from lagwise.models.design import SPARE, Design, available, design, exposure_columns
from lagwise.models.estimable import VARY_PEOPLE

Level = Literal["main", "psychosocial", "description", "nothing"]
Code = Literal[
    "no_rating", "no_load", "no_usual", "no_exposure", "no_pairs", "few_people", "short", "few_complete",
    "few_steps", "still", "outcome_still",
]  # fmt: skip
"""What is missing: a rating of the outcome; load; a usual load to set it against; any other exposure; ratings
in steps that follow each other; people; steps of each of them; people with steps in which all is known; such
steps; variation of the primary exposure within people, or of the outcome."""
PEOPLE = VARY_PEOPLE
"""People below whom nothing is estimated (`lagwise.core.gate`)."""


@dataclass(frozen=True)
class Missing:
    """One thing that would have to be there.

    `columns` are 'table.column', any of them where `any_of`; `have` and `needs`: how much there is, and how
    much it takes, of people (few_people, few_complete) or steps (short, few_steps, no_usual); else 0.
    """

    code: Code
    columns: tuple[str, ...] = ()
    have: int = 0
    needs: int = 0
    any_of: bool = False


@dataclass(frozen=True)
class Askable:
    """What can be asked of a record.

    `level` is 'main' (the plan's main question), 'psychosocial' (not that, but other exposures of the plan),
    'description' (something is known, and nothing can be asked) or 'nothing'. `terms` are the exposures of
    the plan that a model of the outcome can hold. `missing` says what the main question lacks, the first to
    mend first; empty at 'main'. `people` and `steps` are those that such a model would use.
    """

    level: Level
    terms: tuple[str, ...] = ()
    missing: tuple[Missing, ...] = ()
    people: int = 0
    steps: int = 0


def askable(panel: Panel, caseload: Caseload | None = None) -> Askable:
    """What can be asked of a panel under its plan, by the rules that models go by.

    Parameters
    ----------
    panel : Panel
    caseload : Caseload, optional
        Names the empty columns that load lacks; without it all that its measure is made of are named.
    """
    plan = panel.study.analysis
    data = _designed(panel)
    terms = _held(data, plan.exposures) if data is not None else ()
    size = (data.n_people, data.n_steps) if data is not None and terms else (0, 0)
    if plan.primary in terms:
        return Askable("main", terms, (), *size)
    known = _known(panel)
    level: Level = "psychosocial" if terms else "description" if known else "nothing"
    return Askable(level, terms, tuple(_missing(panel, caseload, data)), *size)


def _designed(panel: Panel) -> Design | None:
    """The rows of the model of all exposures that are known, or None where no row is complete."""
    kept, _ = available(panel, panel.study.analysis.exposures)
    try:
        return design(panel, exposures=kept) if kept else None
    except ModelError:
        return None


def _held(data: Design, exposures: tuple[str, ...]) -> tuple[str, ...]:
    """The exposures that a model of these rows can tell something of."""
    if gate_for(data.n_people).name == "describe" or data.spare < SPARE or (data.y == data.y[0]).all():
        return ()
    return tuple(term for term in exposures if exposure_columns(term)[0] in data.names)


def _known(panel: Panel) -> bool:
    """Whether anything is known of any step."""
    frame, rated = panel.frame, [v.name for v in panel.study.variables.values() if v.rated]
    there = [name for name in ("load", "effort", panel.study.outcome.name, *rated) if name in frame]
    return bool(frame[there].notna().any(axis=None) or frame["state"].ne("unknown").any())


def _missing(panel: Panel, caseload: Caseload | None, data: Design | None) -> list[Missing]:
    """What the main question lacks: columns that are empty; else people; else steps; else variation."""
    frame, study = panel.frame, panel.study
    asked, primary = study.outcome, study.analysis.primary
    out = []
    if not frame[asked.name].notna().any():
        out.append(Missing("no_rating", (_column(panel, asked.name),)))
    if not (frame["load"].gt(0) if whole(primary) else frame[primary].notna()).any():
        if study.variables[primary].load_side:
            out.append(Missing("no_load", _load_columns(panel, caseload, primary)))
        else:
            out.append(Missing("no_exposure", (_column(panel, primary),)))
    if any(m.code in ("no_load", "no_exposure") for m in out):
        others = [t for t in study.analysis.exposures if t != primary]
        if not available(panel, others)[0]:
            rated = tuple(_column(panel, t) for t in others if study.variables[t].rated)
            out += [Missing("no_exposure", rated, any_of=True)] if rated else []
    return out + _size(panel, data, bool(out))


def _size(panel: Panel, data: Design | None, columns_lack: bool) -> list[Missing]:
    """What the record is too small for, or too uniform; only people and lengths where whole columns lack."""
    frame, study = panel.frame, panel.study
    asked, primary = study.outcome, study.analysis.primary
    lengths = frame.groupby("person").size()
    people, needed = len(lengths), steps_needed(panel)
    long = int((lengths >= needed).sum())
    out = [Missing("few_people", have=people, needs=PEOPLE)] if people < PEOPLE else []
    if long < min(PEOPLE, people):
        out.append(Missing("short", have=int(lengths.max()), needs=needed))
    if out or columns_lack:
        return out
    if not frame[[asked.name, asked.column]].notna().all(axis=1).any():
        return [Missing("no_pairs", (_column(panel, asked.name),))]
    if not frame[primary].notna().any():
        return [Missing("no_usual", needs=study.load.usual_needs)]
    if data is None or data.n_people < PEOPLE:
        have = 0 if data is None else data.n_people
        return [Missing("few_complete", (_column(panel, _rarest(panel)),), have, PEOPLE)]
    if data.spare < SPARE:
        needs = data.n_steps - data.spare + SPARE
        return [Missing("few_steps", (_column(panel, _rarest(panel)),), data.n_steps, needs)]
    if (data.y == data.y[0]).all():
        return [Missing("outcome_still", (_column(panel, asked.name),))]
    return [Missing("still", (_column(panel, primary),))]


def steps_needed(panel: Panel) -> int:
    """The shortest record, in steps, with which such people, or five, could answer the main question.

    It takes the steps of a usual load, those that a model of the exposures needs, and the one after the last.
    """
    study, people = panel.study, max(panel.frame["person"].nunique(), PEOPLE)
    load = whole(study.analysis.primary)
    terms = {study.analysis.primary, *available(panel, study.analysis.exposures)[0]}
    columns = len(terms) + load + 2  # usual load; the earlier outcome and the running step
    return 1 + ceil((SPARE + columns) / people) + study.outcome.lag + (study.load.usual_needs if load else 0)


def _rarest(panel: Panel) -> str:
    """What the model needs and is known in the fewest steps."""
    study = panel.study
    kept, _ = available(panel, study.analysis.exposures)
    known = panel.frame[[study.outcome.name, *kept]].notna().sum()
    return str(known.idxmin())


def _from_weeks(panel: Panel) -> bool:
    return "source" in panel.blocks and bool((panel.blocks["source"] == "weeks").any())


def _column(panel: Panel, name: str) -> str:
    """Where an input column of a panel's variable stands, as 'table.column'."""
    if name == "near_failure_share":
        name = "effort"
    if _from_weeks(panel):
        return f"weeks.{'load' if whole(name) else name}"
    if whole(name):
        return f"sessions.{LOAD_NEEDS[panel.study.load.measure][0]}"
    return f"{'sessions' if name == 'effort' else 'checkins'}.{name}"


def _load_columns(panel: Panel, caseload: Caseload | None, primary: str) -> tuple[str, ...]:
    """The empty columns among those that load (or effort) is made of; all where that is not known."""
    if not whole(primary) or _from_weeks(panel):
        return (_column(panel, primary),)
    needs = LOAD_NEEDS[panel.study.load.measure]
    sessions = pd.DataFrame() if caseload is None else caseload.sessions
    empty = [name for name in needs if name not in sessions or sessions[name].isna().all()]
    return tuple(f"sessions.{name}" for name in empty or needs)
