"""Options that commands share, and those that take several values at once, as in `--people 20 40`."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand


class Paper(StrEnum):
    """Page sizes on offer."""

    a4 = "a4"
    letter = "letter"


Debug = Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")]
Seed = Annotated[int, typer.Option("--seed", min=0, help="Seed of everything random.")]
Quick = Annotated[bool, typer.Option("--quick", help="Leave out the Bayesian model.")]
PaperSize = Annotated[Paper, typer.Option("--paper", help="Page of the PDF and the Word document.")]
Workers = Annotated[
    int | None,
    typer.Option(
        "--workers", min=1, help="Local processes; all cores by default. Results do not depend on it."
    ),
]
Cluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="A running Dask scheduler to send the work to, with the data it needs.",
    ),
]
ForPerson = Annotated[
    list[str] | None,
    typer.Option(
        "--for-person",
        metavar="CODE",
        help="Also a private page for this person, in plain words. Can be given again.",
    ),
]
Template = Annotated[
    Path | None,
    typer.Option(
        "--template",
        metavar="DIR",
        help="A folder of your own sections, such as methods.md, to stand in the documents.",
    ),
]
Folder = Annotated[Path, typer.Argument(help="A caseload folder: study.toml and its tables.")]

MissingWeeks = Annotated[float, typer.Option("--missing-weeks", help="Share of weeks not written down.")]
Feedback = Annotated[
    float,
    typer.Option(
        "--feedback", help="Share by which load is lower per point of pain; 0: load does not answer pain."
    ),
]
Ratings = Annotated[
    str, typer.Option("--ratings", help="How often people rate: mixed, daily, some_days or weekly.")
]
Leaving = Annotated[float, typer.Option("--leaving", help="Share of people who stop recording, per week.")]
PainLevel = Annotated[float, typer.Option("--pain-level", help="Mean pain, 0 to 10.")]
PainSd = Annotated[
    float, typer.Option("--pain-sd", help="SD of a week's pain for no recorded reason, points.")
]
LoadSd = Annotated[float, typer.Option("--load-sd", help="SD of load between weeks, log scale.")]
EffectSd = Annotated[float, typer.Option("--effect-sd", help="SD of the difference between people, points.")]
WeeklyRatingSd = Annotated[
    float,
    typer.Option("--weekly-rating-sd", help="SD of a rating for a whole week around its pain, points."),
]
DailyRatingSd = Annotated[
    float, typer.Option("--daily-rating-sd", help="SD of a day's rating around its week's pain, points.")
]

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
