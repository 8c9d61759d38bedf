"""What every command does to the terminal: errors in one line, a progress bar. Nothing heavy is imported."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

import typer

from lagwise.core.aside import cores, processes, unwinding
from lagwise.core.errors import LagwiseError
from lagwise.document.settle import settle


@contextmanager
def plain_errors(debug: bool, *, ends: bool = True) -> Iterator[None]:
    """Turn the project's errors into one line on standard error and exit code 2, or without `ends` go on
    after it; TERM and HUP end the command as Ctrl-C does.
    """
    try:
        with unwinding():
            yield
    except LagwiseError as error:
        if debug:
            for line in traceback.format_exc().splitlines():
                say(line, err=True)
        else:
            say(f"lagwise: {error}", err=True)
        if ends:
            raise typer.Exit(2) from None
    except OSError as error:
        if debug or error.errno == errno.EPIPE:
            raise
        if error.filename is None:  # what is printed cannot be: on leaving, Python would try once more
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        say(f"lagwise: {error.filename or 'standard output'}: {error.strerror or error}.", err=True)
        raise typer.Exit(2) from None


def say(text: str, *, err: bool = False) -> None:
    """Print lines, without the characters in a name or a cell that would steer the terminal."""
    typer.echo("\n".join(settle(line) for line in text.split("\n")), err=err)


def open_streams() -> None:
    """Give a process that was started with closed streams (`>&-`) streams that lead nowhere.

    Else the next file it opens takes their place, and what is printed ends up in a document.
    """
    for number, name in ((0, "stdin"), (1, "stdout"), (2, "stderr")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(number, "w" if number else "r", encoding="utf-8", closefd=False))


@contextmanager
def second_process(wanted: bool = True) -> Iterator[Executor | None]:
    """Another process, which loads what it will be asked for meanwhile; None where there is one core, or it
    is not wanted.

    When the block ends in an error it is stopped at once, so that a mistyped name is told without waiting.
    """
    if not wanted or cores() < 2:
        yield None
        return
    with processes(1) as pool:
        pool.submit(load)
        yield pool


def load() -> None:
    """Import what fits the second opinion and what draws."""
    import statsmodels.regression.mixed_linear_model  # noqa: F401

    from lagwise.models import second  # noqa: F401
    from lagwise.say.report import figures  # noqa: F401
    from lagwise.writeup import draw_choices, draw_courses, draw_grid, draw_numbers, draw_ratings  # noqa: F401


@contextmanager
def progress_bar() -> Iterator[Callable[[float, str], None]]:
    """A progress bar on standard error; one line a stage where that is no terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    if not console.is_terminal:
        told: list[str] = []

        def tell(share: float, text: str) -> None:
            stage = text.split(":")[0]
            if stage not in told:
                told.append(stage)
                say(f"{share:4.0%}  {stage}", err=True)

        yield tell
        return
    percent, what = TextColumn("{task.percentage:>3.0f}%"), TextColumn("{task.description}")
    with Progress(BarColumn(24), percent, TimeElapsedColumn(), what, console=console) as bar:
        task = bar.add_task("starting", total=1.0)
        yield lambda share, text: bar.update(task, completed=share, description=text)
