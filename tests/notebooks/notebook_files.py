"""The committed notebooks and ways to look at their cells."""

from copy import deepcopy
from functools import cache
from pathlib import Path

import nbformat

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "notebooks"
CLINIC = ROOT / "data_synthetic" / "clinic"
CLAIM = "nbval-check-output"
PATHS = sorted(FOLDER.glob("*.ipynb"))
NAMES = [path.stem for path in PATHS]
EXERCISES = sorted((FOLDER / "exercises").glob("*.ipynb"))
SOLUTIONS = sorted((FOLDER / "exercises" / "solutions").glob("*.ipynb"))
EVERY = [*PATHS, *EXERCISES, *SOLUTIONS]


def name(path: Path) -> str:
    """Where a notebook is below the notebooks' folder, without its ending."""
    return path.relative_to(FOLDER).with_suffix("").as_posix()


@cache
def _kept(path: Path) -> nbformat.NotebookNode:
    return nbformat.read(path, as_version=4)


def read(path: Path) -> nbformat.NotebookNode:
    return deepcopy(_kept(path)) if path in EVERY else nbformat.read(path, as_version=4)


def code(notebook: nbformat.NotebookNode) -> list[nbformat.NotebookNode]:
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def tags(cell: nbformat.NotebookNode) -> list[str]:
    return cell.metadata.get("tags", [])


def printed(cell: nbformat.NotebookNode) -> str:
    """What a cell shows as text, which is what is compared: printed, or a table's or a figure's words."""
    return "".join(o.get("text", "") or o.get("data", {}).get("text/plain", "") for o in cell.outputs)
