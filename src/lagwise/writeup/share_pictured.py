"""What the pictures of a version to share are drawn from: the answer, the flow of steps and the calendar."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from lagwise.core.numbers import floored, is_few
from lagwise.core.terms import whole
from lagwise.findings import EffectRow, Findings, Table, rows_of
from lagwise.models.answer import USUAL
from lagwise.writeup.share_precision import counted, part, spread_unit, to_unit
from lagwise.writeup.share_tables import Record, Size, limits_said, together, with_records


def pictured(tables: Mapping[str, Table], size: Size) -> dict[str, Table]:
    """The tables of pictures as they may be shared; single steps and exact lines are left out."""
    rules = {
        "calendar": _calendar,
        "flow": _flow,
        "answer_levels": _answer_levels,
        "answer_bands": _answer_bands,
    }
    told = {name: rule(tables[name].records(), size) for name, rule in rules.items() if name in tables}
    return {name: with_records(tables[name], records) for name, records in told.items() if records}


def _calendar(records: list[Record], size: Size) -> list[Record]:
    """Months that enough people were recorded in, with what the whole would give back left out; ratings of
    months that enough people rated."""
    hidden = together(list(range(len(records))), records)
    out = []
    for i, r in enumerate(records):
        if i in hidden:
            continue
        few = is_few(r["n_people_rated"])
        rated, steps = part(r["rated"], r["n_steps"], r["n_people"], size.longest)
        told = {"n_steps": steps, "rated": None if few else rated}
        out.append({**r, **told} | {k: floored(r[k]) for k in ("n_people", "n_people_rated")})
    return out


def _flow(records: list[Record], size: Size) -> list[Record]:
    """Losses that enough people had, the others as one; the largest is what the others leave of the whole."""
    first, *losses = records
    whole_steps, end = (size.steps_said(r["left_steps"]) for r in (first, records[-1]))
    gone = together(list(range(len(losses))), losses)
    told = {
        r["reason"]: counted(r["n_steps"], r["n_people"], size.longest)
        for i, r in enumerate(losses)
        if i not in gone
    }
    people = {r["reason"]: floored(r["n_people"]) for i, r in enumerate(losses) if i not in gone}
    if gone:
        told["several"] = counted(sum(losses[i]["n_steps"] for i in gone), size.people)
        people["several"] = None
    if told:
        largest = max(told, key=lambda k: told[k])
        told[largest] += whole_steps - end - sum(told.values())
        if told[largest] <= 0:
            told, people = {"several": whole_steps - end}, {"several": None}
    left = whole_steps
    out = [first | {"left_steps": left, "left_people": floored(first["left_people"])}]
    kept = {r["reason"]: r["left_people"] for r in (*losses, records[-1] | {"reason": "several"})}
    for reason, steps in told.items():
        left -= steps
        lost = {"reason": reason, "n_steps": steps, "n_people": people[reason]}
        out.append(lost | {"left_steps": left, "left_people": floored(kept[reason])})
    return out


def _answer_levels(records: list[Record], size: Size) -> list[Record]:
    """The outcome at a usual exposure, of exposures that enough people show."""
    return [
        {
            "term": r["term"],
            "level": to_unit(r["level"], spread_unit(r["spread"], 0.0, r["n_people"])),
            "n_people": floored(r["n_people"]),
            "n_steps": size.steps_said(r["n_steps"]),
        }
        for r in records
        if not is_few(r["n_people"])
    ]


def _answer_bands(records: list[Record], size: Size) -> list[Record]:
    """Means by band of the exposure that enough people stand behind, over exposures to the unit of a mean;
    bands that then lie at the same exposure are one too fine, and only the first of them stays.
    """
    out: dict[tuple[str, float], Record] = {}
    for r in (r for r in records if not is_few(r["n_people"])):
        n, usual = r["n_people"], USUAL[whole(r["term"])]
        x = usual + to_unit(r["x"] - usual, spread_unit(r["x_spread"], r["x"] - usual, n))
        told = limits_said(r, ("outcome", "low", "high"), n)
        counts = {"n_people": floored(n), "n_steps": counted(r["n_steps"], n, size.longest)}
        out.setdefault((r["term"], x), {"term": r["term"], "x": x, **told, **counts})
    return list(out.values())


def answer_curve(findings: Findings) -> Table:
    """The line of each exposure from what findings to share say of it: load's dose-response at round percents
    where there is one, else the straight line of its effect, from the first band to the last.
    """
    primary = findings.as_rated
    dose = [r for f in findings.usable(name="dose") for r in rows_of(f, "dose")]
    out: list[tuple[Any, ...]] = []
    for r in rows_of(findings, "answer_levels"):
        term, level = r["term"], r["level"]
        load, ends = whole(term), [b["x"] for b in rows_of(findings, "answer_bands") if b["term"] == term]
        if load and dose:
            found = [(USUAL[True] + d["percent"], d["estimate"], d["low"], d["high"]) for d in dose]
        else:
            found = _straight(findings, primary, term, ends)
        at = {x: (estimate, low, high) for x, estimate, low, high in found} | {USUAL[load]: (0.0, 0.0, 0.0)}
        out += [(term, x, *(round(level + v, 6) for v in at[x])) for x in sorted(at) if len(at) > 1]
    return Table(columns=("term", "x", "outcome", "low", "high"), rows=tuple(out), made_by="writeup.share")


def _straight(
    findings: Findings, primary: EffectRow | None, term: str, ends: list[float]
) -> list[tuple[float, float, float, float]]:
    """The ends of an exposure's straight line: its effect as it is told, by so much of the exposure."""
    rows = findings.rows(term=term, scale="points", adjustment="adjusted", level=("within", "whole"))
    if primary is not None:
        rows = [r for r in rows if r.engine == primary.engine and r.pain_adjusted == primary.pain_adjusted]
    row = next((r for r in rows if r.contrast_size and r.low is not None and r.high is not None), None)
    if row is None or not ends:
        return []
    out = []
    for x in (min(ends), max(ends)):
        away = math.log(x / USUAL[True]) if whole(term) else x
        times = away / (row.contrast_size or 1.0)
        low, high = sorted((times * (row.low or 0.0), times * (row.high or 0.0)))
        out.append((x, times * (row.estimate or 0.0), low, high))
    return out
