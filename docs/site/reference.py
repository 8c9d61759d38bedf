"""What the command line and the package say of themselves, as pages."""

from __future__ import annotations

import inspect
import re
from typing import Any

from typer.main import get_command

import lagwise as lw
from lagwise.cli import app

GROUPS = {
    "Read": ("read", "from_frames", "draft", "Caseload", "Study"),
    "Panel": ("build_panel", "Panel"),
    "Models": (
        "fit_mixed", "fit_rated", "fit_ordinal", "fit_flares", "fit_metric", "fit_lags", "fit_dose",
        "compare_fits", "compare", "pymc_model", "load", "Fit",
    ),
    "What changed, and what followed": (
        "follow", "Followed", "stretches", "Stretches", "phases", "design_comparable",
    ),
    "Attempts to break the result": ("challenge", "Challenges"),
    "Write up and show": (
        "collect", "write_up", "since", "answer", "figure", "picture", "table", "person_view",
    ),
    "Plan a study": ("plan", "Assumptions", "what_if"),
    "Invented caseloads and exercises": ("synthetic", "exercises"),
    "Errors": ("LagwiseError",),
}  # fmt: skip
"""Public names in the order of the work; each is described by its docstring."""


def python() -> str:
    """The page of all public names."""
    left = set(lw.__all__) - {"__version__", *(name for group in GROUPS.values() for name in group)}
    if left:
        raise SystemExit(f"docs/site/reference.py: no group has {', '.join(sorted(left))}")
    parts = [
        "# Python",
        "```{include} README.md\n:start-after: 'From Python:'\n:end-before: '**Another'\n```",
    ]
    for title, group in GROUPS.items():
        told = [line for name in group for line in directives(name)]
        parts += [
            f"## {title}",
            "\n".join(["```{eval-rst}", ".. py:currentmodule:: lagwise", "", *told, "```"]),
        ]
    return "\n\n".join(parts) + "\n"


def directives(name: str) -> list[str]:
    """Lines that have Sphinx describe a public name; of a module, its functions too."""
    value = getattr(lw, name)
    if inspect.isclass(value):
        return [f".. autoclass:: lagwise.{name}", "   :members:", ""]
    if not inspect.ismodule(value):
        return [f".. autofunction:: lagwise.{name}", ""]
    functions = [key for key in value.__all__ if inspect.isfunction(getattr(value, key))]
    inside = [f".. autofunction:: lagwise.{name}.{key}" for key in functions]
    return [f".. automodule:: lagwise.{name}", "", *inside, ""]


def commands() -> str:
    """The page of all commands: what each does, its arguments and options."""
    whole: Any = get_command(app)
    parts = ["# Commands", options(whole.help)]
    for name, command in whole.commands.items():
        context = command.make_context(name, [], resilient_parsing=True)
        records = [(p, *p.get_help_record(context)) for p in command.params]
        needed = [word.split()[0].upper() for p, word, _ in records if p.param_type_name == "argument"]
        needed += [word for p, word, _ in records if p.required and p.param_type_name == "option"]
        usage = " ".join(["lagwise", name, *needed, "[options]"])
        rows = [f"| {code(word)} | {options(meaning)} |" for _, word, meaning in records]
        table = "\n".join(["| written | means |", "|---|---|", *rows])
        parts += [
            f"## lagwise {name}",
            options(inspect.cleandoc(command.help)),
            f"```text\n{usage}\n```",
            table,
        ]
    return "\n\n".join(parts) + "\n"


def code(text: str) -> str:
    """The text as code in a cell."""
    return f"`{text}`".replace("|", "\\|")


def options(text: str) -> str:
    """The text with the options that it names as code."""
    return re.sub(r"(?<![\w-])--[a-z][\w-]*", lambda found: code(found.group()), text)
