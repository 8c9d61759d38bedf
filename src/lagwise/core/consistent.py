"""What goes together in a study plan: its ratings, and its keys with each other."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from types import MappingProxyType
from typing import Any

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema

from lagwise.core.claim import coded
from lagwise.core.columns import EVENT_KINDS, RATINGS, TABLES
from lagwise.core.errors import StudyError, meant
from lagwise.core.legal import UNITS, checked, day, filled, kept, mapping, names, text, unknown, worded, wrong
from lagwise.core.study import (
    AlsoPlan,
    AnalysisPlan,
    Clock,
    EventsPlan,
    LoadPlan,
    PainPlan,
    RatingPlan,
    Study,
)
from lagwise.core.terms import PANEL, whole
from lagwise.core.variable import PAIN, VARIABLES

SECTIONS = {
    "clock": Clock,
    "load": LoadPlan,
    PAIN: PainPlan,
    "analysis": AnalysisPlan,
    "events": EventsPlan,
}
"""Sections of study.toml whose keys are the fields of one part of the plan."""
TOP = {"title": filled, "setting": text, "ethics": text}
_FIRST, _LAST = ("load_", "usual_"), ("_within", "_between", "_next", "_before", "_later")
"""How the panel's own names for what comes from a rating begin and end."""
_TABLES = {column.name for table in TABLES.values() for column in table} - set(RATINGS)
_INSIDE = "main median partly row source recorded pain_mean pain_worst pain_last unknown intercept"
KIND_KEYS = ("outcomes", "unmoved")
"""Keys of a section `[events.KIND]`."""
MOST_ALSO = 10
"""Further questions of one plan."""
LOAD_CONTRASTS = (-0.99, 10.0)
"""Contrasts of a load jump, as shares of the usual load."""
NOT_A_RATING = {*_TABLES, *PANEL, *_INSIDE.split()} - set(RATINGS)
"""Names that mean something else in a table, in the panel or in a model."""


def ratings(given: Any) -> Mapping[str, RatingPlan]:
    """`[ratings.NAME]` sections: a rating of the study's own with its range,
    or one of the contract's on another scale."""
    out = {}
    for name, keys in mapping("ratings", given).items():
        inside = f"ratings.{name}"
        if not re.fullmatch(r"[a-z][a-z0-9_]{0,39}", name):
            legal = "the name of a rating is lower-case letters, digits and underscores"
            raise wrong(inside, name, legal, "Rename it; its label and its column may be called anything.")
        known = VARIABLES.get(name)
        if name in NOT_A_RATING or name.startswith(_FIRST) or name.endswith(_LAST):
            raise wrong(inside, name, "that is the name of something else in the tables", "Rename it.")
        ends = {"low": known.low, "high": known.high} if known else {}
        plan = checked(RatingPlan, {**ends, **mapping(inside, keys)}, inside)
        if known is None and not {"low", "high"} <= set(keys):
            raise StudyError(
                coded(f"[{inside}] has no range", key=inside),
                where="study.toml",
                mend="Write the ends of its scale, such as low = 1 and high = 5.",
            )
        if not plan.low < plan.high:
            raise wrong(inside, {"low": plan.low, "high": plan.high}, "low must lie below high")
        for key in ("important_change", "practically_zero", "flare_rise"):
            if (getattr(plan, key) or 0) > plan.high - plan.low:
                legal = f"the whole range is {plan.high - plan.low:g}"
                raise wrong(f"{inside}.{key}", getattr(plan, key), legal)
        if plan.practically_zero and plan.important_change and plan.practically_zero > plan.important_change:
            raise _two_margins(
                f"{inside}.practically_zero", plan.practically_zero, plan.important_change, name
            )
        out[name] = plan
    return MappingProxyType(out)


def _two_margins(key: str, zero: float, important: float, name: str) -> StudyError:
    return wrong(
        key,
        zero,
        f"it is more than important_change, which is {important:g} for {name}",
        "No difference is both: write a smaller practically_zero or a larger important_change.",
    )


