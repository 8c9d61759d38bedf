"""A version of the findings that can be shared: no single person's course, code or row."""

from __future__ import annotations

import re
from typing import Any

from lagwise.writeup.collect import checklist_numbers
from lagwise.writeup.findings import ChallengeFacts, Findings, Table

FEWEST_SHOWN = 5
"""Groups with fewer people are not counted in a version to share."""


def shared(findings: Findings) -> Findings:
    """The findings without single people's courses, codes and tables, unless the plan attests consent.

    What is left still describes these people: it is less revealing, not anonymous. Pages for single people are never shared.
    """
    if findings.study.consent_single_person_plots:
        return findings.model_copy(update={"for_person": ()})
    codes = {p.person for p in findings.people}
    changed = {
        "people": (),
        "for_person": (),
        "tables": {k: _few_hidden(t) for k, t in findings.tables.items() if "person" not in t.columns},
        "fits": tuple(
            f.model_copy(update={"tables": {k: t for k, t in f.tables.items() if "person" not in t.columns}})
            for f in findings.fits
        ),
        "challenges": tuple(_renamed(c, codes) for c in findings.challenges),
    }
    found = findings.model_copy(update=changed)
    return found.model_copy(update={"numbers": {**found.numbers, **checklist_numbers(found)}})


def _few_hidden(table: Table) -> Table:
    """A table of groups or events with what was counted in fewer than `FEWEST_SHOWN` people left out.

    The people of a variable's levels add up to a known total, so a level left out alone could be worked out: as many
    of the next smallest go with it as it takes for those left out to be two or more, of `FEWEST_SHOWN` people together.
    Of the use of rating scales, values that few people used are left out as rows, and so is who used nothing else.
    """
    if {"value", "n_people", "n_people_only"} <= set(table.columns):
        return _rare_values_out(table)
    if {"q1", "q3", "low", "high"} <= set(table.columns):
        return _ends_out(table)
    if {"variable", "value", "n_people", "share"} <= set(table.columns):
        parts, out = "variable", ("n_people", "share")
    elif {"kind", "n_people", "n_events"} <= set(table.columns):
        parts, out = "", ("n_people", "n_events")
    else:
        return table
    at = {name: i for i, name in enumerate(table.columns)}
    size = [int(row[at["n_people"]] or 0) for row in table.rows]
    hidden = {i for i, n in enumerate(size) if n < FEWEST_SHOWN}
    for variable in {row[at[parts]] for row in table.rows} if parts else ():
        levels = sorted((i for i, row in enumerate(table.rows) if row[at[parts]] == variable), key=size.__getitem__)
        gone = [i for i in levels if i in hidden]
        for i in levels[len(gone) :] if gone else ():
            if len(gone) >= 2 and sum(size[j] for j in gone) >= FEWEST_SHOWN:
                break
            gone.append(i)
        hidden |= {*gone}
    rows = tuple(
        tuple(None if i in hidden and name in out else value for name, value in zip(table.columns, row, strict=True))
        for i, row in enumerate(table.rows)
    )
    return table.model_copy(update={"rows": rows})


def _ends_out(table: Table) -> Table:
    """A summary without its lowest and highest values, each of which is one person's own."""
    ends = {table.columns.index("low"), table.columns.index("high")}
    rows = tuple(tuple(None if i in ends else value for i, value in enumerate(row)) for row in table.rows)
    return table.model_copy(update={"rows": rows})


def _rare_values_out(table: Table) -> Table:
    people, only = table.columns.index("n_people"), table.columns.index("n_people_only")
    rows = tuple(
        tuple(None if i == only else value for i, value in enumerate(row))
        for row in table.rows
        if int(row[people] or 0) >= FEWEST_SHOWN
    )
    return table.model_copy(update={"rows": rows})


def _renamed(challenge: ChallengeFacts, codes: set[str]) -> ChallengeFacts:
    """A challenge whose people are called 'person 1', 'person 2' ... in the order in which it names them."""
    names: dict[str, str] = {}

    def name(code: str) -> str:
        return names.setdefault(code, f"person {len(names) + 1}")

    lettered = sorted((c for c in codes if any(x.isalpha() for x in c)), key=len, reverse=True)
    inside = re.compile("|".join(rf"(?<!\w){re.escape(c)}(?!\w)" for c in lettered)) if lettered else None

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return {k: plain(v) for k, v in value.items()}
        if isinstance(value, list | tuple):
            return [plain(v) for v in value]
        if not isinstance(value, str):
            return value
        if value in codes:
            return name(value)
        # A code without a letter cannot be told from a number inside a sentence.
        return inside.sub(lambda m: name(m.group(0)), value) if inside else value

    return ChallengeFacts.model_validate(plain(challenge.model_dump()))
