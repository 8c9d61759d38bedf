"""Options that commands share, and those that take several values at once, as in `--people 20 40`."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand

from lagwise.say.commands import ARGUMENTS, OPTIONS


class Paper(StrEnum):
    """Page sizes on offer."""

    a4 = "a4"
    letter = "letter"


def option(name: str, *short: str, of: str = "", **how: Any) -> Any:
    """An option `--name` with its help; `of` names the command where the text is its own."""
    return typer.Option(f"--{name}", *short, help=OPTIONS[f"{of} {name}".strip()], **how)


Debug = Annotated[bool, option("debug")]
Seed = Annotated[int, option("seed", min=0)]
Quick = Annotated[bool, option("quick")]
PaperSize = Annotated[Paper, option("paper")]
Workers = Annotated[int | None, option("workers", min=1)]
Cluster = Annotated[str | None, option("cluster", metavar="ADDRESS")]
ForPerson = Annotated[list[str] | None, option("for-person", metavar="CODE")]
Template = Annotated[Path | None, option("template", metavar="DIR")]
Folder = Annotated[Path, typer.Argument(help=ARGUMENTS["folder"])]

_NUMBER = re.compile(r"-\.?\d")


def spread(args: Sequence[str], several: Collection[str]) -> list[str]:
    """Arguments in which every value of the options in `several` has the option before it: --people 20 40 ->
    --people 20 --people 40.

    Values end at the next option; negative numbers are values.
    """
    out: list[str] = []
    name, given = "", True
    for arg in args:
        option, joined, _ = arg.partition("=")
        if arg.startswith("-") and not _NUMBER.match(arg):
            out += [name] if name and not given else []
            name, given = (option, bool(joined)) if option in several else ("", True)
            out += [arg] if given else []
        else:
            out += [name, arg] if name else [arg]
            given = True
    return out + ([name] if name and not given else [])


class Several(TyperCommand):
    """A command whose list options take several values after one name; arguments stand before its
    options.
    """

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Parse the arguments with every value given its option."""
        several = {name for p in self.params if getattr(p, "multiple", False) for name in p.opts}
        return super().parse_args(ctx, spread(args, several))