def further_questions(given: Any) -> tuple[AlsoPlan, ...]:
    """`[[also]]` sections, each with an outcome and a primary exposure."""
    if not isinstance(given, list | tuple) or not all(isinstance(one, dict) for one in given):
        raise wrong("also", given, "each further question is a section of its own, written [[also]]")
    if len(given) > MOST_ALSO:
        raise StudyError(
            coded(
                f"there are {len(given)} sections [[also]], and at most {MOST_ALSO} are allowed", key="also"
            ),
            where="study.toml",
            mend="Keep those that were asked before the data were seen.",
        )
    plans = tuple(checked(AlsoPlan, keys, f"also[{at}]") for at, keys in enumerate(given, 1))
    for at, keys in enumerate(given, 1):
        for key in ("outcome", "primary"):
            if key not in keys:
                raise StudyError(
                    coded(f"[[also]] number {at} has no {key}", key=f"also[{at}]"),
                    where="study.toml",
                    mend=f'Write {key} = "..." below it.',
                )
    return plans


def events(given: Any) -> EventsPlan:
    """`[events]`: kinds of the study's own, and by kind (`[events.KIND]`) what is asked about after it."""
    section = dict(mapping("events", given))
    own = {kind: section.pop(kind) for kind, keys in tuple(section.items()) if isinstance(keys, dict)}
    for kind, keys in own.items():
        for key, value in mapping(f"events.{kind}", keys, KIND_KEYS).items():
            kept(f"events.{kind}.{key}", value, names if key == KIND_KEYS[0] else filled)
            section.setdefault(key, {})[worded(kind)] = value
    return checked(EventsPlan, section, "events")


def blocks(given: Any) -> Mapping[str, tuple[str, str]]:
    """`[blocks]`: named stretches of the calendar, each with its first and last day."""
    out = {}
    for name, ends in mapping("blocks", given).items():
        key = f"blocks.{name}"
        if not name.strip() or not isinstance(ends, list | tuple) or len(ends) != 2:
            legal = 'it must be its first and last day, such as ["2025-09-01", "2025-11-30"]'
            raise wrong(key, ends, legal)
        first, last = (kept(key, one, day) for one in ends)
        if last < first:
            raise wrong(key, [first, last], "its first day must not lie after its last")
        out[name.strip()] = (first, last)
    return MappingProxyType(out)


def spellings(given: Any) -> Mapping[str, tuple[str, ...]]:
    """`[exercises.same]`: the name of an exercise -> its other spellings, in lower case."""
    out: dict[str, tuple[str, ...]] = {}
    taken: dict[str, str] = {}
    for name, others in mapping("exercises.same", given).items():
        key = f"exercises.same.{name}"
        if not isinstance(others, list | tuple) or not others:
            raise wrong(key, others, 'it must be a list of spellings, such as ["rows", "cable row"]')
        own = exercise(kept(key, name, filled))
        spelled = dict.fromkeys(exercise(kept(key, other, filled)) for other in others)
        for one in spelled:
            if taken.setdefault(one, own) != own:
                raise wrong(key, one, f"it is a spelling of '{taken[one]}' already")
        out[own] = (*out.get(own, ()), *(one for one in spelled if one not in (own, *out.get(own, ()))))
    for own in out:
        if taken.get(own, own) != own:
            raise wrong(f"exercises.same.{own}", own, f"it is a spelling of '{taken[own]}' already")
    return MappingProxyType(out)


def exercise(name: str) -> str:
    """The name of an exercise as tables hold it: lower case, single spaces."""
    return " ".join(name.lower().split())


def consistent(study: Study) -> Study:
    """The plan, when its keys go together.

    Raises
    ------
    StudyError
        With key, value and what is legal.
    """
    load = study.load
    if load.usual_needs > load.usual_steps:
        raise wrong("load.usual_needs", load.usual_needs, f"at most usual_steps = {load.usual_steps}")
    for kind in study.events.kinds:
        if kind in EVENT_KINDS:
            raise wrong("events.kinds", kind, "that is a kind of the contract already", "Take it out.")
    _after_events(study)
    for table, source in study.tables.items():
        for name in source.units:
            if name in study.ratings and name not in UNITS:
                mend = f"read as points from 0 to 10 with units, on its own scale with [ratings.{name}]"
                raise wrong(
                    f"tables.{table}.units.{name}",
                    source.units[name],
                    f"[ratings.{name}] declares its scale already",
                    f"Take out one of the two: it is {mend}.",
                )
    _asks(study, "analysis")
    seen = [_question(study)]
    for at, one in enumerate(study.further, 1):
        _asks(one, f"also[{at}]")
        if (question := _question(one)) in seen:
            raise wrong(
                f"also[{at}]",
                f"{question[0]} after {question[1]}",
                "that question is asked already",
                "Take it out, or ask about something else.",
            )
        seen.append(question)
    return study


