"""The application itself: its name, its caution, and what every command shares."""

from __future__ import annotations

import gc
import os
import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from lagwise.cli.options import option
from lagwise.cli.terminal import open_streams, plain_errors, say
from lagwise.say.commands import ABOUT, LINES

if TYPE_CHECKING:
    from lagwise.pages.report import Report


class Commands(TyperGroup):
    """The commands; their help and the version, too, end in one line where they cannot be printed."""

    def main(self, *args: Any, **how: Any) -> Any:
        """Run what was asked for."""
        try:
            with plain_errors("--debug" in sys.argv):
                return super().main(*args, **how)
        except typer.Exit as ended:
            sys.exit(ended.exit_code)


app = typer.Typer(
    name="lagwise",
    cls=Commands,
    help=ABOUT,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def finish(result: Report) -> None:
    """Print the answer and where the write-up lies."""
    from lagwise.cli.show import pages_said, print_answer

    print_answer(result.findings)
    say(f"Written in {result.seconds:.0f} s: {result.out / 'case-series.html'}")
    for line in pages_said(result.findings):
        say(line)
    if result.shared_in is not None:
        say(LINES["shared_in"].format(place=result.shared_in))


def version(value: bool) -> None:
    """Print the version and stop."""
    if value:
        from lagwise import __version__

        typer.echo(f"lagwise {__version__}")
        raise typer.Exit


@app.callback()
def main(
    _version: Annotated[bool, option("version", callback=version, is_eager=True)] = False,
) -> None:
    """Everything stays on this machine, unless --cluster names another. Exit codes: 0 done, 1 something was
    set aside, found or stopped, 2 nothing could be done.
    """
    open_streams()
    # A command is short and makes many long-lived objects: looking for cycles as often as by default
    # costs a tenth of the time.
    gc.set_threshold(200_000, 50, 100)
    # Before NumPy loads, here and in the processes begun: its threads wait for each other over matrices
    # as small as these, and the processes share the cores already.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
