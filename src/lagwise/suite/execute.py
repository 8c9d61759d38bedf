"""Run one notebook in a kernel of its own, on the Python that runs lagwise."""

from __future__ import annotations

import ast
import contextlib
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from lagwise.suite.sources import DEMO, PARAMETERS, Source

SHOWS = "raises-exception"
"""Jupyter's tag of a cell whose error does not end the run."""
_INJECTED = "injected-parameters"


def execute(
    source: Source, parameters: Mapping[str, str], cwd: Path, tell: Callable[[float], None] = lambda share: None
) -> Any:
    """The executed notebook, with the errors that ended it still in its outputs.

    Text about the demo clinic is left out. A cell that only shows something and makes nothing that later cells need may
    raise an error without ending the run; any other error ends it, and the cells after it stay without outputs.

    Parameters
    ----------
    source : Source
    parameters : mapping
        Name -> value, put in the place of the first code cell's own.
    cwd : path
        Where the kernel works.
    tell : callable
        Called with the share of cells done.
    """
    import nbformat
    import papermill
    from papermill.exceptions import PapermillExecutionError

    notebook = nbformat.read(source.path, as_version=4)
    notebook.cells = [cell for cell in notebook.cells if DEMO not in cell.metadata.get("tags", ())]
    for cell in notebook.cells:
        if cell.cell_type == "code" and only_shows(cell.source):
            cell.metadata["tags"] = [*cell.metadata.get("tags", ()), SHOWS]
    of = len(notebook.cells)
    with tempfile.TemporaryDirectory(prefix="lagwise-", ignore_cleanup_errors=True) as scratch:
        raw, made = Path(scratch) / "raw.ipynb", Path(scratch) / "made.ipynb"
        nbformat.write(notebook, raw)
        with contextlib.suppress(
            PapermillExecutionError
        ):  # It is in the outputs of its cell, where `outcome` reads it.
            papermill.execute_notebook(
                raw,
                made,
                parameters=dict(parameters),
                kernel_name="python3",
                progress_bar=False,
                request_save_on_cell_execute=False,
                cwd=cwd,
                kernel_manager_class=_kernel(Path(scratch) / "ipython"),
                extra_arguments=["--log-level=CRITICAL"],
                on_cell_start=lambda cell, cell_index: tell(cell_index / (of + 1)),
            )
        return _tidy(nbformat.read(made, as_version=4))


def only_shows(code: str) -> bool:
    """Whether every statement is an expression, so that no later cell can need what the cell makes."""
    return all(isinstance(node, ast.Expr) for node in ast.parse(code).body)


def _kernel(profile: Path) -> type:
    """A kernel manager for this very Python, whatever kernels the user has registered, without their start-up files."""
    from ipykernel.kernelspec import get_kernel_dict
    from jupyter_client.kernelspec import KernelSpec
    from jupyter_client.manager import AsyncKernelManager

    class ThisPython(AsyncKernelManager):
        @property
        def kernel_spec(self) -> KernelSpec:
            return KernelSpec(**get_kernel_dict(), env={"IPYTHONDIR": str(profile)})

    return ThisPython


def _tidy(notebook: Any) -> Any:
    """Without papermill's marks: one cell of parameters, the tags the notebook came with, no timings."""
    injected = any(_INJECTED in cell.metadata.get("tags", ()) for cell in notebook.cells)
    kept = []
    for cell in notebook.cells:
        tags = [tag for tag in cell.metadata.get("tags", ()) if tag != SHOWS]
        if "papermill-error-cell-tag" in tags or (injected and PARAMETERS in tags):
            continue
        if _INJECTED in tags:
            tags, cell.source = [PARAMETERS], cell.source.removeprefix("# Parameters\n")
        cell.metadata = type(cell.metadata)({"tags": tags} if tags else {})
        kept.append(cell)
    notebook.cells = kept
    notebook.metadata = type(notebook.metadata)({"kernelspec": notebook.metadata["kernelspec"]})
    return notebook