def _after_events(study: Study) -> None:
    """Whether the sections of kinds of events name kinds and ratings that there are."""
    plan, rated = study.events, [name for name, v in study.variables.items() if v.rated]
    for kind in plan.named:
        if kind not in (*EVENT_KINDS, *plan.kinds):
            raise unknown(kind, (*EVENT_KINDS, *plan.kinds), "events")
        asked, unmoved = plan.outcomes.get(kind, ()), plan.unmoved.get(kind)
        for key, name in (
            *((KIND_KEYS[0], n) for n in asked),
            *([(KIND_KEYS[1], unmoved)] if unmoved else ()),
        ):
            if name not in rated:
                near = difflib.get_close_matches(name, rated, n=1)
                mend = meant(name, near[0]) if near else "A rating of your own needs [ratings.NAME]."
                raise wrong(f"events.{kind}.{key}", name, f"legal values are {', '.join(rated)}", mend)
        if unmoved in asked:
            legal = f"it is among [events.{kind}] outcomes: a rating is asked about or could hardly change"
            raise wrong(f"events.{kind}.unmoved", unmoved, legal, "Take out one of the two.")


def _question(study: Study) -> tuple[str, str, float, int]:
    """What tells one question of a record from another."""
    a = study.analysis
    return a.outcome, a.primary, a.primary_contrast, a.lag


def _asks(study: Study, at: str) -> None:
    """Whether one question can be asked, its keys being those of section `at`."""
    a, known, main = study.analysis, study.variables, at == "analysis"
    contrast = f"{at}.primary_contrast" if main else f"{at}.contrast"
    for key, named in (("outcome", (a.outcome,)), ("primary", (a.primary,)), ("exposures", a.exposures)):
        legal = [name for name, v in known.items() if v.rated or key != "outcome"]
        for name in named:
            if name not in legal:
                near = difflib.get_close_matches(name, legal, n=1)
                mend = "A rating of your own needs [ratings.NAME] with low and high."
                hint = meant(name, near[0]) if near else mend
                raise wrong(f"{at}.{key}", name, f"legal values are {', '.join(legal)}", hint)
    asked = study.outcome
    for key, size in (
        ("pain.flare_rise", asked.rise),
        ("pain.important_change", asked.important),
        ("analysis.practically_zero", asked.zero),
    ):
        if size > asked.variable.width:
            raise wrong(key, size, f"the whole scale of {asked.name} is {asked.variable.width:g} wide")
    if asked.zero > asked.important:
        declared = study.ratings.get(asked.name, RatingPlan()).practically_zero is not None
        key = f"ratings.{asked.name}.practically_zero" if declared else "analysis.practically_zero"
        raise _two_margins(key, asked.zero, asked.important, asked.name)
    if a.outcome in a.exposures:
        if main:
            raise wrong(
                f"{at}.exposures", a.outcome, "it is what is asked about", "Take it out of exposures."
            )
        raise wrong(f"{at}.outcome", a.outcome, "it is its own exposure", "Name another primary.")
    _called_apart(study)
    if a.primary not in a.exposures:
        raise wrong(
            f"{at}.primary",
            a.primary,
            f"it must be one of the exposures: {', '.join(a.exposures)}",
            "Name the primary exposure, or add it to exposures.",
        )
    least, most = LOAD_CONTRASTS
    if whole(a.primary) and not least <= a.primary_contrast <= most:
        raise wrong(
            contrast,
            a.primary_contrast,
            f"it is a share of the usual load, from {least:g} to {most:g}",
            "For +50 % write 0.5.",
        )
    if abs(a.primary_contrast) > (width := known[a.primary].width):
        raise wrong(contrast, a.primary_contrast, f"the whole scale of {a.primary} is {width:g} wide")
    if a.lag == 0 and a.order != "exposure_first":
        raise wrong(
            f"{at}.lag",
            0,
            'within one step the order must be declared: order = "exposure_first" under [analysis]',
            "Write it only where what is asked about comes after the exposures, "
            "as today's rating after last night's sleep.",
        )


