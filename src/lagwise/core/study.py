"""The study plan: every choice that study.toml can fix, with its default and legal values."""

from __future__ import annotations

import copyreg
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from types import MappingProxyType
from typing import Any

from lagwise.core import legal
from lagwise.core.claim import words
from lagwise.core.question import IMPORTANT, RISE, ZERO, Outcome
from lagwise.core.study_parts import (
    INTERVAL,
    LOAD_CONTRAST,
    NO_TABLES,
    AlsoPlan,
    AnalysisPlan,
    Clock,
    EventsPlan,
    LoadPlan,
    PainPlan,
    RatingPlan,
    TableSource,
)
from lagwise.core.variable import Variable, with_ratings
from lagwise.core.words import step_name

__all__ = [
    "INTERVAL",
    "LOAD_CONTRAST",
    "NO_TABLES",
    "AlsoPlan",
    "AnalysisPlan",
    "Clock",
    "EventsPlan",
    "LoadPlan",
    "PainPlan",
    "RatingPlan",
    "Study",
    "TableSource",
    "asked_of",
]


def _proxy(values: dict[Any, Any]) -> MappingProxyType:
    return MappingProxyType(values)


# Read-only mappings do not travel to worker processes by themselves, and every plan and panel holds some.
copyreg.pickle(MappingProxyType, lambda held: (_proxy, (dict(held),)))


NO_LONGER_ASKED = {"spike_ratio": 1.5}
"""Keys of `[load]` that plans could hold and nothing read; a plan may still name them.
Hashes are taken with these values, so that those printed before stay what they were."""


MODELLED = ("clock", "load", "pain", "analysis", "ratings")
"""Sections of a plan that a model is made from."""
FLARE_RISE = "pain.flare_rise"
MARGINS = frozenset(
    {f"analysis.{key}" for key in ("practically_zero", "primary_contrast", "headline")}
    | {"pain.important_change"}
)
"""Choices that name margins and contrasts and leave the model of a rating as it is; so does `FLARE_RISE`."""

SINCE = ("headline", "outcome", "lag", "order")
"""Keys of `[analysis]` that earlier plans had no choice of; while they have their default they do
not enter the hash."""
ADDED = {"clock": ("study_start", "first_day"), "load": ("unit",)}
"""Keys that stand in a plan only where they are not at their default."""


