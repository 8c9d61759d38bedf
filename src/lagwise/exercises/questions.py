"""Short questions inside the notebooks, each with a check of its own."""

from __future__ import annotations

import tomllib
from functools import partial
from importlib import import_module
from importlib.resources import files
from pathlib import Path
from typing import Any

from lagwise.core.errors import LagwiseError
from lagwise.core.results import Caseload
from lagwise.exercises.answers import unanswered
from lagwise.exercises.calls import world
from lagwise.exercises.judge import judge
from lagwise.exercises.registry import key_of
from lagwise.exercises.task import Found, Part, Result
from lagwise.exercises.world import World
from lagwise.say.exercises import UNANSWERED

QUESTIONS: dict[str, dict[str, Any]] = tomllib.loads(
    (files("lagwise.say") / "questions.toml").read_text(encoding="utf-8")
)


def ask(question: str, caseload: str | Path | Caseload, answer: Any, /) -> Result:
    """Check the answer to a short question of a notebook against the caseload.

    Parameters
    ----------
    question : str
        Its name, as '04-held-equal'.
    caseload : path or Caseload
        Looked at only when there is an answer.
    answer
        None and the three dots stand for 'not answered yet'.

    Raises
    ------
    LagwiseError
        When there is no such question, or the folder cannot be read.
    """
    how = QUESTIONS.get(question)
    if how is None:
        of_it = [name for name in QUESTIONS if name[:2] == question[:2]] or list(QUESTIONS)
        raise LagwiseError(f"there is no question {question!r}", mend=f"There are {', '.join(of_it)}.")
    if unanswered(answer):
        return Result(question, UNANSWERED)
    return judge(part_of(question), answer, world(caseload))


def part_of(question: str) -> Part:
    """A question as a part of its own, with what it expects."""
    how = QUESTIONS[question]
    if "answer" in how:
        find = partial(_always, how["answer"])
    else:
        module, _, name = how["found"].rpartition(".")
        find = getattr(import_module(f"lagwise.exercises.{module}"), name)
    return Part(question, how["kind"], partial(key_of, {}, how, find), tuple(how.get("choices", ())))


def _always(answer: str, here: World) -> Found:
    return Found(answer)


def known_loads(here: World) -> Found:
    """Known loads behind the first usual load of the first person."""
    mine = here.loads[here.loads["person"] == here.loads["person"].iloc[0]].reset_index(drop=True)
    first = mine["usual"].first_valid_index()
    if first is None:
        raise LagwiseError(f"no {here.step} of the first person has a usual load")
    back = here.study.load.usual_steps
    n = int(mine["load"].iloc[max(0, first - back) : first].notna().sum())
    return Found(n, {"with_itself": n + 1, "window": back}, {"back": back})


def known_more_often(here: World) -> Found:
    """Whether the outcome or the load is known in more steps."""
    rated, load = (int(here.loads[name].notna().sum()) for name in (here.study.outcome.name, "load"))
    return Found("same" if rated == load else "rating" if rated > load else "load")


def ratings(here: World) -> Found:
    """Whole ratings on the scale of the outcome."""
    asked = here.study.outcome.variable
    if asked.low is None or asked.high is None or asked.unit == "hour":
        raise LagwiseError(f"{asked.label} is not rated on a scale of points")
    width = round(asked.high - asked.low)
    return Found(width + 1, {"width": width, "cuts": width - 1})


def edge(here: World) -> Found:
    """What the plan calls practically zero, either way."""
    asked = here.study.outcome
    return Found(float(asked.zero), {"whole": 2 * asked.zero, "important": asked.important})


def events(here: World) -> Found:
    """Events of the log."""
    table = here.panel.events
    if not len(table):
        raise LagwiseError("it records no events")
    return Found(
        len(table), {"people": int(table["person"].nunique()), "kinds": int(table["kind"].nunique())}
    )
