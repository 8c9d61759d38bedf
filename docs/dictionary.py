"""The dictionary of columns and of plan keys in docs/data-format.md, made from what the reader itself uses."""

from __future__ import annotations

import json
from typing import Any

from lagwise.core import columns
from lagwise.core.columns import Column
from lagwise.core.legal import UNITS
from lagwise.core.study import Study
from lagwise.core.terms import panel_units
from lagwise.say.check.repairs import REPAIRS
from lagwise.say.columns import of_input, of_panel

BEGIN = "<!-- begin generated: columns -->"
END = "<!-- end generated: columns -->"

_TABLES = {
    "sessions": "One row per exercise in a session, or per session.",
    "checkins": "One row per person and rating time: daily, weekly or irregular.",
    "people": "One row per person, coarsely; plus any numeric score named under `[scores]` in study.toml.",
    "events": "One row per change. No free text.",
    "weeks": "Instead of sessions and checkins: one row per person and week, already summed.",
}
_KINDS = {
    "code": "text", "text": "text", "date": "date", "time": "HH:MM", "number": "number",
    "count": "whole number",
    "yesno": "yes, no, true, false, 1, 0", "choice": "word",
}  # fmt: skip


def markdown() -> str:
    """Tables of all columns (kind, unit, legal values, meaning), the panel, repairs and keys of study.toml, as Markdown."""
    parts = [_table(name) for name in columns.TABLES]
    return "\n".join([*parts, _panel(), _repairs(), _plan()])


def with_dictionary(page: str) -> str:
    """The page with the part between its markers made anew."""
    start, end = page.index(BEGIN) + len(BEGIN), page.index(END)
    return f"{page[:start]}\n\n{markdown()}\n{page[end:]}"


def _table(name: str) -> str:
    lines = [
        f"### {name}",
        "",
        _TABLES[name],
        "",
        "| column | is | unit | legal | meaning |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| `{c.name}`{' (required)' if c.required else ''} | {_KINDS[c.kind]} | {_unit(c)} | "
        f"{_legal(c)} | {of_input(name, c.name)} |"
        for c in columns.TABLES[name]
    ]
    return "\n".join([*lines, ""])


def _panel() -> str:
    """The panel's columns under a plan that says nothing else."""
    study = Study("")
    units, told = panel_units(study), of_panel(study)
    rows = [f"| `{name}` | {unit} | {told[name]} |" for name, unit in units.items()]
    lines = ["### panel", "", "What `lw.build_panel` makes of them: one row per person and calendar step.", "",
             "| column | unit | meaning |", "|---|---|---|"]  # fmt: skip
    return "\n".join([*lines, *rows, ""])


def _unit(column: Column) -> str:
    others = [unit for unit, factor in UNITS.get(column.name, {}).items() if factor != 1]
    return f"{column.unit} (or {', '.join(others)}, declared)" if others else column.unit


def _legal(column: Column) -> str:
    if column.choices:
        return ", ".join(f"`{word}`" for word in column.choices)
    if column.low is None:
        return ""
    return f"{column.low:g} to {column.high:g}" if column.high is not None else f"{column.low:g} and more"


def _plan() -> str:
    """Every key of study.toml with what is legal and its default, from the plan's JSON Schema."""
    whole = Study.schema()
    parts, keys = whole["$defs"], whole["properties"]
    sections = {f"[{name}]": parts[of["$ref"].split("/")[-1]] for name, of in keys.items() if "$ref" in of}
    sections |= {"[events.KIND]": parts["EventsPlan"]["additionalProperties"]}
    sections |= {"[ratings.NAME]": parts["RatingPlan"], "[[also]]": parts["AlsoPlan"]}
    sections |= {"[privacy]": keys["privacy"], "[tables.NAME]": parts["TableSource"]}
    of_own_names = {
        "[exercises.same]": "NAME = list of spellings",
        "[blocks]": "NAME = [first day, last day]",
    }
    lines = ["### study.toml", "", "`lw.Study.schema()` gives the same as JSON Schema.", "",
             "| section | key | legal | when not given |", "|---|---|---|---|"]  # fmt: skip
    lines += ["| | `title` (required), `setting`, `ethics` | text | |"]
    lines += ["| | `reviewed` | true or false | `true` |"]
    for section, of in sections.items():
        for key, rule in of["properties"].items():
            needed = " (required)" if key in of.get("required", ()) else ""
            lines.append(f"| `{section}` | `{key}`{needed} | {_rule(rule)} | {_default(rule)} |")
    lines += [f"| `{section}` | | {how} | |" for section, how in of_own_names.items()]
    return "\n".join([*lines, ""])


def _rule(rule: dict[str, Any]) -> str:
    if "enum" in rule:
        return ", ".join(f"`{word}`".replace("|", "\\|") for word in rule["enum"])
    low, high = rule.get("minimum"), rule.get("maximum")
    kinds = {
        "integer": "whole number",
        "number": "number",
        "boolean": "true or false",
        "array": "list",
        "string": "text",
    }
    kind = kinds.get(rule.get("type", ""), "section")
    if low is None:
        return "section or list" if "anyOf" in rule else kind
    return f"{kind}, {low:g} to {high:g}" if high is not None else f"{kind}, from {low:g}"


def _default(rule: dict[str, Any]) -> str:
    value = rule.get("default", "")
    return "" if value == "" else f"`{json.dumps(value)}`"


def _repairs() -> str:
    lines = ["### Repairs", "", "| name | what it does |", "|---|---|"]
    return "\n".join([*lines, *(f"| `{name}` | {what} |" for name, what in REPAIRS.items()), ""])
