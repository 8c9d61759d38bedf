"""A study.toml read as far as it goes: what is wrong with each of its lines, and the plan of the others."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lagwise.caseload.check_edits import Edit, applied, line_of
from lagwise.caseload.study_file import NAME, load_study, no_toml, study_from
from lagwise.core.claim import told
from lagwise.core.errors import StudyError
from lagwise.core.study import AnalysisPlan, Study

MOST = 40
"""Problems of a plan that are looked for."""
DEPTH, TRIED, LONGEST = 5, 60, 50_000
"""Levels of sections and keys that are tried for the fault, and bytes of a plan in which it is looked for."""
WIDEST = {"low": -1e6, "high": 1e6}
"""A scale on which all numbers lie."""
_LINE = re.compile(r"at line (\d+)")


@dataclass(frozen=True)
class Fault:
    """A line of study.toml that cannot be used: the error, its number (0 where it is not told), and how it
    would be written, where that is known."""

    error: StudyError
    line: int = 0
    instead: str = ""


@dataclass(frozen=True)
class Plan:
    """What could be read of a study.toml: its text, the values that are used, the plan they make, and what is
    wrong with the others."""

    text: str
    values: Mapping[str, Any]
    study: Study
    problems: tuple[Fault, ...] = ()


def read_plan(folder: str | Path) -> Plan:
    """The plan of a caseload folder without the lines that cannot be used.

    Raises
    ------
    CaseloadError
        When the folder or its study.toml is missing.
    StudyError
        When nothing of the file can be read.
    """
    first = None
    try:
        study = load_study(folder)
    except StudyError as error:
        first = error
    path = Path(folder) / NAME
    if first is not None and (path.stat().st_size > LONGEST or told(first.what).reason == "many_points"):
        raise first
    try:
        text = path.read_text("utf-8-sig")
    except ValueError:
        raise first or StudyError("is not UTF-8 text", where=NAME) from None
    if first is None:
        return Plan(text, tomllib.loads(text), study)
    values, faults = _lines_that_parse(text)
    if values is None:
        raise first
    if "title" not in values:
        if not faults:
            mend = 'Write it in the first line: title = "..."'
            faults.append(Fault(StudyError("title is missing", where=NAME, mend=mend)))
        values = {"title": Path(folder).resolve().name or "Untitled", **values}
    while len(faults) < MOST:
        try:
            return Plan(text, values, study_from(values), tuple(faults))
        except StudyError as error:
            at = _culprit(values, error)
            if at is None:
                break
            meant = _meant(values, at, error)
            faults.append(_placed(error, at, text, meant is not None))
            values = meant or _read_on(values, _named(error), error) or without(values, at)
    raise first


def _lines_that_parse(text: str) -> tuple[Mapping[str, Any] | None, list[Fault]]:
    """The values of the lines that are TOML, and an error for each other; None where that is not told."""
    lines, problems = text.split("\n"), list[Fault]()
    while len(problems) < MOST:
        try:
            return tomllib.loads("\n".join(lines)), problems
        except (ValueError, RecursionError) as error:
            found = _LINE.search(str(error))
            at = int(found[1]) - 1 if found else -1
            if not 0 <= at < len(lines) or not lines[at].strip():
                break
            fault = no_toml(f"'{lines[at].strip()[:60]}' ", error, f"{NAME}, line {at + 1}")
            problems.append(Fault(fault, at + 1))
            lines[at] = ""
    return None, problems


def _culprit(values: Mapping[str, Any], error: StudyError) -> tuple[str, ...] | None:
    """The key without which the plan is read, or has another fault; the one that the error names first."""
    paths = [path for path in _paths(values) if path != ("title",)]
    named = {*_named(error)}
    ranked = sorted(
        paths, key=lambda path: (path[-1] not in named, -sum(part in named for part in path), -len(path))
    )
    other = None
    for path in ranked[:TRIED]:
        try:
            study_from(without(values, path))
        except StudyError as now:
            if str(now) != str(error) and other is None and path[-1] in named:
                other = path
        else:
            return path
    return other


def _named(error: StudyError) -> tuple[str, ...]:
    """The sections and the key that an error names, of several sections of one name also which."""
    return tuple(part for part in re.split(r"[.\[\]]", told(error.what).numbers.get("key", "")) if part)


def _meant(values: Mapping[str, Any], path: tuple[str, ...], error: StudyError) -> Mapping[str, Any] | None:
    """The values with the nearest known key or value in place of a mistyped one; None where that is no
    help."""
    hint = told(error.mend).numbers
    if "near" not in hint:
        return None
    last, value, near = path[-1], at_path(values, path), hint["near"]
    if last == hint["wrong"]:
        moved = applied(without(values, path), Edit(path[:-1], {near: value}))
    elif value == hint["wrong"]:
        moved = applied(values, Edit(path[:-1], {last: near}))
    else:
        return None
    try:
        study_from(moved)
    except StudyError as now:
        again = near in {*_named(now), str(told(now.what).numbers.get("value"))}
        return None if again or str(now) == str(error) else moved
    return moved


def _read_on(values: Mapping[str, Any], at: tuple[str, ...], error: StudyError) -> Mapping[str, Any] | None:
    """The values with something legal in the place of a key on which others hang, so that these are no faults
    as well: the ends of a scale, a rating that is not declared, the primary exposure. None where that is no
    help."""
    fault, edits = told(error.what).numbers, list[Edit]()
    if at[:1] == ("ratings",) and {*at[2:]} <= {*WIDEST}:
        edits.append(Edit(at[:2], WIDEST))
    elif at[:1] == ("tables",) and at[2:3] == ("columns",):
        edits.append(Edit(("ratings", at[-1]), WIDEST))
    elif at[:1] == ("analysis",) and isinstance(fault.get("value"), str):
        edits.append(Edit(("ratings", fault["value"]), WIDEST))
        if at[1] == "primary":
            asked = at_path(values, ("analysis", "exposures"), AnalysisPlan.exposures)
            edits.append(Edit(at[:1], {"primary": asked[0], "primary_contrast": 1.0}))
    for edit in edits:
        moved = applied(values, edit)
        try:
            study_from(moved)
        except StudyError as now:
            if told(now.what).numbers == fault or _named(now)[:2] == edit.section != at[:2]:
                continue
        return moved
    return None


def _placed(error: StudyError, path: tuple[str, ...], text: str, meant: bool) -> Fault:
    at = (0 if meant else line_of(_named(error), text)) or line_of(path, text)
    if not at:
        return Fault(error)
    line, hint = text.split("\n")[at - 1], told(error.mend).numbers
    instead = line.strip().replace(hint["wrong"], hint["near"], 1) if meant else ""
    return Fault(StudyError(error.what, where=f"{NAME}, line {at}", mend=error.mend), at, instead)


def _paths(values: Mapping[str, Any], above: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    for key, value in values.items():
        if isinstance(value, Mapping) and len(above) < DEPTH:
            yield from _paths(value, (*above, key))
        yield (*above, key)


def without(values: Mapping[str, Any], path: tuple[str, ...]) -> dict[str, Any]:
    """The values of a study.toml without one key."""
    first, *rest = path
    if not rest:
        return {key: value for key, value in values.items() if key != first}
    return {**values, first: without(values[first], tuple(rest))}


def columns_named(values: Mapping[str, Any], table: str, ours: str) -> list[tuple[str, ...]]:
    """The paths of the keys that give a column of ours its headers in a table."""
    inside = ("tables", table)
    return [path for path in _paths(values) if path[:2] == inside and ours in path and len(path) > 3]


def at_path(values: Mapping[str, Any], path: tuple[str, ...], absent: Any = None) -> Any:
    """What a study.toml has for a key, `absent` where it has none."""
    inner: Any = values
    for key in path:
        if not isinstance(inner, Mapping) or key not in inner:
            return absent
        inner = inner[key]
    return inner
