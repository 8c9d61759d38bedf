"""Where each number of the write-up comes from: findings whose numbers know it, and the words for a place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any

from lagwise.core.numbers import plural
from lagwise.core.traced import all_marked, pieces, traced
from lagwise.core.words import capital
from lagwise.document.tree import Document, Figure, Grid, Span
from lagwise.findings import (
    ChallengeFacts,
    EffectRow,
    Findings,
    FitFacts,
    FollowedFacts,
    Number,
    Part,
    PersonSeries,
    Table,
)
from lagwise.say.report.wording import interval_name
from lagwise.say.report.words import Words

PLAIN = frozenset({"study", "provenance", "picture", "settings", "contrast_size", "interval"})
"""Parts whose numbers are not traced: choices of the plan, and what texts are looked up by."""
TEXTS = frozenset({"sentence", "why_not"})
"""Finished sentences, whose numbers are of one place."""


def source(row: EffectRow, words: Words) -> str:
    """What an estimate was made by: the model, the sort of interval, its size, and what was held equal."""
    equal = words.adjusted_for(row)
    held = f", at {equal}" if equal else ""
    return (
        f"{capital(row.by.label)}, {interval_name(row)}, {words.sample(row)}{held}. "
        f"findings.json: fits, {row.engine}; effects.csv: term {row.term}, contrast {row.contrast}."
    )


class Sources:
    """Findings whose numbers know their place, as `findings`; `document` shows the places in a tree that was
    made of them.
    """

    def __init__(self, findings: Findings) -> None:
        self._words = Words(findings)
        self._places: dict[str, int] = {}
        self.findings: Findings = self._traced(findings, "", "")

    def document(self, tree: Document) -> Document:
        """The tree with each number whose place is known as a span of its own that says it."""
        told = list(self._places)

        def spans(span: Span) -> list[Span]:
            found = pieces(span.text)
            return [replace(span, text=t, source="" if at is None else told[at]) for t, at in found] or [span]

        def shown(part: Any) -> Any:
            if isinstance(part, tuple) and part and all(isinstance(v, Span) for v in part):
                return tuple(new for span in part for new in spans(span))
            if isinstance(part, tuple):
                return tuple(map(shown, part))
            if not is_dataclass(part) or isinstance(part, type):
                return part
            found = {f.name: shown(getattr(part, f.name)) for f in fields(part)}
            if isinstance(part, Grid | Figure):
                own = part.caption, part.note if isinstance(part, Grid) else ""
                found["sourced"] = tuple(tuple(spans(Span(text))) for text in own)
            return replace(part, **found)

        return shown(tree)

    def _at(self, about: str, where: str) -> int:
        place = f"{about}. findings.json: {where}." if where else about
        return self._places.setdefault(place, len(self._places))

    def _traced(self, part: Any, about: str, where: str) -> Any:
        """A part of the findings with its numbers traced: `about` says what made it, `where` is its place."""
        match part:
            case Number():
                each = {"people": "person"}.get(part.of, part.of.removesuffix("s"))
                of = f", of {plural(part.n, each, part.of)}" if part.n and part.of else ""
                at = self._at(f"Made by {part.made_by}{of}", where)
                return part.model_copy(update={k: traced(v, at) for k, v in part})
            case EffectRow():
                at = self._at(source(part, self._words), "")
                kept = {k: v for k, v in part if k not in PLAIN}
                return part.model_copy(update={k: traced(v, at) for k, v in kept.items()})
            case Table():
                about = about or f"Made by {part.made_by}"
                rows = (
                    tuple(traced(v, at) for v in row)
                    for n, row in enumerate(part.rows, 1)
                    if (at := self._at(about, f"{where}, row {n}")) >= 0
                )
                return part.model_copy(update={"rows": tuple(rows)})
            case FitFacts():
                outcome = self._words.explained(part.outcome)
                about = f"{capital(part.by.label)} of {outcome}, {self._words.sample(part)}"
                where = f"{where}, {part.engine}"
            case ChallengeFacts():
                about, where = f"Challenge: {part.title}", f"{where}, {part.name}"
            case FollowedFacts():
                about = f"What followed: {part.kind.replace('_', ' ')}, {part.outcome.replace('_', ' ')}"
                where = f"{where}, {part.kind}"
            case PersonSeries():
                return part
            case tuple():
                return tuple(self._traced(v, about, where) for v in part)
            case Part() | Mapping():
                pass
            case _:
                return traced(part, self._at(about, where)) if isinstance(part, int | float) else part
        if isinstance(part, Mapping) and "unit" in part:  # a figure of a claim
            n, steps = part.get("people"), part.get("steps")
            at = self._at(f"{about}, {self._words.sizes(n, steps)}" if n and steps else about, where)
            return {k: traced(v, at) for k, v in part.items()}
        held = part.items() if isinstance(part, Mapping) else iter(part)
        found = {k: self._named(str(k), v, about, where) for k, v in held}
        return found if isinstance(part, Mapping) else part.model_copy(update=found)

    def _named(self, name: str, part: Any, about: str, where: str) -> Any:
        if name in PLAIN:
            return part
        if name in TEXTS:
            return all_marked(part, self._at(about, where))
        return self._traced(part, about, f"{where}, {name}".removeprefix(", "))
