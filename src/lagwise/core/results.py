"""Frozen result types that pass from room to room."""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, ClassVar

import pandas as pd

from lagwise.core.claim import NOTHING, Claim, words
from lagwise.core.columns import TABLES
from lagwise.core.errors import ModelError
from lagwise.core.study import Study
from lagwise.core.variable import Variable
from lagwise.core.words import NOT_RUN, VERDICT
from lagwise.document.card import card_html

VERDICTS = ("holds", "does_not_hold", "cannot_tell", "informative")


def _empty() -> pd.DataFrame:
    return pd.DataFrame()


class Shown:
    """Shows itself as a card in a notebook and in a few lines at a prompt, in words of the room say."""

    _shown: ClassVar[str]

    def __repr__(self) -> str:
        return words(f"{self._shown}_text")(self)

    def _repr_html_(self) -> str:
        return card_html(words(f"{self._shown}_card")(self))


def content_hash(tables: Mapping[str, pd.DataFrame]) -> str:
    """SHA-256, hex, over the names, headers and cells of tables; text and numbers that look alike differ."""
    total = hashlib.sha256()
    for name, frame in tables.items():
        text = frame.to_csv(index=False, quoting=csv.QUOTE_NONNUMERIC, na_rep="\0", lineterminator="\n")
        total.update(f"{name} {len(text)}\n{text}".encode("utf-8", "surrogatepass"))
    return total.hexdigest()


@dataclass(frozen=True, repr=False)
class Caseload(Shown):
    """A checked caseload: what was read, what was set aside, and the plan it was read under.

    Tables that are absent are empty frames with the contract's columns. Every table keeps `row`, the row
    number as a person sees it in the file (header = row 1).

    `quarantine` has one line per input row or cell set aside: table, row, column, value, code, mend, and
    whole_row, True where the whole row is set aside and False where a cell is and the rest of its row is
    used. `counts` has one row per table: table, file; read, used, quarantined (rows); cells_read, cells_used,
    cells_quarantined (filled cells among the rows used). `remarks` has one row per thing noticed but kept
    (ignored columns, contradictions, repairs): code, table, column, count, examples, meaning, mend.
    `data_hash` is the SHA-256 over the bytes of all files read, or over the cells of frames: `read_hash`, as
    long as the tables hold what `hashed` holds, and one over their cells where they were changed. `lost`
    places what was set aside of sessions, check-ins, weeks and events, for sums that it is missing from:
    table, row, person, date, and column, which is empty for a whole row; person or date are missing where
    unreadable.
    """

    _shown = "show_records.caseload"

    study: Study
    sessions: pd.DataFrame
    checkins: pd.DataFrame
    people: pd.DataFrame
    events: pd.DataFrame
    weeks: pd.DataFrame
    quarantine: pd.DataFrame
    counts: pd.DataFrame
    remarks: pd.DataFrame
    read_hash: str
    folder: str = ""
    lost: pd.DataFrame = field(default_factory=_empty)
    hashed: tuple[pd.DataFrame, ...] = field(default=(), repr=False, compare=False)

    def __post_init__(self) -> None:
        """Keep copies of the tables as they were read, which share memory until something is changed."""
        if not self.hashed:
            kept = tuple(getattr(self, name).copy(deep=False) for name in TABLES)
            object.__setattr__(self, "hashed", kept)

    @property
    def data_hash(self) -> str:
        """The hash of the tables as they are now."""
        then = dict(zip(TABLES, self.hashed, strict=True))
        now = {name: getattr(self, name) for name in TABLES}
        if all(frame.equals(then[name]) for name, frame in now.items()):
            return self.read_hash
        new = content_hash(now)
        return self.read_hash if new == content_hash(then) else new

    def summary(self) -> pd.DataFrame:
        """One row per table: file; rows read, used and quarantined; filled cells of used rows likewise."""
        return self.counts.copy()


def whole_rows(quarantine: pd.DataFrame) -> pd.Series:
    """True for the lines of a quarantine that set a whole row aside, False for single cells."""
    return quarantine["whole_row"] if "whole_row" in quarantine else pd.Series(True, index=quarantine.index)


def unplaced(caseload: Caseload) -> tuple[int, int, int]:
    """Rows of sessions, check-ins and weeks set aside that no step can be told of: how many have a person and
    no readable date, how many people that is, and how many have no readable person."""
    lost = caseload.lost
    if not len(lost):
        return 0, 0, 0
    rows = lost[(lost["column"] == "") & (lost["table"] != "events")]
    undated = rows[rows["person"].notna() & rows["date"].isna()]
    return len(undated), int(undated["person"].nunique()), int(rows["person"].isna().sum())


