"""Tables for a version to share: numbers rounded and suppressed as numbers, rows of few people and what would
give them back left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lagwise.core.numbers import FEWEST_SHOWN, floored, is_few
from lagwise.core.question import Outcome
from lagwise.findings import Table
from lagwise.writeup.share_precision import FINE, counted, estimate_said, part, spread_unit, to_unit

Record = dict[str, Any]


@dataclass(frozen=True)
class Size:
    """The study's own size, exact: people and the steps of the longest record; `zero` is what the plan calls
    practically zero, `important` what it calls a difference that matters. `told` gives counts of person-steps
    that the findings name as they are told there, `usual` the contrasts from usual low to usual high as told.
    """

    people: int
    longest: int
    zero: float
    important: float = math.inf
    told: Mapping[float, int] = field(default_factory=dict)
    usual: Mapping[str, float] = field(default_factory=dict)

    def steps_said(self, count: float) -> int:
        """A count of person-steps: the same number alike wherever it stands."""
        return self.told.get(count) or counted(count, self.people, self.longest)


def limits_said(r: Record, names: tuple[str, ...], people: int, **how: Any) -> Record:
    """An estimate of a record and both its limits, by their names, as `estimate_said` tells them."""
    estimate, low, high = (r.get(name) for name in names)
    return dict(zip(names, estimate_said(estimate, low, high, people, **how), strict=True))


def described(tables: Mapping[str, Table], size: Size) -> dict[str, Table]:
    """The descriptive tables, each by its own rule; a table without a rule (rows per person, remarks, which
    quote rows) is left out.
    """
    rules: dict[str, Callable[[list[Record], Size], list[Record]]] = {
        "counts": _rows,
        "quarantined": _set_aside,
        "cohort": _cohort,
        "groups": _groups,
        "events": _events,
        "missing": _missing,
        "ratings": _ratings,
        "usual_range": _usual_range,
        "lacking": _lacking,
        "distribution": _distribution,
        "stretches": _stretches,
    }
    out = {}
    for name, rule in rules.items():
        if name in tables:
            records = rule(tables[name].records(), size)
            if records:
                out[name] = with_records(tables[name], records)
    return out


def with_records(table: Table, records: Iterable[Record]) -> Table:
    """The table with other rows, without the columns that none of them has."""
    rows = list(records)
    columns = [c for c in table.columns if not rows or any(c in r for r in rows)]
    units = {k: v for k, v in table.units.items() if k in columns}
    return table.model_copy(
        update={
            "columns": tuple(columns),
            "units": units,
            "rows": tuple(tuple(r.get(c) for c in columns) for r in rows),
        }
    )


def _rows(records: list[Record], size: Size) -> list[Record]:
    """Rows by table without the names of files; rows of the people table are people. Rows read are rows used
    plus rows set aside.
    """
    out = []
    for r in (r for r in records if r["table"] != "people"):
        aside, read = part(r["quarantined"], r["read"], size.people)
        told = {"table": r["table"], "read": read, "used": read - aside, "quarantined": aside}
        if r.get("cells_read") is not None:
            lost, filled = part(r["cells_quarantined"], r["cells_read"], size.people)
            told |= {"cells_read": filled, "cells_used": filled - lost, "cells_quarantined": lost}
        out.append(told)
    return out


def _set_aside(records: list[Record], size: Size) -> list[Record]:
    said = ("rows", "cells")
    return [
        r | {k: counted(r[k], size.people) for k in said if k in r} for r in records if r["table"] != "people"
    ]


def _cohort(records: list[Record], size: Size) -> list[Record]:
    """Means over people, no lowest and highest value, which are one person's own; quantiles where
    `FEWEST_SHOWN` people lie on each side.
    """
    out = []
    for r in records:
        people = r["n_people"]
        if r["level"] != "person" or is_few(people):
            continue
        gone = {"low", "high"}
        gone |= {"q1", "q3"} if people < 4 * FEWEST_SHOWN else set()
        gone |= {"median"} if people < 2 * FEWEST_SHOWN else set()
        unit = spread_unit(r["sd"], r["median"] or r["mean"] or 0.0, people)
        told = {
            k: r[k] if r[k] is None else to_unit(r[k], unit)
            for k in ("mean", "sd", "median", "q1", "q3", "low", "high")
        }
        out.append({**r, "n_people": floored(people), "n_steps": None} | told | dict.fromkeys(gone))
    return out


def _groups(records: list[Record], size: Size) -> list[Record]:
    """Levels of few people, and the next smallest of that variable, are not named; shares would undo the
    rounding.
    """
    hidden: set[int] = set()
    for variable in {r["variable"] for r in records}:
        hidden |= together([i for i, r in enumerate(records) if r["variable"] == variable], records)
    return [
        {**r, "n_people": floored(r["n_people"]), "share": None}
        for i, r in enumerate(records)
        if i not in hidden
    ]


def _events(records: list[Record], size: Size) -> list[Record]:
    """Kinds of event of few people are not named; all events add up to the rows read."""
    hidden = together(list(range(len(records))), records)
    return [
        {**r, "n_people": floored(r["n_people"]), "n_events": counted(r["n_events"], r["n_people"])}
        for i, r in enumerate(records)
        if i not in hidden
    ]


def _missing(records: list[Record], size: Size) -> list[Record]:
    """No lowest and highest share, which are one person's own; no variable that few recorded, no comparison
    made in few people.
    """
    out = []
    for r in records:
        if is_few(r["n_people_any"]):
            continue
        known, steps = part(r["n_known"], r["n_steps"], size.people, size.longest)
        few = is_few(r["n_compared"])
        after = ("after_missing", "low", "high")
        out.append(
            {
                **r,
                "n_known": known,
                "n_steps": steps,
                "share_known": known / steps if steps else None,
                "lowest_share": None,
                "highest_share": None,
                "n_people": floored(r["n_people"]),
                "n_people_any": floored(r["n_people_any"]),
                "n_compared": None if few else floored(r["n_compared"]),
            }
            | (dict.fromkeys(after) if few else limits_said(r, after, r["n_compared"]))
        )
    return out


def _ratings(records: list[Record], size: Size) -> list[Record]:
    """Values of a scale that few people used left out, with what the whole would give back; shares are those
    of the rounded counts that are left.
    """
    out = []
    for variable in dict.fromkeys(r["variable"] for r in records):
        at = [i for i, r in enumerate(records) if r["variable"] == variable]
        hidden = together(at, records)
        shares: dict[int, float | None] = dict.fromkeys((records[i]["value"] for i in hidden), None)
        kept = [records[i] for i in at if i not in hidden]
        counts = {r["value"]: counted(r["n"], r["n_people"]) for r in kept}
        whole = sum(counts.values())
        shares |= {v: n / whole if whole else 0.0 for v, n in counts.items()}
        for r in (r for r in kept if r["n_people"]):
            beside = [shares.get(r["value"] + side) for side in (-1, 1)]
            between = None if None in beside else sum(v for v in beside if v is not None) / 2
            out.append(
                {
                    **r,
                    "n": counts[r["value"]],
                    "share": shares[r["value"]],
                    "n_people": floored(r["n_people"]),
                    "n_people_only": None,
                    "neighbours_share": between,
                }
            )
    return out


def _lacking(records: list[Record], size: Size) -> list[Record]:
    """What the record lacks, without the length of one person's record."""
    return [r | {"have": None if r["code"] == "short" else floored(r["have"])} for r in records]


