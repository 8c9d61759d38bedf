"""The parts of the findings: numbers, tables, fits and pictures as typed, frozen, JSON-able values."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from lagwise.core.engine import Engine, named
from lagwise.core.question import Outcome
from lagwise.core.study import asked_of
from lagwise.core.variable import Variable

PANELS_AT_MOST = 192
"""People who have a panel of their own; of more, these are taken evenly through their codes."""
Scalar = bool | int | float | str | None


class Part(BaseModel):
    """A frozen part of the findings; unknown keys are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, protected_namespaces=())

    @classmethod
    def like(cls, value: Any, **other: Any) -> Self:
        """A part with the fields that a value has under the same names, but for those that are given."""
        same = {k: getattr(value, k) for k in cls.model_fields if k not in other and hasattr(value, k)}
        return cls(**same, **other)


class Number(Part):
    """One number with its unit, its denominator `n`, the share value / n of a count, and the call that made
    it.
    """

    value: float | int | None
    unit: str = ""
    n: int | None = None
    share: float | None = None
    of: str = ""
    made_by: str = ""


class Table(Part):
    """A small table: column names, units of those that have one, rows, and the call that made it."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Scalar, ...], ...]
    units: dict[str, str] = Field(default_factory=dict)
    made_by: str = ""

    @model_validator(mode="after")
    def _whole(self) -> Table:
        uneven = any(len(row) != len(self.columns) for row in self.rows)
        if uneven or len(set(self.columns)) < len(self.columns):
            raise ValueError("every row needs one value for each column, and every column a name of its own")
        return self

    def __len__(self) -> int:
        return len(self.rows)

    def records(self) -> list[dict[str, Any]]:
        """Rows as dictionaries keyed by column."""
        return [dict(zip(self.columns, row, strict=True)) for row in self.rows]

    def column(self, name: str) -> list[Any]:
        """Values of one column; empty when the table has no such column."""
        if name not in self.columns:
            return []
        at = self.columns.index(name)
        return [row[at] for row in self.rows]


class StudyFacts(Part):
    """What the plan says of the study, and the plan itself as plain values with its hash."""

    title: str
    setting: str
    ethics: str
    plan: dict[str, Any]
    plan_hash: str
    recorded_plan_hash: str
    changes: tuple[str, ...] = ()
    consent_single_person_plots: bool = False

    def of(self, section: str, key: str) -> Any:
        """One planned choice, such as `of("load", "measure")`."""
        return self.plan[section][key]

    @property
    def outcome(self) -> Outcome:
        """What is asked about, with its margins."""
        return asked_of(self.plan)[0]

    @property
    def variables(self) -> Mapping[str, Variable]:
        """The contract's variables and the study's own ratings."""
        return asked_of(self.plan)[1]


class Provenance(Part):
    """What made these findings: versions, platform, seeds, settings, durations in seconds and the data's
    hash.
    """

    lagwise: str
    python: str
    platform: str
    packages: dict[str, str]
    data_hash: str
    made_on: str
    settings: dict[str, Any]
    seconds: dict[str, float]


class GateFacts(Part):
    """How much may be claimed at this caseload's size (`lagwise.core.gate`)."""

    name: str
    n_people: int
    between_claims: bool
    sentence: str


class PersonEvent(Part):
    """Something that changed for one person: its kind, the first step whose rating is after it, the last step
    that it lasts to, and why it was made ('' where not said).
    """

    kind: str
    start: int
    until: int | None = None
    because: str = ""


class PersonSeries(Part):
    """One person's calendar-complete course; lists run over steps first .. first + n - 1.

    `state` is t (trained), r (rest) or u (unknown) per step; `pain` is the rating asked about, in its own
    units; `load` in the study's load unit; `jump` in log units; `ratings` counts pain ratings; `flare` marks
    where a turn for the worse (of pain: a flare-up) begins by the ratings, `reported` the person's own word;
    `effort` is the step's mean effort, 0-10, empty where none was asked; `events` are what changed; `began`
    is the date of the first step, '' where it has none.
    """

    person: str
    state: str
    pain: tuple[float | None, ...]
    load: tuple[float | None, ...]
    jump: tuple[float | None, ...]
    ratings: tuple[int, ...]
    flare: tuple[bool, ...]
    reported: tuple[bool | None, ...]
    effort: tuple[float | None, ...] = ()
    events: tuple[PersonEvent, ...] = ()
    began: str = ""

    @model_validator(mode="after")
    def _whole(self) -> PersonSeries:
        told = (self.pain, self.load, self.jump, self.ratings, self.flare, self.reported)
        lists = (*told, self.effort or self.state)
        if any(len(one) != len(self.state) for one in lists):
            raise ValueError("every list of a person needs one value for each step")
        return self

    def __len__(self) -> int:
        return len(self.state)