def _called_apart(study: Study) -> None:
    """Whether what one question is about has a label for each."""
    seen: dict[str, str] = {}
    for one in study.asked:
        if (other := seen.setdefault(one.label, one.name)) != one.name:
            own, first = (one.name, other) if one.name in study.ratings else (other, one.name)
            raise wrong(
                f"ratings.{own}.label",
                one.label,
                f"{first} is called so already",
                "Give it a label of its own.",
            )


def exposures_but(outcome: str, asked: tuple[str, ...] = AnalysisPlan.exposures) -> tuple[str, ...]:
    """The exposures of a plan that names none, or of one whose outcome changes: without the outcome."""
    return tuple(term for term in asked if term != outcome)


def changed_plan(study: Study, changes: Mapping[str, Any]) -> Study:
    """A plan with some keys changed; raises as `Study.with_` says."""
    parts: dict[str, Any] = {}
    homes = {f.name: section for section, kind in SECTIONS.items() for f in fields(kind)}
    for key, value in changes.items():
        if key in homes:
            parts.setdefault(homes[key], {})[key] = value
        elif key in TOP:
            parts[key] = kept(key, value, TOP[key])
        elif key in LISTS:
            parts[key] = LISTS[key](value)
        else:
            raise unknown(key, (*homes, *TOP, *LISTS))
    analysis = parts.get("analysis", {})
    if "outcome" in analysis and "exposures" not in analysis:
        analysis["exposures"] = exposures_but(analysis["outcome"], study.analysis.exposures)
    for section in SECTIONS.keys() & parts:
        new: Any = checked(SECTIONS[section], parts[section], section)
        parts[section] = replace(
            getattr(study, section), **{key: getattr(new, key) for key in parts[section]}
        )
    return consistent(replace(study, **parts))


LISTS: Mapping[str, Callable[[Any], Any]] = {
    "ratings": ratings,
    "also": further_questions,
    "blocks": blocks,
    "exercises": spellings,
}
"""Sections of study.toml with names of the study's own, and how each is read."""


class _Plain(GenerateJsonSchema):
    """A schema without a title for every key."""

    ignored_warning_kinds = {"skipped-choice", "non-serializable-default"}  # noqa: RUF012

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def schema() -> dict[str, Any]:
    """`Study.schema`: that of the plan's fields, with the sections that the file lays out otherwise."""
    out = TypeAdapter(Study).json_schema(schema_generator=_Plain)
    keys, (number, marks) = (
        out["properties"],
        ({"type": "number"}, {"type": "array", "items": {"type": "string"}}),
    )
    del keys["changed"]
    keys["privacy"] = _section({name: keys.pop(name) for name in ("consent_single_person_plots",)})
    keys["exercises"] = _section({"same": keys["exercises"]})
    keys["blocks"]["additionalProperties"] = {
        "type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2
    }  # fmt: skip
    ends = _section({"low": number, "high": number}) | {"required": ["low", "high"]}
    keys["scores"] = {"type": "object", "additionalProperties": ends}
    keys["also"]["maxItems"] = MOST_ALSO
    parts = out["$defs"]
    parts["AlsoPlan"]["required"] = ["outcome", "primary"]
    for name in ("outcome", "primary"):
        del parts["AlsoPlan"]["properties"][name]["default"]
    either = {"anyOf": [marks, {"type": "object", "additionalProperties": marks}]}
    parts["TableSource"]["properties"]["missing"] = either
    parts["TableSource"]["properties"]["constant"]["additionalProperties"] = {"type": ["string", "number"]}
    kind = {key: parts["EventsPlan"]["properties"].pop(key) for key in KIND_KEYS}
    one = {key: value["additionalProperties"] for key, value in kind.items()}
    for part in (out, *parts.values()):
        part["additionalProperties"] = False
        for key in part["properties"].values():  # null is no value of TOML: such keys are left out
            key.pop("default") if key.get("default", 0) is None else None
        part.pop("description", None) if part is out else None
    parts["EventsPlan"]["additionalProperties"] = _section(one)
    return {"$schema": GenerateJsonSchema.schema_dialect, **out, "title": "study.toml"}


def _section(keys: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "properties": keys, "additionalProperties": False}
