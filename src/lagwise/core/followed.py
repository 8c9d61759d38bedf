"""What followed one kind of event: the result that `lagwise.follow` returns."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from lagwise.core.claim import Claim
from lagwise.core.numbers import interval, number
from lagwise.core.results import Challenges, Picture
from lagwise.core.show_results import BETWEEN, challenges_card
from lagwise.core.variable import Variable
from lagwise.core.words import capital
from lagwise.document.card import card, card_html, table


@dataclass(frozen=True)
class Followed:
    """The rating after an event against what it would have been without one, as comparable steps went on.

    `effects` is the effect table: engines risk_set (steps of the same history; also its outcome model alone),
    did and before_after; term the kind of event; contrast 'mean of steps 1-4 after' and each step. `people`
    has one row per event and is about single people: personal data. `course` has the mean rating by steps
    from the event, and what was expected without it. `tests` are the attempts to break the comparison,
    `figure` the picture of `course`. `reason` is none, picture, exploratory or estimate, by how many people
    there are; `sentences` say what was found, what before-and-after says, and why the events were made.
    """

    kind: str
    outcome: Variable
    reason: str
    effects: pd.DataFrame
    people: pd.DataFrame
    course: pd.DataFrame
    tests: Challenges
    figure: Picture | None
    sentences: tuple[str, ...]
    claim: Claim = field(repr=False)
    step: str = "step"

    def __repr__(self) -> str:
        lines = (f"Followed: {self.outcome.label} after {self.kind.replace('_', ' ')}", *self.sentences)
        return "\n  ".join([*lines, ".effects, .people, .course, .tests, .figure"])

    def _repr_html_(self) -> str:
        """What was found in words, and the mean of the first steps by each way of comparing."""
        mean = self.effects[self.effects["contrast"].str.startswith("mean")]
        rows = [
            (
                r["model"],
                number(r["estimate"], r["low"], r["high"]),
                interval(r["low"], r["high"]),
                r["n_people"],
            )
            for r in mean.to_dict("records")
        ]
        columns = ("way of comparing", f"difference, {self.outcome.unit}s", BETWEEN, "events")
        inner = table("Mean of the first steps after", columns, rows, right=columns[1:])
        title = f"{self.outcome.label} after {self.kind.replace('_', ' ')}"
        tried = challenges_card(self.tests).blocks if len(self.tests) else ()
        return card_html(card(capital(title), self.sentences, inner, tried))
