"""Tables for a version to share: rows of few people left out, and what would give them back."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from lagwise.writeup.findings import Scalar, Table
from lagwise.writeup.share_counts import FEWEST_SHOWN, floored, is_few

_COUNTS = re.compile(r"(?:\w+_)?people(?:_any)?|n_compared")
_COUNTED = re.compile(r"(?:(?:\w+_)?(?<!between_)(?<!within_)people|people\b.*)")
_OF = re.compile(r"of (\d+)")

Record = dict[str, Any]


def described(tables: Mapping[str, Table]) -> dict[str, Table]:
    """The descriptive tables, each by its own rule; rows per person and remarks, which quote single rows, are left out."""
    rules: dict[str, Callable[[list[Record]], list[Record]]] = {
        "counts": _no_people_rows, "quarantined": _no_people_rows, "cohort": _cohort, "groups": _groups,
        "events": _events, "missing": _missing, "ratings": _ratings,
    }  # fmt: skip
    out = {}
    for name, table in tables.items():
        if name == "remarks" or "person" in table.columns:
            continue
        rule = rules.get(name)
        kept = table if rule is None else _with(table, rule(table.records()))
        kept = few_out(kept)
        if len(kept):
            out[name] = kept
    return out


def without(table: Table, names: Iterable[str], shown: Mapping[str, str]) -> Table | None:
    """A table as it is where no row is a single person's; else with the names `shown`, or None where none are."""
    codes = set(names)
    if "person" not in table.columns and not any(v in codes for row in table.rows for v in row if isinstance(v, str)):
        return table
    if not shown:
        return None
    rows = (tuple(shown.get(v, v) if isinstance(v, str) else v for v in row) for row in table.rows)
    return table.model_copy(update={"rows": tuple(rows)})


def few_out(table: Table) -> Table:
    """A table without rows that count 1 to 4 people, its other counts of people rounded down.

    Counts stand in columns such as n_people, or in rows whose first cell says that it is people who are counted.
    """
    counts = {i for i, c in enumerate(table.columns) if _COUNTS.fullmatch(c)}
    rows = []
    for row in table.rows:
        told = {i for i in counts if isinstance(row[i], int | float)}
        if row and isinstance(row[0], str) and _COUNTED.fullmatch(row[0]):
            told |= {i for i, v in enumerate(row) if table.columns[i] == "value" and v is not None}
        if not any(is_few(_number(row[i])) for i in told):
            rows.append(tuple(_cell(v, i in told, bool(told)) for i, v in enumerate(row)))
    return table.model_copy(update={"rows": tuple(rows)})


def _cell(value: Scalar, told: bool, beside: bool) -> Scalar:
    if told:
        return floored(_number(value))
    if beside and isinstance(value, str) and (found := _OF.fullmatch(value)):
        total = floored(int(found[1]))
        return "" if total is None else f"of {total}"
    return value


def _number(value: Scalar) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _with(table: Table, records: list[Record]) -> Table:
    return table.model_copy(update={"rows": tuple(tuple(r[c] for c in table.columns) for r in records)})


def _no_people_rows(records: list[Record]) -> list[Record]:
    """Rows of the people table are people."""
    return [r for r in records if r["table"] != "people"]


def _cohort(records: list[Record]) -> list[Record]:
    """No lowest and highest value, which are one person's own; quantiles where `FEWEST_SHOWN` people lie on each side."""
    out = []
    for r in records:
        gone = {"low", "high"}
        gone |= {"q1", "q3"} if r["n_people"] < 4 * FEWEST_SHOWN else set()
        gone |= {"median"} if r["n_people"] < 2 * FEWEST_SHOWN else set()
        out.append({k: None if k in gone else v for k, v in r.items()})
    return out


def _groups(records: list[Record]) -> list[Record]:
    """Levels of few people not counted, nor the next smallest of that variable; shares would undo the rounding."""
    hidden: set[int] = set()
    for variable in {r["variable"] for r in records}:
        hidden |= together([i for i, r in enumerate(records) if r["variable"] == variable], records)
    return [{**r, "n_people": None if i in hidden else r["n_people"], "share": None} for i, r in enumerate(records)]


def _events(records: list[Record]) -> list[Record]:
    """Kinds of event of few people not counted; all events add up to the rows read."""
    hidden = together(list(range(len(records))), records)
    return [{**r, "n_people": None, "n_events": None} if i in hidden else r for i, r in enumerate(records)]


def _missing(records: list[Record]) -> list[Record]:
    """No lowest and highest share, which are one person's own; no comparison made in few people."""
    out = []
    for r in records:
        gone = {"lowest_share", "highest_share"}
        if is_few(r["n_compared"]):
            gone |= {"after_missing", "low", "high", "n_compared"}
        out.append({k: None if k in gone else v for k, v in r.items()})
    return out


def _ratings(records: list[Record]) -> list[Record]:
    """Values of a scale that few people used left out, with what their neighbours' mean and the whole would give back."""
    hidden: set[int] = set()
    for variable in {r["variable"] for r in records}:
        hidden |= together([i for i, r in enumerate(records) if r["variable"] == variable], records)
    lost = {(records[i]["variable"], records[i]["value"]) for i in hidden}
    out = []
    for i, r in enumerate(records):
        if i not in hidden and r["n_people"]:
            beside = {(r["variable"], r["value"] + side) for side in (-1, 1)} & lost
            out.append({**r, "n_people_only": None, "neighbours_share": None if beside else r["neighbours_share"]})
    return out


def together(rows: list[int], records: list[Record]) -> set[int]:
    """Which of these rows, whose total is known, to leave out: those of few people, then the next smallest until two or
    more are left out, of `FEWEST_SHOWN` people together."""
    size = {i: int(records[i]["n_people"] or 0) for i in rows}
    order = sorted((i for i in rows if size[i]), key=size.__getitem__)
    gone = [i for i in order if is_few(size[i])]
    for i in order[len(gone) :] if gone else ():
        if len(gone) >= 2 and sum(size[j] for j in gone) >= FEWEST_SHOWN:
            break
        gone.append(i)
    return set(gone)
