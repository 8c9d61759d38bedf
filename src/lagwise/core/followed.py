"""What followed one kind of event: the result that `lagwise.follow` returns."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import pandas as pd

from lagwise.core.claim import Claim
from lagwise.core.results import Challenges, Picture, Shown
from lagwise.core.variable import Variable


@dataclass(frozen=True, repr=False)
class Followed(Shown):
    """The rating after an event against what it would have been without one, as comparable steps went on.

    `effects` is the effect table: engines risk_set (steps of the same history; also its outcome model alone),
    did and before_after; term the kind of event; contrast 'mean of steps 1-4 after' and each step. `people`
    has one row per event and is about single people: personal data. `course` has the mean rating by steps
    from the event, and what was expected without it. `tests` are the attempts to break the comparison,
    `figure` the picture of `course`. `reason` is none, picture, exploratory or estimate, by how many people
    there are; `sentences` say what was found, what before-and-after says, and why the events were made.
    """

    _shown: ClassVar = "changes.shown.followed"

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
