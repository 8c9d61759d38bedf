"""What a record lacks to be asked, in words: what is missing, and what would make it possible."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from lagwise.core.numbers import plural
from lagwise.core.words import capital, listed
from lagwise.models.askable import Missing
from lagwise.say.voice import Voice

Said = Callable[[Missing, Voice], str]
FEWEST = "5 people"


def question(voice: Voice) -> str:
    """The main question as a clause: 'whether weeks with higher stress were followed by ...'."""
    higher, lower = voice.question.ways
    then = f"{higher} or {lower} {voice.asked_then}"
    return f"whether {voice.steps} with {voice.more_asked} were followed by {then}"


def lacking(missing: Sequence[Missing], voice: Voice) -> tuple[str, ...]:
    """What is missing, each as a sentence, in the order given."""
    return tuple(f"{capital(LACKS[m.code](m, voice))}." for m in missing)


def needed(missing: Sequence[Missing], voice: Voice) -> tuple[str, ...]:
    """What would make it possible, each as a sentence, in the order given."""
    return tuple(f"{capital(NEEDS[m.code](m, voice))}." for m in missing)


def _named(columns: Sequence[str], last: str = "and") -> str:
    """Columns with their table: 'sets and load_kg of sessions'."""
    tables = dict.fromkeys(c.partition(".")[0] for c in columns)
    names = {t: [c.partition(".")[2] for c in columns if c.partition(".")[0] == t] for t in tables}
    said = [f"{_either(of, last)} of {table}" for table, of in names.items()]
    return f"column{'s' if len(columns) > 1 and last == 'and' else ''} {listed(said)}"


def _either(names: Sequence[str], last: str) -> str:
    return (
        listed(list(names)) if last == "and" or len(names) < 2 else f"{', '.join(names[:-1])} or {names[-1]}"
    )


def _labels(m: Missing, voice: Voice) -> list[str]:
    return [voice.label(c.partition(".")[2]) for c in m.columns]


def _not_rated(m: Missing, voice: Voice) -> str:
    names = _labels(m, voice)
    if not m.any_of:
        return f"{names[0]} was not recorded"
    other = "other " if voice.primary.load_side else ""
    if len(names) == 1:
        return f"{names[0]}, the {other}exposure that the plan names, was not recorded either"
    return f"none of the {other}exposures that the plan names was recorded either ({listed(names)})"


def _rating(m: Missing, voice: Voice) -> str:
    if not m.any_of:
        return f"it takes {_labels(m, voice)[0]} {voice.on} each {voice.step} ({_named(m.columns)})"
    rated, (higher, lower) = _named(m.columns, "or"), voice.question.ways
    one = "one of them" if len(m.columns) > 1 else _labels(m, voice)[0]
    return f"with {one} ({rated}) it could be asked what goes before {higher} or {lower} {voice.asked}"


def _load(m: Missing, voice: Voice) -> str:
    of = "load" if voice.term == "jump" else voice.label(voice.term)
    return f"it takes {of} {voice.on} each {voice.step} ({_named(m.columns)})"


def _short(m: Missing, voice: Voice) -> str:
    longer = f"{plural(m.needs - m.have, voice.step)} more than the longest has now"
    return f"it takes records of at least {plural(m.needs, voice.step)} of so many people, {longer}"


def _rarest(m: Missing, voice: Voice) -> str:
    """More of what is known least; a plan can do without what is neither outcome nor primary exposure."""
    name = m.columns[0].partition(".")[2]
    more = f"{_labels(m, voice)[0]} {voice.on} more {voice.steps} ({_named(m.columns)})"
    asked = (voice.outcome.name, voice.term)
    return more if name in asked or name not in voice.variables else f"{more}, or a plan that leaves it out"


LACKS: dict[str, Said] = {
    "no_rating": lambda m, v: f"no rating of {v.asked} was recorded",
    "no_load": lambda m, v: "no training load is known" if v.term == "jump" else f"no {v.exposure} is known",
    "no_usual": lambda m, v: f"no {v.step} has a usual load to compare with",
    "no_exposure": _not_rated,
    "no_pairs": lambda m, v: f"no rating of {v.asked} is followed by one {v.on} the next {v.step}",
    "few_people": lambda m, v: (
        f"the record is of {plural(m.have, 'person', 'people')}, and below {m.needs} nothing is estimated"
    ),
    "short": lambda m, v: f"the longest record has {plural(m.have, v.step)}",
    "few_complete": lambda m, v: (
        f"all that a model needs is known together in {plural(m.have, 'person', 'people')}"
        f", and below {m.needs} nothing is estimated"
    ),
    "few_steps": lambda m, v: (
        f"all that a model needs is known together in {plural(m.have, f'person-{v.step}')}"
    ),
    "still": lambda m, v: f"{v.exposure} hardly varied within people",
    "outcome_still": lambda m, v: f"{v.asked} was rated the same in every {v.step} that could be used",
}
NEEDS: dict[str, Said] = {
    "no_rating": lambda m, v: f"it takes {v.asked} rated {v.on} each {v.step} ({_named(m.columns)})",
    "no_load": _load,
    "no_usual": lambda m, v: f"a usual load takes {plural(m.needs, v.step)} before, of known load",
    "no_exposure": _rating,
    "no_pairs": lambda m, v: f"it takes ratings {v.on} {v.steps} that follow each other",
    "few_people": lambda m, v: f"it takes {plural(m.needs - m.have, 'more person', 'more people')} at least",
    "short": _short,
    "few_complete": lambda m, v: f"it takes {_rarest(m, v)}",
    "few_steps": lambda m, v: (
        f"it takes {plural(m.needs, f'such person-{v.step}')} in these people, so {_rarest(m, v)}"
    ),
    "still": lambda m, v: f"it takes {FEWEST} or more in whom {v.exposure} changes from {v.step} to {v.step}",
    "outcome_still": lambda m, v: f"it takes {v.steps} in which {v.asked} was rated otherwise",
}
