"""The three things a student calls: what a task gives, a check, and a hint."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

from lagwise.core.errors import LagwiseError
from lagwise.core.results import Caseload
from lagwise.document.markdown import Answer, escape
from lagwise.exercises.answers import unanswered, understood
from lagwise.exercises.judge import judge
from lagwise.exercises.registry import TASKS
from lagwise.exercises.task import Checked, Result, Task
from lagwise.exercises.world import World
from lagwise.say.exercises import RIGHT, folded
from lagwise.say.notebooks import reading, retold


def check(task: int, caseload: str | Path | Caseload, /, **answers: Any) -> Checked:
    """Compare answers with what the caseload gives.

    Parameters
    ----------
    task : int
        Its number, 1 to 9.
    caseload : path or Caseload
    **answers
        Part -> answer. None and the three dots stand for 'not answered yet'. Where a part builds on an
        earlier one that is handed in before it, an answer that follows from the student's own earlier number
        is told so.

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
    asked, here = task_of(task), world(caseload)
    names = ", ".join(part.name for part in asked.parts)
    if not answers:
        raise LagwiseError("no answer was handed in", where=f"task {task}", mend=f"Its parts are {names}.")
    results: dict[str, Result] = {}
    earlier: dict[str, tuple[Any, bool]] = {}
    for name, answer in answers.items():
        part = asked.part(name)
        if part is None:
            raise LagwiseError(
                f"it has no part called {name!r}", where=f"task {task}", mend=f"Its parts are {names}."
            )
        results[name] = judge(part, answer, here, earlier)
        value, _ = understood(part, answer)
        if not unanswered(answer) and value is not None:
            earlier[name] = value, results[name].state == RIGHT
    return Checked(asked.number, asked.title, tuple(results.values()), here.caseload.data_hash)


def given(task: int, caseload: str | Path | Caseload, /) -> Any:
    """What a task works on, made from the caseload: a DataFrame, or sentences as text to print.

    Raises
    ------
    LagwiseError
        When there is no such task, the folder cannot be read, or the caseload has nothing for this task; the
        message says why.
    """
    asked, here = task_of(task), world(caseload)
    try:
        return asked.given(here)
    except LagwiseError as error:
        raise LagwiseError(error.what, where=f"task {task} is not possible with this caseload") from error


def hint(task: int, level: int = 1, caseload: str | Path | Caseload | None = None, /) -> str:
    """A hint of a task, in the words of a caseload where one is given; levels 1, 2 and 3 say more and more,
    and none gives the answer away.

    Raises
    ------
    LagwiseError
        When there is no such task or level.
    """
    asked = task_of(task)
    if level not in (1, 2, 3):
        raise LagwiseError(f"there is no hint {level!r}", where=f"task {task}", mend="There are 1, 2 and 3.")
    text = asked.hints[level - 1]
    return text if caseload is None else retold(text, world(caseload).study)


def hints(task: int, caseload: str | Path | Caseload, /) -> Answer:
    """All three hints of a task, in the words of a caseload, each to be opened on a click.

    Raises
    ------
    LagwiseError
        When there is no such task, or the folder cannot be read.
    """
    return folded([escape(hint(task, level, caseload)) for level in (1, 2, 3)])


def words(caseload: str | Path | Caseload, /) -> Answer:
    """In what steps a caseload counts and what its plan asks about, and what to read for the words of the
    tasks where these are others.

    Raises
    ------
    LagwiseError
        When the folder cannot be read.
    """
    return Answer(reading(world(caseload).caseload))


def task_of(number: int) -> Task:
    """The task of this number."""
    found = next((task for task in TASKS if task.number == number), None)
    if found is None:
        raise LagwiseError(f"there is no task {number!r}", mend=f"There are 1 to {len(TASKS)}.")
    return found


def world(caseload: str | Path | Caseload, /) -> World:
    """The caseload as the tasks see it, with its panel, its models and what else they need: `panel`, `fit`,
    `flares`, `shuffled`. Each is made once, when it is first asked for, and `check` uses the same.

    Raises
    ------
    LagwiseError
        When the folder cannot be read, or what is asked for cannot be made from it; the message says why.
    """
    if isinstance(caseload, Caseload):
        return _kept(_Same(caseload))
    folder = Path(caseload)
    there = (path for pattern in ("*", "*/*") for path in sorted(folder.glob(pattern)) if path.is_file())
    stamps = ((str(path), path.stat().st_mtime_ns, path.stat().st_size) for path in there)
    return _kept(_Same(_read(folder, tuple(stamps))))


@lru_cache(maxsize=4)
def _read(folder: Path, stamps: tuple[tuple[str, int, int], ...]) -> Caseload:
    """A folder, read again when one of its files was written again."""
    from lagwise.caseload import read

    return read(folder)


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


@lru_cache(maxsize=4)
def _kept(same: _Same) -> World:
    """Answers are checked one after the other; a model is fitted for the first of them and not again until
    files or plan change.
    """
    return World(same.caseload)
