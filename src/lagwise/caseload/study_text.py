"""A study plan as the text of a study.toml."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from lagwise.core import consistent
from lagwise.core.study import Study

SECTIONS = (*consistent.SECTIONS, "groups", "scores", *(name for name in consistent.LISTS if name != "also"))


def study_text(study: Study) -> str:
    """The plan's title, setting, ethics, sections, groups, scores, ratings and further questions as TOML;
    where tables lie is left out."""
    plan = study.plan()
    lines = [f"{key} = {toml_value(plan[key])}" for key in ("title", "setting", "ethics")]
    for section in SECTIONS:
        values: Mapping[str, Any] = plan.get(section, {})
        if section == "scores":
            values = {name: {"low": low, "high": high} for name, (low, high) in values.items()}
        if section == "exercises" and values:
            values = {"same": values}
        if section == "ratings":
            values = {
                name: {k: v for k, v in of.items() if v not in (None, "")} for name, of in values.items()
            }
        if section == "events":
            values = _by_kind(values)
        plain = {key: value for key, value in values.items() if not isinstance(value, Mapping)}
        if plain:
            lines += [
                "",
                f"[{section}]",
                *(f"{toml_key(key)} = {toml_value(value)}" for key, value in plain.items()),
            ]
        for name, part in values.items():
            if isinstance(part, Mapping):
                lines += [
                    "",
                    f"[{section}.{toml_key(name)}]",
                    *(f"{toml_key(key)} = {toml_value(v)}" for key, v in part.items()),
                ]
    for one in plan.get("also", ()):
        lines += ["", "[[also]]", *(f"{key} = {toml_value(v)}" for key, v in one.items() if v is not None)]
    return "\n".join(lines) + "\n"


def _by_kind(values: Mapping[str, Any]) -> dict[str, Any]:
    """What is asked about after events, a section for each kind."""
    out: dict[str, Any] = {
        key: value for key, value in values.items() if value and key not in consistent.KIND_KEYS
    }
    for key in consistent.KIND_KEYS:
        for kind, value in values.get(key, {}).items():
            out.setdefault(kind, {})[key] = value
    return out


def toml_key(name: str) -> str:
    """A key as TOML, in quotes where it needs them."""
    return name if name.isascii() and name.replace("_", "a").replace("-", "a").isalnum() else toml_value(name)


def toml_value(value: Any) -> str:
    """A text, number, truth value or list of them as TOML."""
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
