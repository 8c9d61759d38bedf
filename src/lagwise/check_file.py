"""Where check.html goes: never into the caseload folder, never over somebody else's file."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from lagwise.check_page import MARK
from lagwise.core.errors import WriteUpError

NAME = "check.html"
_HEAD = 4000


def write_page(text: str, wanted: Path | None, folder: Path) -> str:
    """Write the page and say in one line where it is, or why it was not written.

    Parameters
    ----------
    text : str
        The page.
    wanted : path or None
        Where the user wants it; None is check.html in the current folder.
    folder : path
        The caseload folder.

    Raises
    ------
    WriteUpError
        When a path was asked for and the page cannot go there. The default place is only skipped, with a line.
    """
    target = (wanted or Path(NAME)).resolve()
    problem = _problem(target, folder.resolve())
    if not problem:
        try:
            _put(text, target)
            return f"Written: {target}. It names codes and values; keep it with the data."
        except OSError as error:
            problem = f"it cannot be written there ({error.strerror})"
    mend = "Name another place with --html."
    if wanted is None:
        return f"{NAME} was not written: {problem}. {mend}"
    raise WriteUpError(f"the page was not written: {problem}", where=str(wanted), mend=mend)


def _problem(target: Path, folder: Path) -> str:
    if target.is_relative_to(folder):
        return "this is inside the caseload folder, which is only read"
    if target.is_dir():
        return "this is a folder"
    if not target.parent.is_dir():
        return "there is no such folder"
    if target.exists():
        try:
            with target.open(encoding="utf-8", errors="replace") as file:
                ours = MARK in file.read(_HEAD)
        except OSError as error:
            return f"the file there cannot be opened ({error.strerror})"
        if not ours:
            return f"there is another file called {target.name}"
    return ""


def _put(text: str, target: Path) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
    scratch = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        scratch.replace(target)
    except OSError:
        scratch.unlink(missing_ok=True)
        raise
