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

    What is left still describes these people: it is less revealing, not anonymous.
    """
    if findings.study.consent_single_person_plots:
        return findings
    codes = {p.person for p in findings.people}
    changed = {
        "people": (),
        "tables": {k: _few_hidden(t) for k, t in findings.tables.items() if "person" not in t.columns},
        "fits": tuple(
            f.model_copy(update={"tables": {k: t for k, t in f.tables.items() if "person" not in t.columns}})
            for f in findings.fits
        ),
        "challenges": tuple(
            ChallengeFacts.model_validate(_uncoded(c.model_dump(), codes)) for c in findings.challenges
        ),
    }
    found = findings.model_copy(update=changed)
    return found.model_copy(update={"numbers": {**found.numbers, **checklist_numbers(found)}})


def _few_hidden(table: Table) -> Table:
    """A table of groups with the counts and shares of groups below `FEWEST_SHOWN` people left out."""
    if not {"n_people", "share", "value"} <= set(table.columns) or "counted" in table.columns:
        return table
    at = {name: i for i, name in enumerate(table.columns)}
    rows = []
    for row in table.rows:
        hidden = int(row[at["n_people"]] or 0) < FEWEST_SHOWN
        rows.append(tuple(None if hidden and i in (at["n_people"], at["share"]) else v for i, v in enumerate(row)))
    return table.model_copy(update={"rows": tuple(rows)})


def _uncoded(value: Any, codes: set[str]) -> Any:
    """Plain data with people's codes replaced; inside a sentence only codes that hold a letter can be told apart."""
    if isinstance(value, dict):
        return {k: _uncoded(v, codes) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_uncoded(v, codes) for v in value]
    if not isinstance(value, str):
        return value
    if value in codes:
        return "one person"
    for code in sorted((c for c in codes if any(x.isalpha() for x in c)), key=len, reverse=True):
        value = re.sub(rf"(?<!\w){re.escape(code)}(?!\w)", "one person", value)
    return value
