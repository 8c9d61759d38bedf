"""study.toml -> Study: the plan, read with every key and value checked."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from lagwise.caseload.places import folder_of, inside
from lagwise.caseload.repairs import REPAIRS
from lagwise.caseload.scales import scale
from lagwise.core import columns, consistent
from lagwise.core import legal as spec
from lagwise.core.claim import coded, said
from lagwise.core.columns import Column
from lagwise.core.errors import CaseloadError, StudyError
from lagwise.core.opening import read_once
from lagwise.core.study import NO_LONGER_ASKED, Study, TableSource
from lagwise.core.variable import PAIN

NAME = "study.toml"
_MAX_BYTES = 1_000_000
_MOST_POINTS = 1000
"""In one line; a key of so many parts would take the TOML reader minutes."""
CONSENT = "consent_single_person_plots"
_PARTS = ("columns", "units", "wide", "missing", "constant", "bands")
_KNOWN = (
    *consistent.TOP,
    "reviewed",
    *consistent.SECTIONS,
    "groups",
    "scores",
    "privacy",
    "tables",
    "repair",
    *consistent.LISTS,
)


def load_study(folder: str | Path) -> Study:
    """The study plan of a caseload folder.

    Parameters
    ----------
    folder : path
        The caseload folder; its `study.toml` is read.

    Returns
    -------
    Study
        Every key that is not written has its default; only `title` has none.

    Raises
    ------
    CaseloadError
        When the folder or its study.toml is missing.
    StudyError
        When the file is not TOML (with the line), a key is unknown (with the nearest known one),
        or a value has the wrong type or is not legal (with key, value and legal values).
    """
    root = folder_of(folder)
    try:
        (root / NAME).lstat()
    except FileNotFoundError:
        raise CaseloadError(
            "no study.toml in this folder",
            where=str(folder),
            mend='Write one; a single line is enough: title = "..."; `lagwise start` makes a commented one.',
        ) from None
    except OSError as error:
        raise CaseloadError(f"the folder cannot be opened ({error.strerror})", where=str(folder)) from None
    return study_from(_parsed(inside(root, NAME, NAME), root))


def study_at(path: str | Path) -> Study:
    """The study plan in a file, whatever its name, or in a caseload folder; raises as `load_study` does."""
    return study_from(_parsed(Path(path))) if Path(path).is_file() else load_study(path)


def study_from(values: Mapping[str, Any]) -> Study:
    """A study plan from the values of a parsed study.toml; raises StudyError as `load_study` does."""
    for key in values:
        if key not in _KNOWN:
            raise _misplaced(key) or spec.unknown(key, _KNOWN)
    if "title" not in values:
        raise StudyError("title is missing", where=NAME, mend='Write it in the first line: title = "..."')
    top = {key: spec.kept(key, values[key], check) for key, check in consistent.TOP.items() if key in values}
    given = {name: dict(spec.mapping(name, values.get(name, {}))) for name in consistent.SECTIONS}
    for key in NO_LONGER_ASKED.keys() & given["load"]:
        spec.kept(f"load.{key}", given["load"].pop(key), spec.number(1.01, 10))
    parts: dict[str, Any] = {
        name: consistent.events(given[name]) if name == "events" else spec.checked(kind, given[name], name)
        for name, kind in consistent.SECTIONS.items()
    }
    if "exposures" not in given["analysis"]:
        others = consistent.exposures_but(parts["analysis"].outcome)
        parts["analysis"] = replace(parts["analysis"], exposures=others)
    study = Study(
        **top,
        **parts,
        groups=_groups(values),
        scores=_scores(values),
        consent_single_person_plots=_flags("privacy", values, (CONSENT,)).get(CONSENT, False),
        repair=_flags("repair", values, REPAIRS),
        reviewed=spec.kept("reviewed", values.get("reviewed", True), spec.flag),
        **{key: read(_inner(key, values[key])) for key, read in consistent.LISTS.items() if key in values},
    )
    for key, value in given[PAIN].items():
        if getattr(study.ratings.get(PAIN), key, None) not in (None, value):
            legal = "[ratings.pain] holds another one"
            raise spec.wrong(f"pain.{key}", value, legal, "Take out one of the two.")
    return consistent.consistent(replace(study, tables=_tables(values, columns.tables(study))))


def _parsed(path: Path, root: Path | None = None) -> Mapping[str, Any]:
    data = read_once(path, _MAX_BYTES, StudyError, where=NAME, mend=said("mend.only_plan"), root=root)
    for number, part in enumerate(data.split(b"\n"), start=1):
        if part.count(b".") > _MOST_POINTS:
            raise StudyError(
                said("what.many_points", line=number), where=NAME, mend="Break it into several lines."
            )
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise StudyError(
            f"line {line} is not UTF-8 text", where=NAME, mend="Save the file with the encoding UTF-8."
        ) from None
    except (ValueError, RecursionError) as error:
        raise no_toml("", error) from None


def no_toml(line: str, error: Exception, where: str = NAME) -> StudyError:
    """The error of a line, or of the whole, that the TOML reader refuses."""
    why = str(error).split(" (at")[0] if line else str(error)
    if not isinstance(error, tomllib.TOMLDecodeError):
        why = "a value is too large or too deep"
    mend = 'Texts need quotation marks, as in title = "..."; lists [ ]; decimals a point.'
    if re.match("Cannot overwrite|Cannot declare|Duplicate", why):
        mend = "It stands there already: write a key, and a section, once."
    return StudyError(f"{line}is not valid TOML: {why}", where=where, mend=mend)


def _inner(section: str, given: Any) -> Any:
    """What a section holds; `[exercises]` holds the one section `[exercises.same]`."""
    if section != "exercises":
        return given
    return spec.mapping(section, given, ("same",)).get("same", {})


def _misplaced(key: str) -> StudyError | None:
    homes = {f.name: section for section, kind in consistent.SECTIONS.items() for f in fields(kind)}
    near = difflib.get_close_matches(key, (*homes, *_KNOWN), n=1, cutoff=0.75)
    if not near or near[0] not in homes:
        return None
    asked = "It" if near[0] == key else f"Did you mean '{near[0]}'? That"
    mend = f"{asked} belongs under [{homes[near[0]]}]."
    return StudyError(coded(f"unknown key '{key}'", key=key), where=NAME, mend=mend)


def _groups(values: Mapping[str, Any]) -> Mapping[str, tuple[str, ...]]:
    out = {}
    for group, names in spec.mapping("groups", values.get("groups", {})).items():
        key = f"groups.{group}"
        if not isinstance(names, list) or not names:
            raise spec.wrong(key, names, 'it must be a list of exercise names, such as ["press", "row"]')
        out[group.strip()] = tuple(spec.kept(key, name, spec.filled).lower() for name in names)
    return MappingProxyType(out)


def _scores(values: Mapping[str, Any]) -> Mapping[str, tuple[float, float]]:
    out = {}
    for name, limits in spec.mapping("scores", values.get("scores", {})).items():
        key = f"scores.{name}"
        if name in columns.names("people") or name == "row" or not name.strip():
            raise StudyError(
                coded(f"[{key}] has the name of a column of the people table", key=key),
                where=NAME,
                mend="Rename it.",
            )
        given = spec.mapping(key, limits, ("low", "high"))
        low, high = (given.get(end, float("nan")) for end in ("low", "high"))
        if not (spec.finite(low) and spec.finite(high) and low < high):
            raise spec.wrong(key, dict(limits), "it needs low and high, two numbers with low below high")
        out[name] = (float(low), float(high))
    return MappingProxyType(out)


def _flags(section: str, values: Mapping[str, Any], known: Iterable[str]) -> Mapping[str, bool]:
    given = spec.mapping(section, values.get(section, {}), known)
    kept = {key: spec.kept(f"{section}.{key}", value, spec.flag) for key, value in given.items()}
    return MappingProxyType(kept)


def _tables(values: Mapping[str, Any], known: Mapping[str, tuple[Column, ...]]) -> Mapping[str, TableSource]:
    out = {}
    for table, given in spec.mapping("tables", values.get("tables", {}), columns.TABLES).items():
        key = f"tables.{table}"
        own = tuple(c.name for c in known[table])
        plain = {name: value for name, value in spec.mapping(key, given).items() if name not in _PARTS}
        source = spec.checked(TableSource, plain, key)
        part = {name: given.get(name, {}) for name in _PARTS}
        if source.sep == "," == source.decimal:
            raise spec.wrong(f"{key}.decimal", ",", "cells and decimals cannot both be separated by a comma")
        out[table] = replace(
            source,
            columns=_columns(f"{key}.columns", part["columns"], own),
            units=_units(f"{key}.units", part["units"], known[table]),
            wide=_wide(f"{key}.wide", part["wide"], own, table),
            missing=_missing(f"{key}.missing", given.get("missing", []), own),
            constant=_constant(f"{key}.constant", part["constant"], known[table], part["columns"]),
            bands=_bands(f"{key}.bands", part["bands"], table),
        )
        _together(key, out[table], own)
    return MappingProxyType(out)


def _together(key: str, source: TableSource, own: tuple[str, ...]) -> None:
    """Raise where two keys of a table contradict each other, or name no column of it."""
    for one, other in (("file", "files"), ("sheet", "sheets")):
        if getattr(source, one) and getattr(source, other):
            raise spec.wrong(f"{key}.{other}", list(getattr(source, other)), f"{one} names one already")
    for name in source.fill_down:
        if name not in own:
            raise spec.unknown(name, own, f"{key}.fill_down")
    for header in source.ignore:
        if header in source.columns.values():
            raise spec.wrong(
                f"{key}.ignore", header, f"[{key}.columns] reads that column", "Take out one of the two."
            )
    if source.person_from and "person" in source.columns:
        raise spec.wrong(
            f"{key}.person_from",
            source.person_from,
            f"[{key}.columns] gives person a column",
            "Take out one of the two.",
        )
    several = bool(source.sheets if source.person_from == "sheet" else source.files)
    if source.person_from and not several:
        needs = 'sheets = "*"' if source.person_from == "sheet" else 'files = ["*.csv"]'
        raise spec.wrong(f"{key}.person_from", source.person_from, f"it goes with {needs} or a list of names")
    if source.day_ends and "time" not in own:
        raise spec.wrong(
            f"{key}.day_ends", source.day_ends, "only sessions and checkins have times", "Take it out."
        )


def _bands(key: str, given: Any, table: str) -> Mapping[str, int]:
    """Widths of the bands that numbers are put into."""
    legal = ("age_band",) if table == "people" else (said("what.none_here"),)
    widths = spec.mapping(key, given, legal) if given else {}
    kept = {name: spec.kept(f"{key}.{name}", width, spec.whole(5, 50)) for name, width in widths.items()}
    return MappingProxyType(kept)


def _columns(key: str, given: Any, own: tuple[str, ...]) -> Mapping[str, str]:
    out: dict[str, str] = {}
    for ours, theirs in spec.mapping(key, given).items():
        if ours not in own:
            unknown, rated = spec.unknown(ours, own, key), PAIN in own
            if rated and not difflib.get_close_matches(ours.lower(), own, cutoff=0.75):
                mend = f"A rating of your own needs [ratings.{ours}] with low and high."
                raise StudyError(unknown.what, where=NAME, mend=mend)
            raise unknown
        name = spec.kept(f"{key}.{ours}", theirs, spec.filled)
        if name in out.values():
            raise spec.wrong(f"{key}.{ours}", name, "that column is already given another name")
        out[ours] = name
    return MappingProxyType(out)


def _units(key: str, given: Any, known: tuple[Column, ...]) -> Mapping[str, str]:
    legal = {c.name: spec.UNITS[c.name] for c in known if c.name in spec.UNITS}
    scaled = {c.name for c in known if c.rated}
    given = spec.mapping(key, given, (*legal, *scaled) or (said("what.none_here"),))
    rules = {name: spec.one_of(*legal[name]) if name in legal else scale for name in given}
    kept = {name: spec.kept(f"{key}.{name}", unit, rules[name]) for name, unit in given.items()}
    return MappingProxyType(kept)


def _wide(key: str, given: Any, own: tuple[str, ...], table: str) -> Mapping[str, Mapping[str, int]]:
    if given and table not in ("checkins", "sessions", "weeks"):
        raise StudyError(
            coded(f"[{key}] is possible for checkins, sessions and weeks only", key=key),
            where=NAME,
            mend="Take it out.",
        )
    out = {}
    legal = tuple(name for name in own if name not in columns.PLACING or name == "time")
    for ours, days in spec.mapping(key, given, legal).items():
        place = f"{key}.{ours}"
        days = spec.mapping(place, days)
        if not days:
            raise spec.wrong(
                place, {}, 'it must name headers with days after the row\'s date, such as "Mon" = 0'
            )
        kept = {h.strip(): spec.kept(f"{place}.{h}", n, spec.whole(-366, 3660)) for h, n in days.items()}
        out[ours] = MappingProxyType(kept)
    return MappingProxyType(out)


def _constant(
    key: str, given: Any, known: tuple[Column, ...], mapped: Mapping[str, Any]
) -> Mapping[str, str]:
    """Columns of the contract that have one value in every row."""
    legal = tuple(c.name for c in known if not c.required)
    table = key.split(".")[1]
    out = {}
    for name, value in spec.mapping(key, given, legal).items():
        if not isinstance(value, str) and not spec.finite(value):
            raise spec.wrong(f"{key}.{name}", value, "it must be one number or text")
        if name in mapped:
            mend = f"Take out one of the two; the column '{str(mapped[name])[:60]}' is then not read."
            raise spec.wrong(f"{key}.{name}", value, f"[tables.{table}.columns] gives {name} a column", mend)
        text = f"{value:g}" if isinstance(value, float) else str(value)
        out[name] = spec.kept(f"{key}.{name}", text, spec.filled)
    return MappingProxyType(out)


def _missing(key: str, given: Any, own: tuple[str, ...]) -> Mapping[str, tuple[str, ...]]:
    """Marks for 'not recorded': a list for every column, or a section with a list for each column named."""
    if isinstance(given, list):
        return MappingProxyType({"": _marks(key, given)} if given else {})
    each = spec.mapping(key, given, own).items() if isinstance(given, dict) else [("", given)]
    return MappingProxyType({n: _marks(f"{key}.{n}" if n else key, marks) for n, marks in each})


def _marks(key: str, given: Any) -> tuple[str, ...]:
    if not isinstance(given, list) or not given:
        raise spec.wrong(key, given, 'it must be a list of marks, such as ["999", "leer"]')
    for mark in given:
        if not isinstance(mark, str) and not (spec.finite(mark) and abs(mark) < 1e9):
            raise spec.wrong(key, mark, "a mark is text or a number")
    return tuple(spec.kept(key, str(mark), spec.filled) for mark in given)