ABOUT_THE_BASE = frozenset({"random_usual_load"})
"""Challenges of what load is set against, and not of whether load came before."""
ESTIMAND = ("outcome", "term", "level", "adjustment", "contrast", "scale")
"""What two rows must share to answer the same question."""


class EffectRow(Part):
    """One row of the tidy effect table (`lagwise.core.effects.EFFECTS`)."""

    engine: str
    model: str
    outcome: str
    term: str
    level: str
    adjustment: str
    pain_adjusted: str
    primary: bool
    contrast: str
    scale: str
    estimate: float | None
    std_error: float | None
    low: float | None
    high: float | None
    df: float | None
    interval: float | None
    n_people: int
    n_steps: int
    contrast_size: float | None = None
    p_above_zero: float | None = None
    p_practically_zero: float | None = None
    p_important: float | None = None

    @property
    def by(self) -> Engine:
        """The engine that made it, with what it declares of itself."""
        return named(self.engine)


class FitFacts(Part):
    """One fitted engine: the rung reached, whether it is usable and why not, its gates and its tables.

    `columns` are those of the model that was made, `dropped` (exposure or column, code of the reason) what
    was asked for and left out; both are empty in findings made before they were kept.
    """

    engine: str
    outcome: str
    rung: str
    rung_reason: str
    usable: bool
    why_not: str
    n_people: int
    n_steps: int
    effects: tuple[EffectRow, ...]
    diagnostics: Table
    tables: dict[str, Table]
    settings: dict[str, Any]
    notes: tuple[str, ...]
    seconds: float
    columns: tuple[str, ...] = ()
    dropped: tuple[tuple[str, str], ...] = ()

    @property
    def by(self) -> Engine:
        """The engine that made it, with what it declares of itself."""
        return named(self.engine)


class QuestionFacts(Part):
    """A further question: `analysis` is what the plan's section of that name would be for it, `planned`
    whether the plan names it (`[[also]]`), `fits` its models; `Findings.asking` reads them as those of a
    main question.
    """

    analysis: dict[str, Any]
    planned: bool
    fits: tuple[FitFacts, ...]


class PictureFacts(Part):
    """A figure as data: what to draw, its words and its numbers (see `lagwise.core.results.Picture`)."""

    kind: str
    title: str
    data: Table
    x: str
    y: str
    alt: str
    options: dict[str, Any] = Field(default_factory=dict)


class ChallengeFacts(Part):
    """One attempt to break the result and how it ended; with a `problem` it was not run, and where it does
    not apply it could not be.

    `claim` is what its words are made of, `reason` and `numbers` by name (`lagwise.core.claim`); versions to
    share have none.
    """

    name: str
    title: str
    question: str
    verdict: Literal["holds", "does_not_hold", "cannot_tell", "informative"]
    numbers: Table
    sentence: str
    limits: str
    picture: PictureFacts | None
    seconds: float
    problem: str
    applies: bool = True
    claim: dict[str, Any] | None = None


class FollowedFacts(Part):
    """What followed a kind of event: the rating `outcome` against comparable steps.

    `claim` is what its words are made of, `reason` ('none', 'picture', 'exploratory' or 'estimate', and the
    side of 0) and `numbers` by name; `effects` the rows of the tidy effect table, `attempts` what was tried
    against them, `picture` the course around the event.
    """

    kind: str
    outcome: str
    claim: dict[str, Any]
    effects: tuple[EffectRow, ...]
    attempts: tuple[ChallengeFacts, ...]
    picture: PictureFacts | None
