"""The three things a student calls: what a task gives, a check, and a hint."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

from lagwise.core.errors import LagwiseError
from lagwise.core.results import Caseload
from lagwise.exercises.judge import judge
from lagwise.exercises.registry import TASKS
from lagwise.exercises.task import Checked, Task
from lagwise.exercises.world import World


def check(task: int, caseload: str | Path | Caseload, /, **answers: Any) -> Checked:
    """Compare answers with what the caseload gives.

    Parameters
    ----------
    task : int
        Its number, 1 to 9.
    caseload : path or Caseload
    **answers
        Part -> answer. None and the three dots stand for 'not answered yet'.

    Returns
    -------
    Checked
        Prints as one line for each answer: right, not yet (with what seems to have happened), not answered
        yet, or not possible with this caseload (with the reason). Numbers are taken within the part's
        tolerance, which allows for rounding to the decimals asked.

    Raises
    ------
    LagwiseError
        When there is no such task or part, or the folder cannot be read.
    """
    asked, world = _task(task), _world(caseload)
    names = ", ".join(part.name for part in asked.parts)
    if not answers:
        raise LagwiseError("no answer was handed in", where=f"task {task}", mend=f"Its parts are {names}.")
    results = []
    for name, answer in answers.items():
        part = asked.part(name)
        if part is None:
            raise LagwiseError(
                f"it has no part called {name!r}", where=f"task {task}", mend=f"Its parts are {names}."
            )
        results.append(judge(part, answer, world))
    return Checked(asked.number, asked.title, tuple(results))


def given(task: int, caseload: str | Path | Caseload, /) -> Any:
    """What a task works on, made from the caseload: a DataFrame, or sentences as text to print.

    Raises
    ------
    LagwiseError
        When there is no such task, the folder cannot be read, or the caseload has nothing for this task; the
        message says why.
    """
    asked, world = _task(task), _world(caseload)
    try:
        return asked.given(world)
    except LagwiseError as error:
        raise LagwiseError(error.what, where=f"task {task} is not possible with this caseload") from error


def hint(task: int, level: int = 1, /) -> str:
    """A hint of a task; levels 1, 2 and 3 say more and more, and none gives the answer away.

    Raises
    ------
    LagwiseError
        When there is no such task or level.
    """
    asked = _task(task)
    if level not in (1, 2, 3):
        raise LagwiseError(f"there is no hint {level!r}", where=f"task {task}", mend="There are 1, 2 and 3.")
    return asked.hints[level - 1]


def _task(number: int) -> Task:
    found = next((task for task in TASKS if task.number == number), None)
    if found is None:
        raise LagwiseError(f"there is no task {number!r}", mend=f"There are 1 to {len(TASKS)}.")
    return found


def _world(caseload: str | Path | Caseload) -> World:
    from lagwise.caseload import read

    read_in = caseload if isinstance(caseload, Caseload) else read(caseload)
    return _kept(_Same(read_in))


class _Same:
    """A caseload that equals another one of the same bytes, plan and place."""

    def __init__(self, caseload: Caseload) -> None:
        self.caseload = caseload
        self.key = (
            caseload.data_hash,
            caseload.study.plan_hash(),
            str(caseload.study.tables),
            caseload.folder,
        )

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


@lru_cache(maxsize=2)
def _kept(same: _Same) -> World:
    """Answers are checked one after the other; a model is fitted for the first of them and not again until
    files or plan change.
    """
    return World(same.caseload)
