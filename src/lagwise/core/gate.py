"""How much may be claimed: the one place where the size of a caseload limits what is computed and said."""

from __future__ import annotations

from dataclasses import dataclass

MIN_FLARE_ONSETS = 10
MIN_FLARE_PEOPLE = 5


@dataclass(frozen=True)
class Gate:
    """What a caseload of `n_people` people with usable steps may be used for.

    `name` is one of describe, exploratory, small, full.
    """

    name: str
    n_people: int
    mixed: bool
    within_only: bool
    between_claims: bool
    sentence: str


_GATES: tuple[tuple[float, str, str], ...] = (
    (5, "describe", "below 5 the caseload is described and nothing is estimated"),
    (10, "exploratory", "with 5 to 9 the estimates are within-person and exploratory"),
    (30, "small", "with 10 to 29 small-sample inference is used and nothing is claimed about {apart}"),
    (float("inf"), "full", "from 30 on, cautious statements about {apart} are made"),
)
"""Fewer people than the number: the gate's name, and what it allows in words."""


def gate_for(n_people: int) -> Gate:
    """The gate reached by `n_people` people who have steps that enter the primary analysis.

    < 5: description only; 5-9: within-person estimates, exploratory; 10-29: small-sample inference and no
    between-person claim; >= 30: cautious between-person statements.
    """
    who = "1 person has" if n_people == 1 else f"{n_people} people have"
    name, may = next((name, may) for most, name, may in _GATES if n_people < most)
    may = may.format(apart="differences between people")
    sentence = f"{who} enough steps for the main question; {may}."
    return Gate(name, n_people, n_people >= 10, name == "exploratory", name == "full", sentence)


def flare_gate(onsets: int, informative_people: int, called: str = "flare onset") -> str:
    """Empty when a flare model may be fitted; else the sentence that says why not."""
    if onsets >= MIN_FLARE_ONSETS and informative_people >= MIN_FLARE_PEOPLE:
        return ""
    are, people = "" if onsets == 1 else "s", "person" if informative_people == 1 else "people"
    return (
        f"{onsets} {called}{are} in {informative_people} informative {people}, counting steps with all that "
        f"is held equal known; a flare model needs at least {MIN_FLARE_ONSETS} onsets and {MIN_FLARE_PEOPLE} "
        "people."
    )
