"""What a check asks for first: everything that an edit of study.toml mends, grouped by the edit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

import pandas as pd

from lagwise.caseload.check_edits import Edit, applied, block, edits_of, together
from lagwise.caseload.check_reading import Reading
from lagwise.caseload.check_table import Problem
from lagwise.caseload.reading import read_as
from lagwise.caseload.remarks import shown
from lagwise.caseload.study_file import study_from
from lagwise.core.claim import told
from lagwise.core.columns import PLACING
from lagwise.core.errors import LagwiseError
from lagwise.core.numbers import plural
from lagwise.core.results import Caseload
from lagwise.core.words import listed
from lagwise.document.tree import Block, Box, Heading, Para, Span, bullets, para, strong
from lagwise.pages.check_parts import Matter
from lagwise.panel import build_panel
from lagwise.say.check.paste import to_paste
from lagwise.say.check_page import TEXTS

MOST_ROWS, MOST_EDITS = 30_000, 12
"""Rows of a caseload up to which it is read anew to tell what an edit would bring, and edits tried so."""


@dataclass(frozen=True)
class Need:
    """What one edit mends: the problems, each behind its place, how to mend them in words, the edits.

    The first edit is the likeliest; there is none where a file itself must be mended. `brings` is what it
    would bring, `stops` whether a report waits for it; `line` and `instead` a line of study.toml and how it
    would be written; `columns` the headers that are not read and may be ours.
    """

    said: tuple[tuple[str, str], ...]
    mends: tuple[str, ...]
    edits: tuple[Edit, ...] = ()
    brings: str = ""
    why: str = ""
    stops: bool = True
    line: int = 0
    instead: str = ""
    columns: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """What needs share that one paste mends: the section where there is one way, else the edit itself."""
        if len(self.edits) == 1 and (self.stops or self.columns):
            return repr((self.edits[0].section, self.stops))
        return self.edits[0].key if self.edits else repr((self.said, self.line))

    def beside(self, other: Need) -> Need:
        """This need and another of the same paste as one."""
        said = tuple(dict.fromkeys((*self.said, *other.said)))
        mends = tuple(dict.fromkeys((*self.mends, *other.mends)))
        edits = tuple(together((*self.edits, *other.edits))) if self.edits[1:] == () else self.edits
        columns = (*self.columns, *other.columns)
        if columns:
            table = self.edits[0].section[-2]
            said = (("", TEXTS["several_perhaps_ours"].format(table=table, columns=listed(columns))),)
        brings = self.brings or other.brings
        return replace(self, said=said, mends=mends, edits=edits, brings=brings, columns=columns)


def needs(reading: Reading, matters: Iterable[Matter]) -> tuple[list[Need], list[Matter]]:
    """What needs an edit, what stops a report first; and of the matters noticed in what could be read those
    that need none."""
    found = [_of_problem(problem, reading) for problem in reading.problems]
    rest = []
    for matter in matters:
        edits = edits_of(matter.mend)
        if edits and told(matter.mend).reason != "nothing":
            found.append(_of_matter(matter, edits))
        else:
            rest.append(matter)
    grouped: dict[str, Need] = {}
    for need in found:
        grouped[need.key] = grouped[need.key].beside(need) if need.key in grouped else need
    ordered = sorted(grouped.values(), key=lambda need: not need.stops)
    return _with_effects(ordered, reading), rest


def need_blocks(asked: Sequence[Need], text: str, *, page: bool = False) -> Iterator[Block]:
    """What needs an edit, each with the edit to paste, and all sure ones in one: at the end, on a `page`
    first, with the single ones folded.

    `text` is that of study.toml.
    """
    stop, offers = [need for need in asked if need.stops], [need for need in asked if not need.stops]
    if stop:
        yield Heading(2, TEXTS["stops"].format(n=len(stop)), "needs")
    given: dict[tuple[str, ...], int] = {}
    singly = [list(_need(at, need, text, given)) for at, need in enumerate(stop, 1)]
    sure = together(need.edits[0] for need in stop if len(need.edits) == 1)
    new = [edit for edit in sure if to_paste(edit, text, {})[1] == block(edit) and edit.section]
    whole = lines("\n\n".join(map(block, new))) if len(new) > 1 else None
    if page and whole:
        yield para(TEXTS["all_paste"])
        yield whole
    for need, blocks in zip(stop, singly, strict=True):
        yield from [_fold(blocks)] if page and whole and len(need.edits) == 1 else blocks
    if whole and not page:
        yield Heading(3, TEXTS["all_edits"], "all-edits")
        yield whole
    if offers:
        yield Heading(2, TEXTS["offers"].format(n=len(offers)), "offers")
    for at, need in enumerate(offers, len(stop) + 1):
        yield from _need(at, need, text, given)


def _fold(blocks: Sequence[Block]) -> Box:
    """One thing to mend under its first line."""
    lead, *rest = blocks
    return Box("".join(span.text for span in cast(Para, lead).spans), tuple(cast(list[Para], rest)), "fold")


def _need(at: int, need: Need, text: str, given: dict[tuple[str, ...], int]) -> Iterator[Block]:
    (first, lead), *more = need.said
    same = [what for place, what in more if place and place == first]
    yield para(strong(f"{at}. {_placed(first, '; '.join((lead, *same)))}"), role="lead")
    others = [_placed(place, what) for place, what in more if not place or place != first]
    why = TEXTS["why"].format(why=need.why) if need.why else ""
    mends = (
        told(mend).numbers.get("beyond", mend) for mend in need.mends
    )  # without the edit shown beside it
    if said := [one for one in (*others, *mends, why, need.brings) if one]:
        yield bullets(*said)
    if need.instead:
        yield para(TEXTS["in_place"].format(line=need.line))
        yield lines(need.instead)
    before = ""
    for edit in need.edits:
        where, written = to_paste(edit, text, given)
        yield para(where if not before else "or" if where == before else f"or {where[0].lower()}{where[1:]}")
        yield lines(written)
        before = where
    for edit in need.edits:
        given.setdefault(edit.section, at)


def _placed(place: str, what: str) -> str:
    return f"{place}: {what}" if place else what


def lines(text: str) -> Block:
    """Text to copy, line by line."""
    return para(*(Span(line, "code") for line in text.split("\n")), role="lines")


def _of_problem(problem: Problem, reading: Reading) -> Need:
    where = problem.where
    if problem.table and problem.table not in where:
        where = f"{problem.table} ({where})"
    brings = _brought(problem, reading)
    mends = (problem.mend,) if problem.mend and not problem.instead else ()
    said = ((where, problem.what),)
    return Need(said, mends, problem.edits, brings, line=problem.line, instead=problem.instead)


def _of_matter(matter: Matter, edits: tuple[Edit, ...]) -> Need:
    where = f" ({matter.examples})" if matter.examples else ""
    said = ((matter.place, f"{matter.what}{where}"),)
    if matter.code != "ignored_column" or edits[0].section[-1] != "columns":
        return Need(said, (matter.mend,), edits, "", matter.why, stops=False)
    ((ours, header),) = edits[0].keys.items()
    header, gain = f"'{shown(header)}'", told(matter.mend).numbers["gain"]
    said = (("", TEXTS["perhaps_ours"].format(table=edits[0].section[1], columns=header)),)
    may = TEXTS["may_be"].format(header=header, columns=ours, gain=gain and f" ({gain})")
    return Need(said, (may,), edits, "", matter.why, stops=False, columns=(header,))


def _brought(problem: Problem, reading: Reading) -> str:
    """What a table, or its column in question, would hold with the edits proposed."""
    rows, people, values, steps = problem.brings
    if not rows or not problem.edits:
        return ""
    study = reading.plan.study
    optional = problem.is_optional(study)
    what = (
        plural(values, f"{problem.column} value") if optional else f"{plural(rows, 'row')} of {problem.table}"
    )
    whose = plural(people, "person", "people")
    when = f": {plural(steps, study.step)} of {whose}" if steps else f", of {whose}"
    others = sum(p.table == problem.table for p in reading.problems) > 1
    with_ = TEXTS["other_edits"].format(table=problem.table) if others else ""
    return TEXTS["brings"].format(what=what, when=when, others=with_)


def _with_effects(asked: list[Need], reading: Reading) -> list[Need]:
    """Each offer with what reading anew under it would change, where that is quickly told."""
    base = reading.caseload
    if base is None or int(base.counts["read"].sum()) > MOST_ROWS:
        return asked
    out, tried = [], 0
    for need in asked:
        known = need.brings or any(told(mend).numbers.get("gain") for mend in need.mends)
        if need.edits and not need.stops and not known and tried < MOST_EDITS:
            tried += 1
            need = replace(need, brings=effect(base, reading.values, need.edits[0]))
        out.append(need)
    return out


def effect(base: Caseload, values: Mapping[str, object], edit: Edit) -> str:
    """What reading the folder of a caseload anew with an edit would change, as a sentence; empty where
    nothing, or where that cannot be told."""
    try:
        other = read_as(base.folder, study_from(applied(values, edit)))
        before, after = _known(base), _known(other)
    except LagwiseError:
        return ""
    changes = [
        f"{plural(abs(d), noun)} {of} {'more' if d > 0 else 'fewer'}"
        for noun, of in after
        if (d := int(after[noun, of] - before.get((noun, of), 0)))
    ]
    return TEXTS["read_with_it"].format(told=listed(changes)) if changes else ""


def _known(caseload: Caseload) -> dict[tuple[str, str], int]:
    """Rows used by table, filled cells by column, and steps with known load and with a rating."""
    out: dict[tuple[str, str], int] = {}
    for table in ("sessions", "checkins", "people", "events", "weeks"):
        frame: pd.DataFrame = getattr(caseload, table)
        if frame.empty:
            continue
        out["row", f"of {table}"] = len(frame)
        filled = frame.drop(columns=["person", "row"]).notna().sum()
        out |= {("value", f"of {name}"): int(n) for name, n in filled.items() if name not in PLACING[1:3]}
    panel = build_panel(caseload)
    asked = panel.study.outcome
    out[panel.study.step, "with known load"] = int(panel.frame["load"].notna().sum())
    out[panel.study.step, f"with {asked.variable.label}"] = int(panel.frame[asked.name].notna().sum())
    return out
