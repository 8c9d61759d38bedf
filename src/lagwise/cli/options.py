"""Options that take several values at once, as in `--people 20 40`."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import Any

from typer.core import TyperCommand

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
    """A command whose list options take several values after one name; it has no arguments beside its
    options.
    """

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Parse the arguments with every value given its option."""
        several = {name for p in self.params if getattr(p, "multiple", False) for name in p.opts}
        return super().parse_args(ctx, spread(args, several))
