"""What an executed notebook came to: done, stopped where the data do not allow it, or failed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lagwise.core import errors
from lagwise.core.words import capital
from lagwise.say.notebooks import OTHER_NAMES, TEXTS
from lagwise.suite.execute import only_shows

DONE, STOPPED, FAILED = "done", "stopped", "failed"
_OWN = frozenset(
    name
    for name, kind in vars(errors).items()
    if isinstance(kind, type) and issubclass(kind, errors.LagwiseError)
)


@dataclass(frozen=True)
class Outcome:
    """How a notebook ended: `status` is done, stopped or failed; `why` says in words what stopped it.

    `left_out` holds the reasons of cells that could not show what they should, without ending the notebook.
    """

    status: str
    why: str = ""
    left_out: tuple[str, ...] = ()


def outcome(notebook: Any, *, debug: bool = False) -> tuple[Any, Outcome]:
    """The notebook with notes in the place of errors, and what it came to.

    Cells after the one that stopped it are left out, but for the closing text.

    Parameters
    ----------
    notebook : NotebookNode
        As `execute` returns it; it is not changed.
    debug : bool
        Keep the traceback of a failure beside its note.
    """
    from copy import deepcopy

    notebook = deepcopy(notebook)
    kept: list[Any] = []
    left_out: list[str] = []
    for at, cell in enumerate(notebook.cells):
        error = next((o for o in cell.get("outputs", ()) if o.output_type == "error"), None)
        kept.append(cell)
        if error is None:
            continue
        own = error.ename in _OWN
        said = OTHER_NAMES.sub("", error.evalue)
        why = said if own else f"{error.ename}: {said}".rstrip(": ")
        if own or not debug:
            cell.outputs = [o for o in cell.outputs if o.output_type != "error"]
        if own and only_shows(cell.source):
            left_out.append(why)
            kept.append(_note(TEXTS["not_shown"].format(why=_escaped(capital(why))), at))
            continue
        status = STOPPED if own else FAILED
        ending = TEXTS[status].format(why=_escaped(capital(why)), fault=TEXTS["fault"])
        kept.append(_note(ending, at))
        rest = notebook.cells[at + 1 :]
        kept += [last for last in rest[-1:] if last.cell_type == "markdown"]
        notebook.cells = kept
        return notebook, Outcome(status, why, tuple(left_out))
    notebook.cells = kept
    return notebook, Outcome(DONE, "", tuple(left_out))


def _note(text: str, at: int) -> Any:
    from nbformat.v4 import new_markdown_cell

    return new_markdown_cell(f"> {text}", id=f"note-{at}")


def _escaped(text: str) -> str:
    """One line of text as Markdown shows it literally."""
    line = " ".join(text.split())
    return "".join(f"\\{c}" if c in "\\`*_{}[]<>#|$~" else c for c in line)
