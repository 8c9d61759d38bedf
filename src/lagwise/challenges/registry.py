"""The list of challenges, in the order they are run and shown."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from typing import Protocol, cast

from lagwise.challenges.context import Context, Found
from lagwise.core.claim import Claim
from lagwise.core.errors import LagwiseError


class Entry(Protocol):
    """The shape of a challenge: its name, and `run`, whose docstring states what it does and its verdict's
    rule.

    A function `applies(study)` beside it may give the reason why a study does not ask what it is about, ''
    where it does, and `HERE = True` says that it is for the first process: it needs the posterior, which is
    too large to be sent, or shares its own work. `run` gives numbers and enums; `lagwise.say` puts them into
    words. One from outside holds its words itself (`lagwise.say.challenge.attempt`).
    """

    NAME: str

    @staticmethod
    def run(context: Context) -> Found | Claim:
        """Run the challenge."""
        ...


NAMES = (
    "same_week_answer",
    "does_pain_drive_load",
    "rating_error",
    "pre_exposure_outcome",
    "shuffled_load",
    "random_usual_load",
    "unrelated_load",
    "leave_one_person_out",
    "missing_steps",
    "prior",
    "unmeasured_confounding",
    "other_reasonable_choices",
    "known_truth_at_your_size",
    "regression_to_the_mean",
    "measurement",
)
"""Modules of this package, in the order they are run and shown."""
REGISTRY = tuple(cast(Entry, import_module(f"{__package__}.{name}")) for name in NAMES)


def named(names: Iterable[str]) -> tuple[Entry, ...]:
    """The challenges with these names, in registry order. LagwiseError when one is not in the registry."""
    wanted = [names] if isinstance(names, str) else list(names)
    known = {entry.NAME for entry in REGISTRY}
    for name in wanted:
        if name not in known:
            raise LagwiseError(
                f"there is no challenge called {name!r}", mend=f"Use one of {', '.join(sorted(known))}."
            )
    return tuple(entry for entry in REGISTRY if entry.NAME in wanted)
