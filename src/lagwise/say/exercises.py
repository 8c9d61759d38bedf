"""What is said to students: of answers, beside what tasks.toml says, and the texts that tasks work on."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from lagwise.core.numbers import decimals
from lagwise.core.study import INTERVAL, Study
from lagwise.core.words import capital
from lagwise.document.markdown import Answer
from lagwise.say.phrases import difference, fixed, interval_of
from lagwise.say.voice import Voice

RIGHT, NOT_YET, UNANSWERED = "right", "not yet", "not answered yet"
CARRIED = "right from your own number"
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
    "one_task": "a result is of one task; hand in what its checks returned",
    # Answers that are not right.
    "choose_again": "Read what is given once more, then choose again.",
    "turned": "The size fits, but the sign is turned. Look again at what is taken from what.",
    "close": "Close, but further off than rounding explains; an answer within {tolerance:.2g} is taken.",
    "carried": "It follows from your {on}; {on} itself is not right yet.",
    "other": "This does not follow from what is given. A hint may help.",
    "too_much": "The words '{words}' say more than the findings do. {why}",
}
LACKS = {
    "claims": "It says more than the findings do, which tell what came after what and nothing else.",
    "advice": "It says what somebody will feel or should do; the findings tell what was seen.",
    "others": "It sets people against each other. Compared were {steps} of the same person.",
    "words": "Say in words what was compared with what; numbers alone do not tell.",
    "step": "The record counts in {steps}, and the sentence does not say so yet.",
    "compared": "Which {steps} it is about is not in it yet: those of more {exposure} than usual, or less?",
    "outcome": "It does not say yet that {outcome} is what differed.",
    "same": "It speaks of the same {step}; looked at was the {step} after.",
    "later": "That {outcome} was looked at afterwards, in the {step} after, is not in it yet.",
    "not_later": "It speaks of a later {step}; looked at was the same {step}.",
    "percent": "One of its percentages is not of the planned comparison; a difference is said in {points}.",
    "size": "The size of the difference, in {points}, is not in it yet.",
    "unit": "The number stands without its unit.",
    "way": "In which direction {outcome} differed is not in it yet.",
    "turned": "The size fits, but its direction is turned round.",
    "limits": "A difference alone sounds surer than it is: both ends of its interval are not in it yet.",
    "sides": "Both ends of the interval are there; on which side of 0 each of them lies is not.",
    "counts": "The number of people is not the one of the table.",
    "people": "How many people or person-{steps} it rests on is not in it yet.",
}
"""What is said of a sentence that lacks something; `Voice.fill` fills in the caseload's words."""
CALLED = {
    "a whole table": "DataFrame EffectTable",
    "several values": "Series ndarray list tuple set dict",
    "a number": "int float",
    "a command without its brackets": "function builtin_function_or_method method",
}
"""What an answer is called, and the types it is then of."""
RESULT_LINE = re.compile(
    r"lagwise task (?P<task>\d+): (?P<right>\d+) of (?P<of>\d+) right"
    r"(?:, (?P<own>\d+) right from an own number)?(?:, (?P<not_possible>\d+) not possible)?; "
    r"data (?P<data>[0-9a-f]{8}); word (?P<word>[a-z]+-[a-z]+)"
)
"""How that line is read again."""
RESULT = {
    "line": "lagwise task {task}: {right} of {of} right",
    "own": ", {n} right from an own number",
    "not_possible": ", {n} not possible",
    "data": "; data {data}",
    "word": "; word {word}",
    "changed": "the word does not go with the line; something in it was changed",
    "of_another": "these are the data of {other}",
    "unknown": "these are the data of nobody in the list",
    "nobody": "{who} is not in the list",
}
"""The line that a student hands in, and what is remarked on one that came in."""
CHECK_WORDS = (
    "amber ash birch blue brass calm cedar clear copper coral dawn deep dusk early fern flint frost gold "
    "green grey hazel ivory late linen lunar maple moss oak pale quiet silver slate",
    "badger bay beaver brook cliff coast crane dale delta dove falcon field finch ford grove harbor heron "
    "hill isle lake lark meadow otter owl pine ridge river robin shore stone valley wren",
)
PLANTED = {
    2: "it claims a cause",
    4: "its range is not the interval of the table",
    6: "it is surer than the interval",
    7: "it tells one person what to do",
    9: "it speaks of people where weeks were compared",
}
"""Sentences that the findings do not carry, whatever the caseload, and why."""
SIZE = {
    "within": "The whole interval lies within {edge} {unit} either way, which the plan had called "
    "practically zero.",
    "beyond": "The whole interval lies beyond {edge} {unit}, {below}.",
    "across": "The interval reaches across {edge} {unit}, {below}, so its size stays open.",
}
SURE = {
    True: "{Exposure} therefore has nothing to do with {asked}.",
    False: "This proves that {the_exposure} decides {decided}.",
}
BELOW = "below which the plan had called a difference practically zero"


