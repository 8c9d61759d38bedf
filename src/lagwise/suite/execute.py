"""Run one notebook in a kernel of its own, on the Python that runs lagwise."""

from __future__ import annotations

import ast
import contextlib
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from pathlib import Path
from typing import Any

from lagwise.core.aside import ending_with_us
from lagwise.output import temporary
from lagwise.suite.sources import PARAMETERS, Source

SHOWS = "raises-exception"
"""Jupyter's tag of a cell whose error does not end the run."""
_INJECTED = "injected-parameters"


def execute(
    source: Source,
    parameters: Mapping[str, str],
    cwd: Path,
    tell: Callable[[float], None] = lambda share: None,
) -> Any:
    """The executed notebook, with the errors that ended it still in its outputs.

    A cell that only shows something and makes nothing that later cells need may raise an error without ending
    the run; any other error ends it, and the cells after it stay without outputs.

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
    from jupyter_core.utils import ensure_event_loop
    from papermill.exceptions import PapermillExecutionError

    notebook = nbformat.read(source.path, as_version=4)
    for cell in notebook.cells:
        if cell.cell_type == "code" and only_shows(cell.source):
            cell.metadata["tags"] = [*cell.metadata.get("tags", ()), SHOWS]
    of = len(notebook.cells)
    kernels: list[Any] = []

    def run() -> None:
        with (
            contextlib.closing(ensure_event_loop()),
            contextlib.suppress(PapermillExecutionError),
        ):  # It is in the outputs of its cell, where `outcome` reads it.
            papermill.execute_notebook(
                raw,
                made,
                parameters=dict(parameters),
                kernel_name="python3",
                progress_bar=False,
                request_save_on_cell_execute=False,
                cwd=cwd,
                kernel_manager_class=_kernel(scratch / "ipython", kernels),
                extra_arguments=["--log-level=CRITICAL"],
                on_cell_start=lambda cell, cell_index: tell(cell_index / (of + 1)),
            )

    # On a thread of its own, where nbclient does not take TERM and Ctrl-C for itself and go on with the next.
    with temporary() as scratch, ThreadPoolExecutor(1) as aside:
        raw, made = scratch / "raw.ipynb", scratch / "made.ipynb"
        nbformat.write(notebook, raw)
        running = aside.submit(run)
        try:
            running.result()
        except BaseException:
            while wait([running], timeout=0.1).not_done:  # again, since a kernel may only be on its way
                _kill(kernels)
            raise
        return _tidy(nbformat.read(made, as_version=4))


def only_shows(code: str) -> bool:
    """Whether every statement is an expression, so that no later cell can need what the cell makes."""
    return all(isinstance(node, ast.Expr) for node in ast.parse(code).body)


def _kernel(profile: Path, started: list[Any]) -> type:
    """A kernel manager for this very Python, whatever kernels the user has registered, without their start-up
    files.

    Every one that is made goes into `started`. Its kernel ends with this process.
    """
    from ipykernel.kernelspec import get_kernel_dict
    from jupyter_client.kernelspec import KernelSpec
    from jupyter_client.manager import AsyncKernelManager

    class ThisPython(AsyncKernelManager):
        def __init__(self, *args: Any, **given: Any) -> None:
            super().__init__(*args, **given)
            self.connection_file = str(
                profile.with_suffix(".json")
            )  # holds the kernel's key; else it lies where nobody sweeps
            started.append(self)

        @property
        def kernel_spec(self) -> KernelSpec:
            usual = get_kernel_dict()
            return KernelSpec(
                **usual | {"argv": ending_with_us(usual["argv"])}, env={"IPYTHONDIR": str(profile)}
            )

    return ThisPython


def _kill(kernels: Sequence[Any]) -> None:
    for manager in kernels:
        process = getattr(manager.provisioner, "process", None)
        if process is not None:
            process.kill()


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