@dataclass(frozen=True, repr=False)
class Panel(Shown):
    """One row per person and calendar step, complete between a person's first and last record.

    `frame` has the columns of `lagwise.core.terms.panel_columns(study)`.
    `blocks` is the same rows with every load measure (`load_<measure>`, and `load_<measure>__<group>` per
    exercise group), every pain summary (`pain_<summary>`), every other rating, each rating before a step
    (`<rating>_before`) and the raw `state`, from which the panel can be rebuilt under another plan without
    reading again.
    `states` counts the training states and how many steps would change under the other reading of
    `no_sessions_means`.
    `events` holds what was changed or happened, with its place on the calendar: person, kind, date, until,
    because, step, until_step, and `after`, the last step whose rating stands before it.
    """

    _shown = "show_records.panel"

    frame: pd.DataFrame
    study: Study
    blocks: pd.DataFrame = field(default_factory=_empty)
    states: Mapping[str, int] = field(default_factory=lambda: NOTHING)
    events: pd.DataFrame = field(default_factory=_empty)

    def coverage(self) -> pd.DataFrame:
        """One row per person: steps, steps with the outcome's rating, with known load, with a usual load, and
        complete for the primary question (the primary exposure, the rating and, at lag 1, that of the next
        step known)."""
        f, asked = self.frame, self.study.outcome
        complete = f[[self.study.analysis.primary, asked.name, asked.column]].notna().all(axis=1)
        known = pd.DataFrame(
            {
                "person": f["person"],
                "steps": 1,
                asked.name: f[asked.name].notna().astype(int),
                "load": f["load"].notna().astype(int),
                "usual": f["usual"].notna().astype(int),
                "complete": complete.astype(int),
            }
        )
        return known.groupby("person", sort=True).sum().reset_index()


@dataclass(frozen=True, repr=False)
class Fit(Shown):
    """One fitted engine.

    `effects` is the tidy effect table. `diagnostics` has one row per gate: gate, value, limit, passed,
    meaning. `usable` is True only when every gate that decides passed; `why_not` says which failed. `rung`
    names the model reached in words and `rung_reason` why it was not the one above. `tables` holds further
    named frames (variance components, person slopes, curves ...), documented by the function that made them.
    `settings` is what made it (seed, draws, adjustment ...). `posterior` is an ArviZ DataTree for the
    Bayesian engines, else None. `seconds` is how long it took; `step` what a calendar step is called (week,
    day ...). `columns` names the columns of the model that was made and `dropped` lists (exposure or column,
    why) for what was asked for and left out of it; texts speak of these and never of the plan. `asked` holds
    what it is about under the study's own labels and scales: the outcome's `Variable` first, then the
    exposures'. `made` is what the joint model goes on from where a challenge holds a part of it; it is not
    saved.
    """

    _shown = "show_results.fit"

    engine: str
    outcome: str
    effects: pd.DataFrame
    diagnostics: pd.DataFrame
    usable: bool
    rung: str
    rung_reason: str = ""
    why_not: str = ""
    n_people: int = 0
    n_steps: int = 0
    tables: Mapping[str, pd.DataFrame] = field(default_factory=lambda: NOTHING)
    settings: Mapping[str, Any] = field(default_factory=lambda: NOTHING)
    notes: tuple[str, ...] = ()
    posterior: Any = None
    seconds: float = 0.0
    step: str = "step"
    columns: tuple[str, ...] = ()
    dropped: tuple[tuple[str, str], ...] = ()
    asked: tuple[Variable, ...] = ()
    made: Any = field(default=None, compare=False)

    def __post_init__(self) -> None:
        # The table by itself says 'week' too: `attrs` stay with a selection of its rows.
        effects = self.effects.copy(deep=False)
        effects.attrs |= {"step": self.step, "asked": [asdict(v) for v in self.asked]}
        object.__setattr__(self, "effects", effects)

    def save(self, path: str | Path) -> Path:
        """Write the fit to a file (NetCDF) that `lagwise.load` reads back, and return its path.

        The posterior's groups stand in it as ArviZ reads them. What is known of single people (their slopes,
        their steps) stands in it too: it is personal data.

        Raises
        ------
        ModelError
            When the path cannot be written.
        """
        from lagwise.core.fit_file import save

        return save(self, path)

    def required(self) -> Fit:
        """This fit, where what follows needs one that is usable.

        Raises
        ------
        ModelError
            When it is not usable; the message is `why_not`.
        """
        if not self.usable:
            raise ModelError((self.why_not or "a gate failed").rstrip("."), where=f"{self.engine} model")
        return self

    def table(self, name: str) -> pd.DataFrame:
        """One of `tables`.

        Raises
        ------
        ModelError
            When this fit has none of that name, because the model it came to has nothing to put there.
        """
        if name not in self.tables:
            why = "" if self.usable or not self.why_not else f" ({self.why_not.rstrip('.')})"
            raise ModelError(
                f"the table {name!r} was not made for these data{why}",
                where=self.rung or f"{self.engine} model",
                mend=f"There are {', '.join(self.tables) or 'none'}.",
            )
        return self.tables[name]

    def primary(self) -> pd.DataFrame:
        """The row of `effects` that answers the primary question of the plan.

        Raises
        ------
        ModelError
            When the fit is not usable, or has no such row because the primary exposure is not in the model.
        """
        rows = self.required().effects.query("primary")
        if rows.empty:
            raise ModelError(
                "there is no estimate of the primary exposure",
                where=f"{self.engine} model",
                mend="Record it, or name another as primary under [analysis] in study.toml.",
            )
        return rows