def _distribution(records: list[Record], size: Size) -> list[Record]:
    """Stretches that values of few people lie in left out, with what the whole would give back."""
    out = []
    for variable in dict.fromkeys(r["variable"] for r in records):
        at = [i for i, r in enumerate(records) if r["variable"] == variable]
        hidden = together(at, records)
        kept = [records[i] for i in at if i not in hidden and records[i]["n"]]
        if 3 * sum(r["n"] for r in kept) < 2 * sum(records[i]["n"] for i in at):
            continue  # with so much left out, what is left is another picture
        out += [r | {"n": counted(r["n"], r["n_people"]), "n_people": floored(r["n_people"])} for r in kept]
    return out


def _stretches(records: list[Record], size: Size) -> list[Record]:
    """Differences between stretches of the calendar that enough people stand behind, and pairs that nobody
    could be compared in whoever there is; nothing of which pairs few people are in."""
    out = []
    for r in records:
        n = r["n_people"]
        if n < FEWEST_SHOWN and r["reason"] not in ("overlap", "numbered"):
            continue
        told: Record = {}
        for name in ("difference", "trend", "beyond"):
            told |= limits_said(r, (name, f"{name}_low", f"{name}_high"), n)
        told |= {"n_people": floored(n), "n_steps": counted(r["n_steps"], n, size.longest)}
        gone = ("mean_earlier", "mean_later", "df", "steps_apart")
        out.append({k: v for k, v in (r | told).items() if k not in gone})
    return out


def _usual_range(records: list[Record], size: Size) -> list[Record]:
    """Mean spreads within people, of exposures that enough people recorded twice."""
    kept = [r for r in records if r["within_sd"] is not None and not is_few(r["n_people"])]
    return [
        {
            "term": r["term"],
            "within_sd": to_unit(
                r["within_sd"], spread_unit(r["within_sd"], r["within_sd"], r["n_people"], FINE)
            ),
            "n_people": floored(r["n_people"]),
        }
        for r in kept
    ]


def rated(records: list[Record], asked: Outcome, size: Size) -> tuple[int, int] | None:
    """How many ratings of it are at the lower end, and of how many, rounded as in the table of ratings; None
    where few people rated that.
    """
    mine = _ratings([r for r in records if r["variable"] == asked.name], size)
    zero = next((r for r in mine if r["value"] == asked.variable.low), None)
    return None if zero is None else (zero["n"], sum(r["n"] for r in mine))


def together(rows: list[int], records: list[Record]) -> set[int]:
    """Which of these rows, whose total is known, to leave out: those of few people, then the next smallest
    until two or more are left out, of `FEWEST_SHOWN` people together.
    """
    size = {i: int(records[i]["n_people"] or 0) for i in rows}
    order = sorted((i for i in rows if size[i]), key=size.__getitem__)
    gone = [i for i in order if is_few(size[i])]
    for i in order[len(gone) :] if gone else ():
        if len(gone) >= 2 and sum(size[j] for j in gone) >= FEWEST_SHOWN:
            break
        gone.append(i)
    return set(gone)
