"""The edits of study.toml that a mend names, as sections with keys, and as text to paste."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from lagwise.caseload.study_text import toml_key, toml_value
from lagwise.core.claim import Said, coded, told

_TEXT = r'"(?:[^"\\]|\\.)*"'
_HEADER = re.compile(r"\s*(\[?)\[([^\[\]]+)\]\]?\s*(?:#.*)?")
"""The header of a section: `[` where there may be several of the name, and the name."""
_HEADER_PARTS = re.compile(rf"({_TEXT}|[^.\s]+)")


@dataclass(frozen=True)
class Edit:
    """Keys to write under one section of study.toml; `section` is its path, empty for the top of the file."""

    section: tuple[str, ...]
    keys: Mapping[str, Any]

    def __str__(self) -> str:
        """As a message names it."""
        return written(self)

    @property
    def key(self) -> str:
        """What two mends that are the same edit share."""
        return repr((self.section, sorted(self.keys.items(), key=str)))


def written(*edits: Edit, note: str = "") -> str:
    """Edits of one section as a message names them, `KEY = VALUE and KEY = VALUE under [SECTION]`; 'or' comes
    between edits, and the key is not said again where it is the same."""
    first = edits[0]
    ways = [" and ".join(map(_pair, edit.keys.items())) for edit in edits]
    others = [
        ", ".join(map(_value, edit.keys.values())) if edit.keys.keys() == first.keys.keys() else way
        for edit, way in zip(edits[1:], ways[1:], strict=True)
    ]
    said = f" ({note})" if note else ""
    return f"{' or '.join([ways[0], *others])}{said} under [{_path_text(first.section)}]"


def whole(number: float) -> float | int:
    """A number as it is written: without a point where it is whole."""
    return int(number) if float(number).is_integer() else float(number)


def mending(text: str, *edits: Edit, **values: Any) -> Said:
    """What would mend something, with the edits of study.toml that it names, likeliest first."""
    return coded(text, edits=edits, **values)


def no_need(more: str = ".", *edits: Edit, **values: Any) -> Said:
    """The mend of what needs none; `more` goes on after 'Nothing' and holds, after its sign, for itself."""
    return coded(f"Nothing{more}", "nothing", edits=edits, more=more.lstrip(".;, "), **values)


def edits_of(mend: str) -> tuple[Edit, ...]:
    """The edits that a mend names."""
    return tuple(told(mend).numbers.get("edits", ()))


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
    head = [f"[{_path_text(edit.section)}]"] if edit.section else []
    return "\n".join([*head, *map(_pair, edit.keys.items())])


def together(edits: Iterable[Edit]) -> list[Edit]:
    """Edits with one section each, in order of first mention; of two values of a key the first."""
    sections: dict[tuple[str, ...], dict[str, Any]] = {}
    for edit in edits:
        keys = sections.setdefault(edit.section, {})
        for key, value in edit.keys.items():
            keys.setdefault(key, value)
    return [Edit(section, keys) for section, keys in sections.items()]


def heads(text: str) -> dict[tuple[str, ...], int]:
    """The sections that a study.toml which reads `text` has, with their lines."""
    lines = enumerate(text.split("\n"), 1)
    found = ((at, _HEADER.fullmatch(line)) for at, line in lines)
    return {_path(header[2]): at for at, header in found if header and not header[1]}


def line_of(path: tuple[str, ...], text: str) -> int:
    """The line of study.toml on which a key is written, counted from 1; 0 where it is not found.

    Of sections that are written [[NAME]] the path holds the number as well: NAME, 1, KEY.
    """
    section, listed = tuple[str, ...](), list[str]()
    for at, line in enumerate(text.split("\n"), 1):
        if found := _HEADER.fullmatch(line):
            section = _path(found[2])
            if found[1]:
                listed.append(found[2])
                section = (*section, str(listed.count(found[2])))
            if section == path:
                return at
        elif (key := re.match(rf"\s*({_TEXT}|[\w-]+(?:\.[\w-]+)*)\s*=", line)) and (
            (*section, *_path(key[1])) == path
        ):
            return at
    return 0


def _path(section: str) -> tuple[str, ...]:
    return tuple(part.strip('"') for part in _HEADER_PARTS.findall(section))


def _path_text(section: tuple[str, ...]) -> str:
    return ".".join(map(toml_key, section))


def _pair(item: tuple[str, Any]) -> str:
    return f"{toml_key(item[0])} = {_value(item[1])}"


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(map(_pair, value.items())) + " }"
    return toml_value(value)
