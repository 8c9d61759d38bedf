"""The application itself: its name, its caution, and what every command shares."""

from __future__ import annotations

import gc
from typing import TYPE_CHECKING, Annotated

import typer

from lagwise.cli.terminal import open_streams, say

if TYPE_CHECKING:
    from lagwise.pages.report import Report


CAUTION = "It describes groups. It is no medical device, advises nobody and does not replace licensed care."


app = typer.Typer(
    name="lagwise",
    help="Ask a pooled, coded training log what tends to come before a worse week, and write the answer up. "
    f"{CAUTION}",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def finish(result: Report) -> None:
    """Print the answer and where the write-up lies."""
    from lagwise.cli.show import pages_said, print_answer

    print_answer(result.findings)
    say(f"\n{CAUTION}\nWritten in {result.seconds:.0f} s: {result.out / 'case-series.html'}")
    for line in pages_said(result.findings):
        say(line)
    if result.shared_in is not None:
        say(
            f"Recorded, readable by you alone, in {result.shared_in}: a later version that only 1 to 4 "
            "people set apart from this one is refused."
        )


def version(value: bool) -> None:
    """Print the version and stop."""
    if value:
        from lagwise import __version__

        typer.echo(f"lagwise {__version__}")
        raise typer.Exit


@app.callback()
def main(
    _version: Annotated[
        bool, typer.Option("--version", callback=version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Everything stays on this machine, unless --cluster names another. Exit codes: 0 done, 1 something was
    set aside, found or stopped, 2 nothing could be done.
    """
    open_streams()
    # A command is short and makes many long-lived objects: looking for cycles as often as by default
    # costs a tenth of the time.
    gc.set_threshold(200_000, 50, 100)