@dataclass(frozen=True)
class Study:
    """A study plan. Only `title` has no default.

    `groups` maps a body region or other group to exercise names; `scores` maps a baseline score of the
    people table to its legal (low, high); `tables` says where tables are; `consent_single_person_plots`
    attests consent to plots of single people in a shared output.
    `repair` switches single repairs of the reader off (name -> False); a repair that is not named is on.
    `blocks` names stretches of the calendar (first and last day, YYYY-MM-DD); `exercises` maps the name of an
    exercise to its other spellings. `reviewed` is False for a draft, on which nothing is analysed; it is no
    choice, and no part of the plan's hash.
    """

    title: str
    setting: str = ""
    ethics: str = ""
    clock: Clock = Clock()
    load: LoadPlan = LoadPlan()
    pain: PainPlan = PainPlan()
    analysis: AnalysisPlan = AnalysisPlan()
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: NO_TABLES)
    scores: Mapping[str, tuple[float, float]] = field(default_factory=lambda: NO_TABLES)
    tables: Mapping[str, TableSource] = field(default_factory=lambda: NO_TABLES)
    consent_single_person_plots: bool = False
    repair: Mapping[str, bool] = field(default_factory=lambda: NO_TABLES)
    ratings: Mapping[str, RatingPlan] = field(default_factory=lambda: NO_TABLES)
    also: tuple[AlsoPlan, ...] = ()
    changed: tuple[str, ...] = ()
    reviewed: bool = True
    events: EventsPlan = EventsPlan()
    blocks: Mapping[str, tuple[str, str]] = field(default_factory=lambda: NO_TABLES)
    exercises: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: NO_TABLES)

    @property
    def numbered(self) -> bool:
        """Whether nothing is known of the calendar: days are numbered, without a `study_start`."""
        numbers = any(source.date_format == legal.DAY for source in self.tables.values())
        return numbers and not self.clock.study_start

    @property
    def variables(self) -> Mapping[str, Variable]:
        """The contract's variables and the study's own ratings, by name."""
        return with_ratings(self.ratings)

    @property
    def asked(self) -> tuple[Variable, ...]:
        """What the question is about, under the study's own labels: the outcome's variable, then the
        exposures'.
        """
        variables = self.variables
        return tuple(variables[name] for name in (self.outcome.name, *self.analysis.exposures))

    @property
    def outcome(self) -> Outcome:
        """What is asked about, with its margins on its own scale."""
        name, pain = self.analysis.outcome, self.pain
        variable, plan = self.variables[name], self.ratings.get(name, RatingPlan())
        width = 10 * variable.tenth
        of_pain = PainPlan() if name != "pain" else pain
        return Outcome(
            variable,
            self.analysis.lag,
            *(
                _margin(getattr(plan, key), getattr(written, key), getattr(usual, key), share * width)
                for key, written, usual, share in (
                    ("important_change", of_pain, PainPlan, IMPORTANT),
                    ("practically_zero", self.analysis, AnalysisPlan, ZERO),
                    ("flare_rise", of_pain, PainPlan, RISE),
                )
            ),
        )

    def outcome_of(self, name: str) -> Outcome:
        """A rating as if it were what is asked about, with its margins on its own scale."""
        if name == self.analysis.outcome:
            return self.outcome
        usual = AnalysisPlan().practically_zero
        return replace(self, analysis=replace(self.analysis, outcome=name, practically_zero=usual)).outcome

    @property
    def further(self) -> tuple[Study, ...]:
        """A plan for each further question (`also`), in order: this one, but for what it asks.

        Exposures are those of this plan without what is asked about, and the question's primary one;
        `practically_zero` is this plan's for its own outcome alone, as it is on that one's scale.

        Examples
        --------
        >>> study = lw.Study("Elbows").with_(also=[{"outcome": "worry", "primary": "jump"}])
        >>> [(s.outcome.column, s.analysis.primary, s.outcome.zero) for s in study.further]
        [('worry_next', 'jump', 0.5)]
        """
        return tuple(replace(self, analysis=self._asking(one), also=(), changed=()) for one in self.also)

    def contrast_of(self, term: str) -> float | None:
        """What differences of an exposure are told at beside one unit: the plan's of its primary exposure;
        of a load jump that is not primary what a further question asks of it, else `LOAD_CONTRAST`.
        """
        if term == self.analysis.primary:
            return self.analysis.primary_contrast
        asked = (s.analysis.primary_contrast for s in self.further if s.analysis.primary == term)
        return next(asked, LOAD_CONTRAST) if term == "jump" else None

    def _asking(self, one: AlsoPlan) -> AnalysisPlan:
        a = self.analysis
        kept = tuple(term for term in a.exposures if term != one.outcome)
        own = LOAD_CONTRAST if one.primary == "jump" else 1.0
        usual = a.primary_contrast if one.primary == a.primary else own
        return replace(
            a,
            outcome=one.outcome,
            exposures=kept if one.primary in kept else (one.primary, *kept),
            primary=one.primary,
            primary_contrast=usual if one.contrast is None else one.contrast,
            practically_zero=a.practically_zero
            if one.outcome == a.outcome
            else AnalysisPlan.practically_zero,
            lag=a.lag if one.lag is None else one.lag,
        )

    @staticmethod
    def schema() -> dict[str, Any]:
        """JSON Schema (draft 2020-12) of study.toml: every key with its type, legal values and default.

        What goes together beyond single keys (margins within the scale, an outcome that is no exposure) is
        looked at when a plan is read.

        Examples
        --------
        >>> lw.Study.schema()["$defs"]["Clock"]["properties"]["step_days"]
        {'default': 7, 'maximum': 366, 'minimum': 1, 'type': 'integer'}
        """
        from lagwise.core.consistent import schema

        return schema()

    def with_(self, **changes: Any) -> Study:
        """The same plan with some keys changed, named as in study.toml (`outcome`, `primary`,
        `usual_steps` ...).

        The changes are recorded in `changed`, one 'section.key: was -> is' line each,
        and a write-up lists them.

        Raises
        ------
        StudyError
            When a key is unknown (with the nearest known one), or a value is not legal (with the legal ones).
        """
        from lagwise.core.consistent import changed_plan

        new = changed_plan(self, changes)
        return replace(new, changed=(*self.changed, *new.changes_from(self)))

    @property
    def step(self) -> str:
        """What one calendar step is called: week, day, or step of so many days."""
        return step_name(self.clock.step_days)

    def __repr__(self) -> str:
        return words("show_records.study_text")(self)

    def plan(self) -> dict[str, Any]:
        """The plan as plain JSON-able values, file locations left out."""
        values = _plain(self)
        values.pop("tables")
        values.pop("changed")
        values.pop("reviewed")
        values["events"] = {key: value for key, value in values["events"].items() if value}
        for key in ("also", "events", "blocks", "exercises"):
            if not values[key]:
                del values[key]
        for section, keys in ADDED.items():
            for key in keys:
                if values[section][key] == getattr(type(getattr(self, section)), key):
                    del values[section][key]
        return values

    def plan_hash(self) -> str:
        """SHA-256 of the plan, hex; two studies with the same choices have the same hash."""
        values = self.plan()
        values["load"] |= NO_LONGER_ASKED
        for key in SINCE:  # plans from before there was a choice keep their hash
            if values["analysis"][key] == getattr(AnalysisPlan, key):
                del values["analysis"][key]
        if not values["ratings"]:
            del values["ratings"]
        return hashlib.sha256(json.dumps(values, sort_keys=True).encode()).hexdigest()

    def changes_from(self, recorded: Study) -> tuple[str, ...]:
        """What differs from a recorded plan, as 'section.key: was -> is' lines; empty when nothing does."""
        changed = plan_changes(recorded.plan(), self.plan())
        return tuple(f"{key}: {was!r} -> {now!r}" for key, (was, now) in changed.items())


