"""Task 5: the planned comparison with its interval, and the sentence that says it."""

from __future__ import annotations

import textwrap

from lagwise.exercises.task import WIDTH, Found
from lagwise.exercises.world import World
from lagwise.say.exercises import readings

LETTERS = ("a", "b", "c", "d")


def filled(line: str, indent: int) -> str:
    """A sentence broken into lines of readable length, its percentages kept whole."""
    return textwrap.fill(
        line.replace(" %", "\u00a0%"), WIDTH, subsequent_indent=" " * indent, break_on_hyphens=False
    )


def given(world: World) -> str:
    """Four sentences on the same numbers, lettered, of which one says what the row says."""
    average = float(world.frame[world.study.outcome.column].mean())
    lines = readings(world.primary(), world.study, average)
    return "\n".join(filled(f"({letter}) {line}", 4) for letter, line in zip(LETTERS, lines, strict=True))


def _end(world: World, name: str) -> Found:
    """One number of the primary row."""
    row, fit = world.primary(), world.fit
    held, other = world.held(fit)

    def of(contrast: str, adjustment: str, pain: str) -> float:
        where = {"term": world.term, "contrast": contrast, "adjustment": adjustment, "pain_adjusted": pain}
        return world.estimate(fit, **where, number=name)

    ends = {one: float(row[one]) for one in ("estimate", "low", "high", "std_error") if one != name}
    slips = {
        **ends,
        "per_unit": of("per unit", "adjusted", held),
        "crude": of(world.contrast, "crude", held),
        "other": of(world.contrast, "adjusted", other),
        "one_error": [row["estimate"] + sign * row["std_error"] for sign in (-1, 1)],
    }
    return Found(float(row[name]), slips)


def estimate(world: World) -> Found:
    """The primary estimate."""
    return _end(world, "estimate")


def low(world: World) -> Found:
    """The lower limit of the primary interval."""
    return _end(world, "low")


def high(world: World) -> Found:
    """The upper limit of the primary interval."""
    return _end(world, "high")


def zero(world: World) -> Found:
    """Whether the primary interval includes 0."""
    row = world.primary()
    return Found(_zero(row["low"], row["high"]), builds_on=("low", "high"), rework=_zero)


def _zero(low: float, high: float) -> str:
    return "yes" if low <= 0 <= high else "no"


def lies(world: World) -> str:
    """Where the primary interval lies against the range called practically zero: within, beyond or across."""
    row = world.primary()
    return _lies(row["low"], row["high"], world.study.outcome.zero)


def _lies(low: float, high: float, edge: float) -> str:
    if -edge <= low and high <= edge:
        return "within"
    return "beyond" if low > edge or high < -edge else "across"


def size(world: World) -> Found:
    """Where the primary interval lies against the range called practically zero."""
    edge = world.study.outcome.zero
    return Found(lies(world), builds_on=("low", "high"), rework=lambda low, high: _lies(low, high, edge))


def sentence(world: World) -> Found:
    """Which of the four sentences the row carries; the letter is fixed, the numbers in them are the
    caseload's.
    """
    world.primary()
    return Found("c")