def folded(hints: Sequence[str]) -> Answer:
    """Hints, one after the other, each folded under its number."""
    opening = "**Stuck?** Three hints, each saying more than the one before. Click to open one."
    fold = "<details><summary>Hint {level}</summary>\n\n{hint}\n\n</details>"
    return Answer("\n\n".join([opening, *(fold.format(level=n, hint=h) for n, h in enumerate(hints, 1))]))


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
    voice = Voice.of(study)
    step, steps, estimate = voice.step, capital(voice.planned), row["estimate"]
    share = 100 * abs(estimate) / average if average else 0.0
    places = max(2, decimals(row["low"], row["high"]))
    range_ = interval_of(row["low"], row["high"], places, voice.unit)
    between, size = range_.partition("interval ")[2], difference(estimate, places, voice.unit)
    return (
        f"{steps} {_came(voice)} {share:.0f} % {'less' if estimate < 0 else 'more'} {voice.asked}.",
        f"In {100 * INTERVAL:g} of 100 people, {voice.asked} after such {step}s was {between}.",
        f"{steps} {_came(voice)} {voice.asked} {size} ({range_}) than {_usual(voice)}; "
        f"{row['n_people']:.0f} people, {row['n_steps']:.0f} person-{step}s.",
        f"The difference of {fixed(abs(estimate), places)} {voice.unit} in the {_when(voice)} was brought "
        f"about by {'the ' if voice.primary.whole else ''}{voice.exposure}.",
    )


def write_up(row: Mapping[str, Any], study: Study, lies: str) -> tuple[str, ...]:
    """A short write-up of the planned comparison, with the `PLANTED` sentences in it.

    `lies` says where its interval lies against what is practically zero: within, beyond or across.
    """
    voice, zero = Voice.of(study), study.outcome.zero
    edge, places = max(fixed(zero, 1), f"{zero:g}", key=len), max(2, decimals(row["low"], row["high"]))
    step, steps, asked, unit = voice.step, capital(voice.planned), voice.asked, voice.unit
    low, high, amount = row["low"], row["high"], fixed(abs(row["estimate"]), places)
    near = [fixed(row["estimate"] + sign * row["std_error"], places) for sign in (-1, 1)]
    contrast, of_load = study.analysis.primary_contrast, voice.primary.whole
    side, than = ("above", "more") if contrast > 0 else ("below", "less")
    planned, exposure = f"{abs(contrast) * 100:g} % {side}", voice.exposure
    cause = f"{than.capitalize()} {exposure}"
    order, others = f"change their {exposure}", f"People with {than} {exposure}"
    if of_load:
        cause = f"Training {planned} the usual load"
        order, others = f"not train {planned} the usual load", f"People who train {than}"
    return (
        f"{row['n_people']:.0f} people with {row['n_steps']:.0f} person-{step}s entered the main comparison.",
        f"{cause} led to a change of {amount} {unit} in the {asked} of the {_when(voice)}.",
        f"{steps} {_came(voice)} {asked} {difference(row['estimate'], places, unit)} "
        f"({interval_of(low, high, places, unit)}) than {_usual(voice)}, at the same {asked} and with the "
        "other recorded exposures held equal.",
        f"Differences from {near[0]} to {near[1]} {unit} fit these data; smaller and larger ones do not.",
        SIZE[lies].format(edge=edge, unit=unit, below=BELOW),
        SURE[low <= 0 <= high].format(
            asked=asked,
            decided="how much it hurts" if voice.of_pain else f"about the {asked}",
            Exposure=capital(exposure),
            the_exposure=f"the {exposure}" if of_load else exposure,
        ),
        f"A person with such {asked} should {order}.",
        f"That {exposure} came first and {asked} after is a sequence; whether one brought about the other is "
        "not shown.",
        f"{others} than others therefore differ from them in {asked} by {amount} {unit}.",
    )


def _came(voice: Voice) -> str:
    return "were followed by" if voice.question.lag else "went along with"


def _when(voice: Voice) -> str:
    return f"{voice.step} after" if voice.question.lag else f"same {voice.step}"


def _usual(voice: Voice) -> str:
    return voice.steps_against(voice.term)


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
