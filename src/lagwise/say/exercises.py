"""What is said to students: of answers, beside what tasks.toml says, and the texts that tasks work on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lagwise.core.study import INTERVAL, Study
from lagwise.core.words import capital
from lagwise.say.phrases import difference, fixed, interval_of
from lagwise.say.voice import Voice

RIGHT, NOT_YET, UNANSWERED = "right", "not yet", "not answered yet"
IMPOSSIBLE = "not possible with this caseload"
ONE_NUMBER = "Write one number, like 12.5, without quotes and without a unit."
TEXTS = {
    # Answers that cannot be understood.
    "no_sentence": "Write a sentence in quotes; this is {this}.",
    "two_numbers": "These are two numbers. Decimals are written with a point, like 12.5; a comma separates "
    "two numbers.",
    "text": f"This is text. {ONE_NUMBER}",
    "logical": f"This is True or False. {ONE_NUMBER}",
    "no_number": f"This is {{this}}. {ONE_NUMBER}",
    "missing": "This is a missing value and not a number. Look whether the right row was taken.",
    "no_count": "A count is asked for, and a count is a whole number.",
    "no_choice": "Answer with one of {choices}, in quotes.",
    "no_sentences": "Write the numbers of the sentences in curly brackets, like {{1, 2}}.",
    # Answers that are not right.
    "choose_again": "Read what is given once more, then choose again.",
    "turned": "The size fits, but the sign is turned. Look again at what is taken from what.",
    "close": "Close, but further off than rounding explains; an answer within {tolerance:.2g} is taken.",
    "other": "This does not follow from what is given. A hint may help.",
    "too_much": "The words '{words}' say more than the findings do. {why}",
    "no_size": "The size of the difference, in points, is not in it yet.",
    "no_limits": "A difference alone sounds surer than it is: both ends of its interval are not in it yet.",
    "no_people": "How many people or person-weeks it rests on is not in it yet.",
    "turned_round": "The size fits, but '{wrong}' is turned round.",
}
CALLED = {
    "a whole table": "DataFrame EffectTable",
    "several values": "Series ndarray list tuple set dict",
    "a number": "int float",
    "a command without its brackets": "function builtin_function_or_method method",
}
"""What an answer is called, and the types it is then of."""
PLANTED = {
    2: "it claims a cause",
    4: "its range is not the interval of the table",
    6: "it is surer than the interval",
    7: "it tells one person what to do",
    9: "it speaks of people where weeks were compared",
}
"""Sentences that the findings do not carry, whatever the caseload, and why."""
SIZE = {
    "within": "The whole interval lies within {edge} points either way, which the plan had called "
    "practically zero.",
    "beyond": "The whole interval lies beyond {edge} points, {below}.",
    "across": "The interval reaches across {edge} points, {below}, so its size stays open.",
}
SURE = {
    True: "Load therefore has nothing to do with pain.",
    False: "This proves that the load decides how much it hurts.",
}
BELOW = "below which the plan had called a difference practically zero"


def marked(n: int, hit: int, left: int) -> str:
    """Of `n` sentences marked, how many say too much indeed; and how many that do are `left`."""
    words = f"Of the {n} you marked, {hit} {_are(hit)} not carried by the findings"
    words += f" and {n - hit} {_are(n - hit)}." if n > hit else "."
    return words + (f" {left} more {_are(left)} still unmarked." if left else "")


def unknown_aside(n: int) -> str:
    """What becomes of unknown steps in a usual load; '' where there is none."""
    return f"; the {n} unknown {_are(n)} left out and not counted as zero" if n else ""


def readings(row: Mapping[str, Any], study: Study, average: float) -> tuple[str, ...]:
    """Four sentences on the row of the planned comparison, of which the third says what it says; `average`
    is that of the outcome.
    """
    step, steps = study.step, capital(Voice.of(study).planned)
    share = 100 * abs(row["estimate"]) / average if average else 0.0
    range_ = interval_of(row["low"], row["high"], 2)
    between = range_.partition("interval ")[2]
    return (
        f"{steps} were followed by {share:.0f} % {'less' if row['estimate'] < 0 else 'more'} pain.",
        f"In {100 * INTERVAL:g} of 100 people, pain after such {step}s was {between}.",
        f"{steps} were followed by pain {difference(row['estimate'], 2)} ({range_}) than {step}s at the "
        f"usual load; {row['n_people']:.0f} people, {row['n_steps']:.0f} person-{step}s.",
        f"The difference of {abs(row['estimate']):.2f} points in the {step} after was brought about by the "
        "load.",
    )


def write_up(row: Mapping[str, Any], study: Study, lies: str) -> tuple[str, ...]:
    """A short write-up of the planned comparison, with the `PLANTED` sentences in it.

    `lies` says where its interval lies against what is practically zero: within, beyond or across.
    """
    step, steps, edge = study.step, Voice.of(study).planned, fixed(study.analysis.practically_zero, 1)
    low, high, amount = row["low"], row["high"], fixed(abs(row["estimate"]), 2)
    near = [fixed(row["estimate"] + sign * row["std_error"], 2) for sign in (-1, 1)]
    contrast = study.analysis.primary_contrast
    side, than = ("above", "more") if contrast > 0 else ("below", "less")
    planned = f"{abs(contrast) * 100:g} % {side}"
    return (
        f"{row['n_people']:.0f} people with {row['n_steps']:.0f} person-{step}s entered the main comparison.",
        f"Training {planned} the usual load led to a change of {amount} points in the pain of the {step} "
        "after.",
        f"{capital(steps)} were followed by pain {difference(row['estimate'], 2)} "
        f"({interval_of(low, high, 2)}) than {step}s at the usual load, at the same pain and with the other "
        "recorded exposures held equal.",
        f"Differences from {near[0]} to {near[1]} points fit these data; smaller and larger ones do not.",
        SIZE[lies].format(edge=edge, below=BELOW),
        SURE[low <= 0 <= high],
        f"A person with such pain should not train {planned} the usual load.",
        "That load came first and pain after is a sequence; whether one brought about the other is not "
        "shown.",
        f"People who train {than} than others therefore differ from them in pain by {amount} points.",
    )


def means(label: str, step: str, found: Mapping[str, float]) -> dict[str, str]:
    """What the four numbers are that the within and the between part of an exposure are made of."""
    return {
        "rating": f"{label} of one person in {step} {found['step']:.0f}",
        "own": f"mean of this person's {found['n']:.0f} {step}s",
        "people": f"mean of the means of {found['n_people']:.0f} people, each counted once",
        "steps": f"mean of all {step}s of everybody",
    }


def _are(n: int) -> str:
    return "is" if n == 1 else "are"
