"""How much may be claimed: the one place where the size of a caseload limits what is computed and said."""

from __future__ import annotations

from dataclasses import dataclass

from lagwise.core.claim import said

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

    @property
    def sentence(self) -> str:
        """How many people have enough steps, and what that allows."""
        return said(f"gate.{self.name}", people=self.n_people)


_GATES = {"describe": 5.0, "exploratory": 10.0, "small": 30.0, "full": float("inf")}
"""The gates by name, each with the number that people are fewer than."""


def gate_for(n_people: int) -> Gate:
    """The gate reached by `n_people` people who have steps that enter the primary analysis.

    < 5: description only; 5-9: within-person estimates, exploratory; 10-29: small-sample inference and no
    between-person claim; >= 30: cautious between-person statements.
    """
    name = next(name for name, most in _GATES.items() if n_people < most)
    return Gate(name, n_people, n_people >= 10, name == "exploratory", name == "full")


def flare_gate(onsets: int, informative_people: int) -> bool:
    """Whether a flare model may be fitted."""
    return onsets >= MIN_FLARE_ONSETS and informative_people >= MIN_FLARE_PEOPLE
