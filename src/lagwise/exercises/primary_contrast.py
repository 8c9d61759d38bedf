"""Task 5: the planned comparison with its interval, and the sentence that says it."""

from __future__ import annotations

import textwrap
from typing import Any

from lagwise.core.study import INTERVAL
from lagwise.exercises.task import WIDTH, Key, Part, Slip, Task
from lagwise.exercises.world import World

SIZES = ("within", "beyond", "across")
LETTERS = ("a", "b", "c", "d")


def more(world: World) -> str:
    """'weeks trained 50 % above the usual load': the steps of the planned contrast."""
    contrast = world.study.analysis.primary_contrast
    return f"{world.step}s trained {abs(contrast) * 100:g} % {'above' if contrast > 0 else 'below'} the usual load"


def filled(line: str, indent: int) -> str:
    """A sentence broken into lines of readable length, its percentages kept whole."""
    return textwrap.fill(
        line.replace(" %", "\u00a0%"), WIDTH, subsequent_indent=" " * indent, break_on_hyphens=False
    )


def sentences(world: World) -> str:
    """Four sentences on the same numbers, lettered, of which one says what the row says."""
    from lagwise.say.phrases import difference, interval_of

    row, step, steps = world.primary(), world.step, more(world)
    average = float(world.frame["pain_next"].mean())
    share = 100 * abs(row["estimate"]) / average if average else 0.0
    range_ = interval_of(row["low"], row["high"], 2)
    capital, found = steps[:1].upper() + steps[1:], difference(row["estimate"], 2)
    lines = (
        f"{capital} were followed by {share:.0f} % {'less' if row['estimate'] < 0 else 'more'} pain.",
        f"In {100 * INTERVAL:g} of 100 people, pain after such {step}s was {range_.partition('interval ')[2]}.",
        f"{capital} were followed by pain {found} ({range_}) than {step}s at the usual load; "
        f"{row['n_people']:.0f} people, {row['n_steps']:.0f} person-{step}s.",
        f"The difference of {abs(row['estimate']):.2f} points in the {step} after was brought about by the load.",
    )
    return "\n".join(filled(f"({letter}) {line}", 4) for letter, line in zip(LETTERS, lines, strict=True))


def _end(world: World, name: str) -> Key:
    """One number of the primary row; within 0.006."""
    row, fit = world.primary(), world.fit
    held = fit.settings["pain_adjusted"]
    other = "before" if held == "during" else "during"

    def of(**where: Any) -> float:
        found = world.row(term="jump", **where)
        return float("nan") if found is None else float(found[name])

    ends = {
        "estimate": "This is the estimate, the middle. Asked is an end of its interval.",
        "low": "This is the lower end of the interval.",
        "high": "This is the upper end of the interval.",
        "std_error": "This is the standard error, a step on the way to the interval.",
    }
    z = row["std_error"]
    slips = [
        *(Slip(float(row[k]), says) for k, says in ends.items() if k != name),
        Slip(of(contrast="per unit", adjustment="adjusted", pain_adjusted=held), "This is from the row per unit of the jump, a load almost three times the usual. The plan asks about a smaller contrast."),
        Slip(of(contrast=world.contrast, adjustment="crude", pain_adjusted=held), "This is from the crude row: effort, stress, sleep and worry are not held equal in it."),
        Slip(of(contrast=world.contrast, adjustment="adjusted", pain_adjusted=other), "In this row another pain is held equal than the plan asks for."),
        *(Slip(row["estimate"] + sign * z, "This is one standard error away from the estimate. The interval is wider and has columns of its own.") for sign in (-1, 1)),
    ]  # fmt: skip
    says = {
        "estimate": f"So many points of pain in the {world.step} after, at the planned contrast.",
        "low": "The lower end of the range of differences that fit these data.",
        "high": "The upper end of the range of differences that fit these data.",
    }
    return Key(float(row[name]), says[name], tuple(slips), 0.006)


def estimate(world: World) -> Key:
    """The primary estimate."""
    return _end(world, "estimate")


def low(world: World) -> Key:
    """The lower limit of the primary interval."""
    return _end(world, "low")


def high(world: World) -> Key:
    """The upper limit of the primary interval."""
    return _end(world, "high")


def zero(world: World) -> Key:
    """Whether the primary interval includes 0."""
    row = world.primary()
    if row["low"] <= 0 <= row["high"]:
        return Key("yes", "No difference is among those that fit these data. That is not the same as showing that there is none.",
                   (Slip("no", "Look at the signs of the two ends."),))  # fmt: skip
    return Key("no", "A difference of zero fits these data badly. How large the difference is, is another question.", (Slip("yes", "Look at the signs of the two ends."),))  # fmt: skip


def size(world: World) -> Key:
    """Where the primary interval lies against the range called practically zero."""
    row, edge = world.primary(), world.study.analysis.practically_zero
    ends = (row["low"], row["high"])
    if -edge <= ends[0] and ends[1] <= edge:
        value, right = (
            "within",
            "Whatever the difference is, it is smaller than what the plan set out to call a difference in practice.",
        )
    elif ends[0] > edge or ends[1] < -edge:
        value, right = "beyond", "The whole interval lies beyond what the plan called practically zero."
    else:
        value, right = "across", "Differences too small to matter fit these data, and so do larger ones."
    says = {
        "within": "For this, both ends would have to lie inside the range called practically zero.",
        "beyond": "For this, both ends would have to lie outside it, on the same side. Leaving out 0 is not enough.",
        "across": "For this, one end would have to lie inside the range and the other outside, or both outside on different sides.",
    }
    return Key(value, right, tuple(Slip(word, says[word]) for word in SIZES if word != value))


def sentence(world: World) -> Key:
    """Which of the four sentences the row carries; the letter is fixed, the numbers in the sentences are the caseload's."""
    world.primary()
    slips = (
        Slip(
            "a",
            "A percentage alone hides what it is a percentage of: a tenth of little pain is very little. And no interval stands beside it.",
        ),
        Slip(
            "b",
            "The interval is a range for one number, the average difference. It does not say how many people lie where.",
        ),
        Slip("d", "This claims a cause. The row tells a sequence: what came first, and what came after."),
    )
    return Key("c", "Points of the scale come first, with the interval, what was compared, and how many people and steps stand behind it.".replace("steps", f"person-{world.step}s"), slips)  # fmt: skip


TASK = Task(
    5,
    "The planned comparison",
    sentences,
    (
        Part("estimate", "number", estimate), Part("low", "number", low), Part("high", "number", high), Part("zero", "choice", zero, ("yes", "no")),
        Part("size", "choice", size, SIZES), Part("sentence", "choice", sentence, LETTERS),
    ),
    (
        "The plan was fixed before looking, and one row of the table belongs to it. The column primary says which.",
        "Estimate, low and high stand in the same row. To judge a size, compare low and high with the two edges of what the plan calls practically zero, "
        "once below and once above 0.",
        "Other numbers. Estimate 0.7, interval from -0.1 to 1.5, practically zero from -0.5 to 0.5. The interval includes 0; its lower end lies inside the range and "
        "its upper end outside, so it lies across. A sentence that carries this begins with the points and their interval, and says who was counted.",
    ),
)  # fmt: skip
