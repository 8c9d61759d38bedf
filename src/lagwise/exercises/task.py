"""The shape of a task: its parts, what each expects, the slips that are known, and what a check came to."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from lagwise.say.exercises import RIGHT

if TYPE_CHECKING:
    from lagwise.exercises.world import World

Kind = Literal["number", "count", "choice", "sentences", "text"]

WIDTH = 96
"""Characters in a line of a printed check."""


@dataclass(frozen=True)
class Slip:
    """A known way of going astray: the answer it gives, and a sentence on what seems to have happened.

    The sentence names the step that went astray and never the value that is asked for.
    """

    value: Any
    says: str


@dataclass(frozen=True)
class Key:
    """What a part expects of one caseload.

    `value` is accepted within `tolerance` either way (numbers only); `right` says why it is right; of
    `slips`, the one whose value lies nearest to the answer is named, within the same tolerance. `builds_on`
    are earlier parts that `rework` makes the value from.
    """

    value: Any
    right: str
    slips: tuple[Slip, ...] = ()
    tolerance: float = 0.0
    builds_on: tuple[str, ...] = ()
    rework: Callable[..., Any] | None = None


@dataclass(frozen=True)
class Found:
    """What the function of a part works out from one caseload; the sentences to it stand in tasks.toml.

    `slips` maps the names of known slips to the values they lead to, each a value or a list of values; where
    it is None they are the other choices. `words` stand in the braces of sentences; `tolerance` takes the
    place of the table's. `builds_on` names earlier parts, and `rework` makes the value from answers to them.
    """

    value: Any
    slips: Mapping[str, Any] | None = None
    words: Mapping[str, Any] = field(default_factory=dict)
    tolerance: float | None = None
    builds_on: tuple[str, ...] = ()
    rework: Callable[..., Any] | None = None


@dataclass(frozen=True)
class Part:
    """One thing asked: the name it is answered under, the kind of answer, and how its key is worked out from
    a caseload.

    `choices` are the legal words of a 'choice'.
    """

    name: str
    kind: Kind
    key: Callable[[World], Key]
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Task:
    """One exercise: `given` shows what it works on, `parts` are asked one after the other, `hints` say more
    from one to the next.
    """

    number: int
    title: str
    given: Callable[[World], Any]
    parts: tuple[Part, ...]
    hints: tuple[str, str, str]

    def part(self, name: str) -> Part | None:
        """The part answered under this name, or None."""
        return next((part for part in self.parts if part.name == name), None)


@dataclass(frozen=True)
class Result:
    """What one answer came to: `state` is right, right from the student's own earlier number, not yet, not
    answered yet or not possible with this caseload.
    """

    part: str
    state: str
    says: str = ""

    def __str__(self) -> str:
        line = f"{self.part}: {self.state}." + (f" {self.says}" if self.says else "")
        return textwrap.fill(
            line, WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False
        )


@dataclass(frozen=True)
class Checked:
    """What a check came to, one result for each answer that was handed in; printed, it reads as lines of
    text. `data` is the fingerprint of the caseload.
    """

    number: int
    title: str
    results: tuple[Result, ...]
    data: str = ""

    @property
    def passed(self) -> bool:
        """Whether every answer is right."""
        return all(result.state == RIGHT for result in self.results)

    def __str__(self) -> str:
        return "\n".join(str(result) for result in self.results)

    def __repr__(self) -> str:
        return str(self)
