"""The list of tasks, in the order a student meets them: what tasks.toml says and what each task's module
works out.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from functools import partial
from importlib import import_module
from importlib.resources import files
from typing import Any

from lagwise.core.words import capital
from lagwise.exercises.task import Found, Key, Part, Slip, Task
from lagwise.exercises.world import World
from lagwise.say.notebooks import retold
from lagwise.say.voice import Voice

_SAID = tomllib.loads((files("lagwise.say") / "tasks.toml").read_text(encoding="utf-8"))


def _task(number: int, said: Mapping[str, Any]) -> Task:
    module = import_module(f"lagwise.exercises.{said['module']}")
    parts = tuple(
        Part(
            name,
            how["kind"],
            partial(key_of, said, how, getattr(module, name)),
            tuple(how.get("choices", ())),
        )
        for name, how in said["part"].items()
    )
    first, second, third = said["hints"]
    return Task(number, said["title"], module.given, parts, (first, second, third))


def key_of(
    said: Mapping[str, Any], how: Mapping[str, Any], find: Callable[[World], Found], world: World
) -> Key:
    """What a part expects of a caseload: what is worked out, with the sentences of its table to it."""
    found = world.found(find)
    voice = Voice.of(world.study)
    named = {
        "outcome": voice.asked,
        "Outcome": capital(voice.asked),
        "unit": voice.unit,
        "against": voice.steps_against(voice.term),
        "a_rating": voice.a_rating,
    }
    words = {"step": world.step, **named, **found.words}
    sentences = {**said.get("slips", {}), **how.get("slips", {})}

    def filled(text: str) -> str:
        return retold(text, world.study).format(**words)

    def sentence(name: str) -> str:
        """What is said of a slip; 'looks.all' is of a usual load that looks like the mean of all steps."""
        form, _, misread = name.partition(".")
        if misread:
            return _SAID["misread"][form].format(filled(_SAID["misread"][misread]))
        return filled(sentences[name])

    others = {word: word for word in how.get("choices", ()) if word != found.value}
    values = others if found.slips is None else found.slips
    slips = [(name, v) for name, vs in values.items() for v in (vs if isinstance(vs, list) else [vs])]
    right = how["right"] if isinstance(how["right"], str) else how["right"][found.value]
    tolerance = how.get("tolerance", 0.0) if found.tolerance is None else found.tolerance
    tolerance *= min(1.0, world.study.outcome.scale) if how.get("of_outcome") else 1.0
    return Key(
        found.value,
        filled(right),
        tuple(Slip(v, sentence(n)) for n, v in slips),
        tolerance,
        found.builds_on,
        found.rework,
    )


TASKS: tuple[Task, ...] = tuple(_task(number, said) for number, said in enumerate(_SAID["task"], start=1))