@dataclass(frozen=True)
class Picture:
    """A figure as plain data: what to draw, not how.

    `kind` is one of intervals (rows: label, estimate, low, high, group), histogram (rows: value; its `mark`
    in options), curve (rows: x, estimate, low, high), points (rows: group, x, y; one panel per group, with
    `lines` of slope, low, high), shares (rows: x, value, estimate, low, high), chains (rows: chain, draw,
    value), follow (rows: x, value, low, high, expected, n) or specifications (rows: x, label, estimate, low,
    high, primary and one column per name in the option `choices`). `title` says the message in words; `x`
    and `y` are axis labels with units; `alt` is the alternative text with the numbers; `options` holds a
    reference line, a mark or counts.
    """

    kind: str
    title: str
    data: pd.DataFrame
    x: str
    y: str
    alt: str
    options: Mapping[str, Any] = field(default_factory=lambda: NOTHING)

    def __repr__(self) -> str:
        return f"Picture ({self.kind}): {self.title}"


@dataclass(frozen=True, repr=False)
class Challenge(Shown):
    """The outcome of one attempt to break the result.

    `question` is in plain words; `numbers` a tidy frame (quantity, value, low, high, unit, key); `verdict`
    one of holds, does_not_hold, cannot_tell or informative; `sentence` goes into the write-up; `limits` says
    what this challenge cannot show; `seconds` is how long it took; `problem` says why it could not be run,
    and then the verdict is cannot_tell and no attempt is counted. `applies` is False where it could not be
    run because it is about something that this study does not ask or record. `claim` is what all of it was
    said of.
    """

    _shown = "show_results.challenge"

    name: str
    title: str
    question: str
    verdict: str
    numbers: pd.DataFrame
    sentence: str
    limits: str
    picture: Picture | None = None
    seconds: float = 0.0
    problem: str = ""
    applies: bool = True
    claim: Claim | None = None

    @property
    def tried(self) -> bool:
        """True when it was run, so that it counts as an attempt."""
        return not self.problem

    @property
    def ended(self) -> str:
        """How it ended, in words: the verdict, or that it was not run."""
        return NOT_RUN[self.applies] if self.problem else VERDICT.get(self.verdict, self.verdict)


@dataclass(frozen=True, repr=False)
class Challenges(Shown):
    """All challenges that were asked for, in registry order; `seed` made them. Those with a `problem` were
    not run."""

    _shown = "show_results.challenges"

    results: tuple[Challenge, ...]
    seed: int = 0

    def __iter__(self) -> Iterator[Challenge]:
        return iter(self.results)

    def __len__(self) -> int:
        return len(self.results)

    def __getitem__(self, name: str) -> Challenge:
        for result in self.results:
            if result.name == name:
                return result
        raise KeyError(name)

    @property
    def table(self) -> pd.DataFrame:
        """One row per challenge: name, title, question, verdict, sentence, limits, seconds, problem, and
        ended, which says how it ended in words.
        """
        keys = ("name", "title", "question", "verdict", "sentence", "limits", "seconds", "problem", "ended")
        return pd.DataFrame([{k: getattr(r, k) for k in keys} for r in self.results], columns=list(keys))
