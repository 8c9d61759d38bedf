"""Where the notebooks are, what each asks, and what its first code cell may be given."""

from __future__ import annotations

import ast
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import lagwise
from lagwise.core.errors import NotebookError

PARAMETERS = "parameters"
"""Tag of the cell that may be given other values."""
QUESTION = "**Question:** "
TWINS = ("no_effect", "changes_no_effect")
"""Invented caseloads that stay what they are when a notebook is run on another folder."""


@dataclass(frozen=True)
class Source:
    """A notebook of the suite: its file, its title, the question it opens with, and its parameters as they
    stand.
    """

    path: Path
    title: str
    question: str
    parameters: Mapping[str, str]

    @property
    def name(self) -> str:
        """The file's name without ending."""
        return self.path.stem


def home() -> Path:
    """The folder of the notebooks: inside the installed package, or beside `src` in a source checkout.

    Raises
    ------
    NotebookError
        When neither is there.
    """
    package = Path(lagwise.__file__).resolve().parent
    for folder in (package / "notebooks", package.parents[1] / "notebooks"):
        if any(folder.glob("[0-9][0-9]_*.ipynb")):
            return folder
    raise NotebookError(
        "the notebooks are not in this installation", mend="Install lagwise again, from its wheel."
    )


def glossary() -> Path:
    """The file of the glossary: with the notebooks of an installed package, or among the documents."""
    package = Path(lagwise.__file__).resolve().parent
    beside = package / "notebooks" / "glossary.md"
    return beside if beside.exists() else package.parents[1] / "docs" / "glossary.md"


def sources(only: Sequence[str] = ()) -> list[Source]:
    """The notebooks in the order of their numbers; exercises are not among them.

    Parameters
    ----------
    only : sequence of str
        Beginnings of names, '03' or '03_describe'; all when empty.

    Raises
    ------
    NotebookError
        When a beginning fits none.
    """
    paths = sorted(home().glob("[0-9][0-9]_*.ipynb"))
    for beginning in only:
        if not any(path.stem.startswith(beginning) for path in paths):
            names = ", ".join(path.stem for path in paths)
            raise NotebookError(f"no notebook is called {beginning!r}", mend=f"There are {names}.")
    return [_source(path) for path in paths if not only or path.stem.startswith(tuple(only))]


def values(source: Source, folder: Path) -> tuple[dict[str, str], dict[str, str]]:
    """What to give a notebook's parameters for a caseload folder, and which invented caseloads it needs
    beside it.

    Every path into `data_synthetic` but an invented twin stands for the caseload, and becomes it. Paths into
    `artefacts` are where something is written, and become paths inside the output folder.

    Returns
    -------
    dict
        Parameter -> value.
    dict
        Kind of invented caseload -> folder inside the output folder.
    """
    given: dict[str, str] = {}
    invented: dict[str, str] = {}
    for name, value in source.parameters.items():
        last = value.rpartition("/")[2]
        if value.startswith("../artefacts/"):
            given[name] = last
        elif last in TWINS:
            given[name] = invented[last] = f"invented-{last.replace('_', '-')}"
        elif value.startswith("../data_synthetic/"):
            given[name] = str(folder)
    return given, invented


def _source(path: Path) -> Source:
    import nbformat

    notebook: Any = nbformat.read(path, as_version=4)
    opening = notebook.cells[0].source.splitlines()
    question = next((line.removeprefix(QUESTION) for line in opening if line.startswith(QUESTION)), "")
    cell = next((c for c in notebook.cells if PARAMETERS in c.metadata.get("tags", ())), None)
    assigned = [node for node in ast.parse(cell.source if cell else "").body if isinstance(node, ast.Assign)]
    parameters = {
        node.targets[0].id: node.value.value
        for node in assigned
        if isinstance(node.targets[0], ast.Name)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    }
    return Source(path, opening[0].removeprefix("# "), question[:1].upper() + question[1:], parameters)
