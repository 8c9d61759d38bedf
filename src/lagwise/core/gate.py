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


def gate_for(n_people: int) -> Gate:
    """The gate reached by `n_people` people who have steps that enter the primary analysis.

    < 5: description only; 5-9: within-person estimates, exploratory; 10-29: small-sample inference and no
    between-person claim; >= 30: cautious between-person statements.
    """
    who = "1 person has" if n_people == 1 else f"{n_people} people have"
    if n_people < 5:
        return Gate(
            "describe",
            n_people,
            False,
            False,
            False,
            f"{who} enough steps for the main question; below 5 the caseload is described and nothing is estimated.",
        )
    if n_people < 10:
        return Gate(
            "exploratory",
            n_people,
            False,
            True,
            False,
            f"{who} enough steps for the main question; with 5 to 9 the estimates are within-person and exploratory.",
        )
    if n_people < 30:
        return Gate(
            "small",
            n_people,
            True,
            False,
            False,
            f"{who} enough steps for the main question; with 10 to 29 small-sample inference is used and nothing is claimed about differences between people.",
        )
    return Gate("full", n_people, True, False, True,
                f"{who} enough steps for the main question; from 30 on, cautious statements about differences between people are made.")  # fmt: skip


def flare_gate(onsets: int, informative_people: int, called: str = "flare onset") -> str:
    """Empty when a flare model may be fitted; else the sentence that says why not."""
    if onsets >= MIN_FLARE_ONSETS and informative_people >= MIN_FLARE_PEOPLE:
        return ""
    return (
        f"{onsets} {called}{'' if onsets == 1 else 's'} in {informative_people} informative {'person' if informative_people == 1 else 'people'}, "
        f"counting steps with all that is held equal known; "
        f"a flare model needs at least {MIN_FLARE_ONSETS} onsets and {MIN_FLARE_PEOPLE} people."
    )
