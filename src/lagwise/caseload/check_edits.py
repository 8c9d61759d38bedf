"""The edits of study.toml that a mend names, as sections with keys, and as text to paste."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from lagwise.caseload.study_text import toml_key, toml_value

_TEXT = r'"(?:[^"\\]|\\.)*"'
_KEY = rf"(?:{_TEXT}|\w+)"
_VALUE = rf"(?:{_TEXT}|\[[^\[\]]*\]|\{{[^{{}}]*\}}|true|false|-?\d+(?:\.\d+)?)"
_PAIR = rf"{_KEY} = {_VALUE}"
_NAMED = re.compile(
    rf"({_PAIR}(?:(?:,| and| or) (?:{_PAIR}|{_VALUE}))*)(?: \([^()]*\))? under \[([^\[\]]+)\]"
)
_PART = re.compile(rf"(^|,| and| or) ?(?:({_KEY}) = )?({_VALUE})")
_HEADER = re.compile(r"\s*\[([^\[\]]+)\]\s*(?:#.*)?")
_HEADER_PARTS = re.compile(rf"({_TEXT}|[^.\s]+)")


@dataclass(frozen=True)
class Edit:
    """Keys to write under one section of study.toml; `section` is its path, empty for the top of the file."""

    section: tuple[str, ...]
    keys: Mapping[str, Any]

    @property
    def key(self) -> str:
        """What two mends that are the same edit share."""
        return repr((self.section, sorted(self.keys.items(), key=str)))


def edits_in(mend: str) -> list[Edit]:
    """The edits that a mend names as `KEY = VALUE under [SECTION]`, complete ones only, likeliest first.

    'and' joins keys of one edit; 'or' gives the next one, of the same key where none is named.
    """
    out: list[Edit] = []
    for pairs, section in _NAMED.findall(mend):
        keys: dict[str, Any] = {}
        path, last = _path(section), ""
        for between, key, value in _PART.findall(pairs):
            if between.strip() == "or":
                out.append(Edit(path, keys))
                keys = {}
            last = key.strip('"') or last
            keys[last] = tomllib.loads(f"v = {value}")["v"]
        out.append(Edit(path, keys))
    return [edit for edit in out if not _blank(edit)]


def applied(values: Mapping[str, Any], edit: Edit) -> dict[str, Any]:
    """The values of a study.toml with an edit made; the values given are left as they are."""
    if not edit.section:
        return {**values, **edit.keys}
    first, *rest = edit.section
    inner = values.get(first, {})
    inside = applied(inner if isinstance(inner, Mapping) else {}, Edit(tuple(rest), edit.keys))
    return {**values, first: inside}


def block(edit: Edit) -> str:
    """The section as it would be written."""
    head = [f"[{'.'.join(map(toml_key, edit.section))}]"] if edit.section else []
    return "\n".join([*head, *(f"{toml_key(key)} = {_value(value)}" for key, value in edit.keys.items())])


def together(edits: Iterable[Edit]) -> list[Edit]:
    """Edits with one section each, in order of first mention; of two values of a key the first."""
    sections: dict[tuple[str, ...], dict[str, Any]] = {}
    for edit in edits:
        keys = sections.setdefault(edit.section, {})
        for key, value in edit.keys.items():
            keys.setdefault(key, value)
    return [Edit(section, keys) for section, keys in sections.items()]


def to_paste(edit: Edit, text: str, given: Mapping[tuple[str, ...], int]) -> tuple[str, str]:
    """How to write an edit into a study.toml that reads `text`, and what to write: a whole section, or lines
    of one that is there already or that an earlier edit brings (`given`: section -> number of that edit)."""
    head, keys = block(edit).split("\n", 1) if edit.section else ("", block(edit))
    lines = text.split("\n")
    heads = {_path(found[1]): at for at, line in enumerate(lines, 1) if (found := _HEADER.fullmatch(line))}
    there = [at for key in edit.keys if (at := line_of((*edit.section, key), text))]
    old = ", ".join(f"line {at}" for at in there)
    if len(there) == len(edit.keys):
        return f"Write in place of {old} of study.toml:", keys
    instead = f", in place of {old}" if there else ""
    if not edit.section:
        return f"Put at the very top of study.toml{instead}:", keys
    if edit.section in heads:
        return f"Put below {head} in line {heads[edit.section]} of study.toml{instead}:", keys
    if edit.section in given:
        return f"Put below {head} of number {given[edit.section]}:", keys
    if at := line_of(edit.section, text):
        return f"Put into {toml_key(edit.section[-1])} = {{ ... }} in line {at} of study.toml:", keys
    return "Paste at the end of study.toml:", block(edit)


def line_of(path: tuple[str, ...], text: str) -> int:
    """The line of study.toml on which a key is written, counted from 1; 0 where it is not found."""
    section: tuple[str, ...] = ()
    for at, line in enumerate(text.split("\n"), 1):
        if found := _HEADER.fullmatch(line):
            section = _path(found[1])
            if section == path:
                return at
        elif (key := re.match(rf"\s*({_TEXT}|[\w-]+(?:\.[\w-]+)*)\s*=", line)) and (
            (*section, *_path(key[1])) == path
        ):
            return at
    return 0


def _path(section: str) -> tuple[str, ...]:
    return tuple(part.strip('"') for part in _HEADER_PARTS.findall(section))


def _blank(edit: Edit) -> bool:
    """Whether something is left to fill in."""
    return any("..." in text or text in ("LOW-HIGH", "NAME") for text in (*edit.section, *_texts(edit.keys)))


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from (str(key), *_texts(inner))
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _texts(inner)
    else:
        yield str(value)


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{toml_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    return toml_value(value)