def plan_changes(recorded: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, tuple[Any, Any]]:
    """What differs between two plans as plain values: by 'section.key' what was and what is, None where
    nothing.
    """
    was, is_ = _flat(recorded), _flat(now)
    return {key: (was.get(key), is_.get(key)) for key in sorted({*was, *is_}) if was.get(key) != is_.get(key)}


def asked_of(plan: Mapping[str, Any]) -> tuple[Outcome, Mapping[str, Variable]]:
    """What a plan as plain values (`Study.plan`) asks about, and its variables;
    keys that older plans lack have their defaults."""
    pain, analysis = (
        {f.name: plan[name][f.name] for f in fields(made) if f.name in plan.get(name, {})}
        for name, made in (("pain", PainPlan), ("analysis", AnalysisPlan))
    )
    own = {k: RatingPlan(**v) for k, v in plan.get("ratings", {}).items()}
    study = Study("", pain=PainPlan(**pain), analysis=AnalysisPlan(**analysis), ratings=own)
    return study.outcome, study.variables


def _margin(own: float | None, written: float, usual: float, share: float) -> float:
    """A margin: the rating's own, else the plan's where it is not the usual one,
    else the share of the range."""
    return own if own is not None else written if written != usual else share


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    return value


def _flat(values: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, value in values.items():
        if isinstance(value, Mapping):
            out.update(_flat(value, f"{prefix}{key}."))
        else:
            out[f"{prefix}{key}"] = value
    return out
