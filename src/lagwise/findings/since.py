"""What changed since an earlier report, as numbers and codes: records, plan, estimates, verdicts, looks."""

from __future__ import annotations

from typing import Literal

from lagwise.findings.facts import Part, Scalar

Kind = Literal["primary", "exposure", "onset", "event"]
Verdict = Literal["within", "beyond", "cannot_tell", "new", "gone"]
Caution = Literal[
    "plan", "edited", "codes", "left", "order", "shared", "version", "settings", "withheld", "same"
]
CAUTIONS: tuple[Caution, ...] = (
    "same", "plan", "edited", "codes", "left", "order", "shared", "version", "settings", "withheld"
)  # fmt: skip
"""What weakens a comparison, the weightiest first."""


class Look(Part):
    """One report of a chain: the day it was made, the SHA-256 of its findings and the person-steps behind its
    primary row, 0 where it had none.
    """

    made_on: str
    digest: str
    steps: int


class Counted(Part):
    """A count of the record in the earlier and in this report; None where it is unknown."""

    name: str
    old: int | None
    new: int | None


class Choice(Part):
    """A choice of the plan or a setting, by its key: as it was and as it is now, None where it was not
    there.
    """

    key: str
    old: Scalar
    new: Scalar


class Limits(Part):
    """An estimate with its interval, on the scale of its row, and what it rests on."""

    estimate: float
    low: float | None
    high: float | None
    n_people: int
    n_steps: int


class Move(Part):
    """How one estimate moved.

    `question` is 0 for the main question and i for the i-th of the further ones; `subject` the exposure or
    the kind of event. `difference` is new less old, and `reach` how far from 0 new data alone take it in 95
    of 100 such pairs; of odds ratios both are of their logarithms. `verdict` is 'within' or 'beyond' what new
    data explain, 'cannot_tell', 'new' or 'gone'; `reason` the code of why ('' for a plain comparison).
    """

    kind: Kind
    question: int
    subject: str
    outcome: str
    engine: str
    level: str
    pain_adjusted: str
    contrast: str
    contrast_size: float | None
    scale: str
    old: Limits | None
    new: Limits | None
    difference: float | None = None
    reach: float | None = None
    verdict: Verdict
    reason: str = ""


class Ended(Part):
    """How a challenge ended in either report; '' where it was not run."""

    name: str
    title: str
    old: str
    new: str


class Since(Part):
    """What changed since an earlier report.

    `looks` are the reports before this one, the oldest first, the last of them the one compared with (unless
    that is this one itself);
    `intervals` counts those of the main question that were looked at, this one included, and `chance` is how
    probable it is that at least one of them leaves out a true 0. `came`
    and `left` count people, `gone` names the codes of those who left, `edited_steps` counts earlier steps of
    `edited_people` whose rating or load now reads otherwise; None where courses are not told. `until` is the
    last month recorded, in the earlier and in this report; `renewed` counts people who have values that they
    did not have, or had otherwise.
    """

    looks: tuple[Look, ...]
    intervals: int
    chance: float | None
    cautions: tuple[Caution, ...]
    counts: tuple[Counted, ...]
    came: int | None
    left: int | None
    gone: tuple[str, ...] = ()
    edited_steps: int | None = None
    edited_people: int | None = None
    renewed: int | None = None
    until: tuple[str, str] = ("", "")
    plan: tuple[Choice, ...]
    settings: tuple[Choice, ...]
    moves: tuple[Move, ...]
    verdicts: tuple[Ended, ...]

    @property
    def times(self) -> int:
        """How often the question has been asked, this report included."""
        return len(self.looks) + 1
