"""The findings: one typed, versioned, JSON-able value that holds every number the write-up prints.

`Findings` is the hinge between numbers and words. Nothing in the write-up is computed from anything else, so
a saved `findings.json` can be rendered again, byte for byte, without the data. A missing number is null.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from lagwise.core.claim import said
from lagwise.core.effects import LOW_TO_HIGH, PER_SD, PER_UNIT, contrast_label, contrast_size
from lagwise.core.errors import LagwiseError, WriteUpError
from lagwise.core.opening import read_once
from lagwise.core.words import Spelling
from lagwise.document.card import card, card_html, quiet
from lagwise.findings.facts import (
    ABOUT_THE_BASE,
    ESTIMAND,
    ChallengeFacts,
    EffectRow,
    FitFacts,
    FollowedFacts,
    GateFacts,
    Number,
    Part,
    PersonSeries,
    Provenance,
    QuestionFacts,
    StudyFacts,
    Table,
)
from lagwise.findings.since import Since

SCHEMA_NAME: Literal["lagwise-findings"] = "lagwise-findings"
SCHEMA_VERSION: Literal[1] = 1
MOST_BYTES = 200_000_000


class Findings(Part):
    """Everything the write-up says, as numbers.

    `numbers` holds single figures by name; `tables` the descriptive tables (rows read and quarantined,
    cohort, missing values, remarks of the reader); `people` each person's course; `fits` the fitted engines,
    usable or not, with their rows of the tidy effect table; `also` the further questions; `challenges` what
    was tried against the result; `followed` what followed kinds of events, empty in findings made before it
    was asked; `since` what changed since an earlier report, where one was named. `spelling` is that of every
    document made from them; `for_person` names the people who get a page of their own. `Findings.read(path)`
    and `to_json()` are exact inverses.
    """

    schema_name: Literal["lagwise-findings"] = SCHEMA_NAME
    schema_version: Literal[1] = SCHEMA_VERSION
    study: StudyFacts
    provenance: Provenance
    gate: GateFacts
    numbers: dict[str, Number]
    tables: dict[str, Table]
    people: tuple[PersonSeries, ...]
    fits: tuple[FitFacts, ...]
    also: tuple[QuestionFacts, ...] = ()
    challenges: tuple[ChallengeFacts, ...]
    followed: tuple[FollowedFacts, ...] = ()
    since: Since | None = None
    spelling: Spelling = "british"
    for_person: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return "\n  ".join([f"Findings: {self.study.title}", *self._lines()])

    def __str__(self) -> str:
        return repr(self)

    def _repr_html_(self) -> str:
        more = said("findings.more", findings=self)
        return card_html(card(f"Findings: {self.study.title}", self._lines(), quiet(more)))

    def _lines(self) -> list[str]:
        return said("findings.lines", findings=self).split("\n")

    def to_json(self) -> str:
        """The findings as indented JSON text, ending in a newline."""
        return self.model_dump_json(indent=1) + "\n"

    @classmethod
    def from_json(cls, text: str | bytes, *, where: str = "findings") -> Findings:
        """Findings from JSON text.

        Raises
        ------
        WriteUpError
            When the text is not JSON or not findings of this schema version.
        """
        try:
            return _sized(cls.model_validate_json(text))
        except ValidationError as error:
            first = error.errors()[0]
            place = ".".join(str(part) for part in first["loc"]) or "the file"
            raise WriteUpError(
                f"these are not findings of schema {SCHEMA_NAME} {SCHEMA_VERSION}: {place}: {first['msg']}",
                where=where,
                mend="Make them again with `lagwise report`.",
            ) from error

    @classmethod
    def read(cls, path: str | Path) -> Findings:
        """Findings from a `findings.json` file."""
        mend = "Findings of a caseload are far smaller; make them again with `lagwise report`."
        return cls.from_json(
            read_once(Path(path), MOST_BYTES, WriteUpError, where=str(path), mend=mend), where=str(path)
        )

    def number(self, name: str) -> float | int | None:
        """Value of a single figure; None when it is unknown or was not made."""
        return self.numbers[name].value if name in self.numbers else None

    def asking(self, question: QuestionFacts) -> Findings:
        """These findings as if a further question were the main one: its plan and its fits, without
        challenges.
        """
        plan = {**self.study.plan, "analysis": question.analysis}
        study = self.study.model_copy(update={"plan": plan})
        alone: dict[str, Any] = {"also": (), "challenges": (), "followed": (), "since": None}
        return self.model_copy(update={"study": study, "fits": question.fits, **alone})

    def rated(self, what: str) -> Number:
        """A count of ratings of what is asked about: 'steps' that have one, 'pairs' with that of the next
        step, 'at_zero' those at the lower end; without a value where there is none. Older findings count
        them under the name of pain whatever is asked.
        """
        own = self.numbers.get(f"{self.study.outcome.name}_{what}")
        return own or self.numbers.get(f"pain_{what}") or Number(value=None)

    @property
    def described(self) -> bool:
        """Whether nothing could be asked of this record, so that it is described and nothing is estimated."""
        return "lacking" in self.tables

    @property
    def shared(self) -> bool:
        """Whether this is a version to share, of rounded numbers."""
        return "people_rounded_to" in self.numbers

    def count(self, name: str) -> int:
        """A count by name; 0 when it was not made."""
        return math.trunc(self.number(name) or 0)

    def usable(self, **declared: Any) -> Iterator[FitFacts]:
        """Usable fits of engines that declare such properties, in order."""
        return (f for f in self.fits if f.usable and all(getattr(f.by, k) == v for k, v in declared.items()))

    @property
    def fell(self) -> list[ChallengeFacts]:
        """Challenges that the result did not withstand, but for `base_fell`."""
        return [c for c in self._lost() if c.name not in ABOUT_THE_BASE]

    @property
    def base_fell(self) -> ChallengeFacts | None:
        """The challenge of what load is set against, where it did not hold: the difference then belongs to
        load itself, and stands.
        """
        return next((c for c in self._lost() if c.name in ABOUT_THE_BASE), None)

    def _lost(self) -> list[ChallengeFacts]:
        return [c for c in self.challenges if c.verdict == "does_not_hold" and not c.problem]

    @property
    def effects(self) -> tuple[EffectRow, ...]:
        """The tidy effect table of all fits, usable or not, then those of further questions and of what
        followed events, which are never primary.
        """
        own = tuple(row for fit in self.fits for row in fit.effects)
        more = (row for question in self.also for fit in question.fits for row in fit.effects)
        after = (row for one in self.followed for row in one.effects)
        return own + tuple(row.model_copy(update={"primary": False}) for row in (*more, *after))

    def rows(self, **equal: Any) -> list[EffectRow]:
        """Effect rows of usable fits with these fields; a sequence means any of its values."""
        return [r for f in self.fits if f.usable for r in f.effects if _matches(r, equal)]

    @property
    def primary(self) -> EffectRow | None:
        """The primary row, or None when no usable fit carries it."""
        found = self.rows(primary=True)
        return found[0] if found else None

    @property
    def as_rated(self) -> EffectRow | None:
        """The primary estimand with ratings taken as they are, under the plan's pain adjustment: the primary
        row itself unless the joint model leads.
        """
        row = self.primary
        if row is None or row.by.as_rated:
            return row
        fit = next(self.usable(as_rated=True), None)
        rows = () if fit is None else fit.effects
        wanted = {k: getattr(row, k) for k in ESTIMAND} | {
            "pain_adjusted": fit and fit.settings.get("pain_adjusted")
        }
        return next((r for r in rows if _matches(r, wanted)), None)

    @property
    def joint(self) -> EffectRow | None:
        """The primary estimand by the joint model, or None where it was not fitted or is not usable."""
        row = self.primary
        rows = [] if row is None else self.rows(**{k: getattr(row, k) for k in ESTIMAND})
        return next((r for r in rows if r.by.headline == "joint"), None)


def _sized(findings: Findings) -> Findings:
    """Findings whose effect rows say the size of their contrast: older ones gave the name of the planned one
    and of one unit alone.
    """
    primary, planned = (findings.study.plan["analysis"].get(k) for k in ("primary", "primary_contrast"))
    if primary is None or all(
        r.contrast_size is not None or r.contrast in (PER_SD, LOW_TO_HIGH) for r in findings.effects
    ):
        return findings
    sizes = {contrast_label(primary, planned): contrast_size(primary, planned), PER_UNIT: 1.0}

    def sized(row: EffectRow) -> EffectRow:
        size = sizes.get(row.contrast) if row.contrast_size is None else row.contrast_size
        return row.model_copy(update={"contrast_size": size})

    fits = tuple(f.model_copy(update={"effects": tuple(map(sized, f.effects))}) for f in findings.fits)
    return findings.model_copy(update={"fits": fits})


@contextmanager
def rendered_from(path: str | Path) -> Iterator[None]:
    """Say of findings that were read from `path`, and fail while they are rendered, that it is they who are
    damaged.

    What is rendered is a function of the findings alone; a file can be findings in form and still lack a
    table that another part speaks of, or hold a number that nothing could have made.

    Raises
    ------
    WriteUpError
        For any exception that is not the project's own.
    """
    try:
        yield
    except (LagwiseError, OSError):
        raise
    except Exception as error:
        raise WriteUpError(
            f"the findings lack something, or contradict themselves ({type(error).__name__}: "
            f"{str(error)[:120]})",
            where=str(path),
            mend="Make them again with `lagwise report`.",
        ) from error


def rows_of(held: Findings | FitFacts | None, name: str) -> list[dict[str, Any]]:
    """Rows of a table of the findings or of a fit; none where it is not there."""
    return held.tables[name].records() if held is not None and name in held.tables else []


def _matches(row: EffectRow, equal: dict[str, Any]) -> bool:
    def alike(value: Any, wanted: Any) -> bool:
        several = isinstance(wanted, Sequence) and not isinstance(wanted, str)
        return value in wanted if several else bool(value == wanted)

    return all(alike(getattr(row, key), wanted) for key, wanted in equal.items())
