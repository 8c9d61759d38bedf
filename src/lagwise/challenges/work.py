"""The seam for work that falls into independent tasks: here, in local processes or on a cluster."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future
from contextlib import contextmanager
from functools import partial
from typing import Any

import numpy as np

from lagwise import __version__
from lagwise.core.aside import processes
from lagwise.core.errors import LagwiseError

ANSWER_SECONDS = 10
"""How long a scheduler may take to answer."""
_no_cluster = partial(LagwiseError, where="cluster")
MEND = "Install the same version of lagwise there as here, or leave out the cluster."


def map_tasks[Task, Result](
    fn: Callable[[Task], Result],
    tasks: Sequence[Task],
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[Result]:
    """`fn` of every task, results in the order of the tasks.

    Parameters
    ----------
    fn : callable
        A module-level function or `functools.partial` of one, so that it can travel to another process.
    tasks : sequence
        Each carries its own seed where it needs one (see `seeds`), so that results do not depend on who runs
        it, nor when.
    executor : concurrent.futures.Executor, optional
        Without one the tasks run here, one after the other.
    progress : callable, optional
        Called with how many tasks are done and how many there are, each time the next of them in order is
        done.

    Raises
    ------
    LagwiseError
        When workers are lost and the tasks they had cannot be run elsewhere; whatever `fn` itself raises.
    """
    futures = None if executor is None else [executor.submit(fn, task) for task in tasks]
    results = []
    for i, task in enumerate(tasks):
        results.append(fn(task) if futures is None else _result(futures[i]))
        if progress is not None:
            progress(i + 1, len(tasks))
    return results


def seeds(root: np.random.SeedSequence, n: int) -> list[np.random.SeedSequence]:
    """`n` independent seeds below `root`; the same ones whenever asked, whatever was spawned before."""
    return [np.random.SeedSequence(entropy=root.entropy, spawn_key=(*root.spawn_key, i)) for i in range(n)]


@contextmanager
def open_executor(workers: int | None = None, cluster: str | None = None) -> Iterator[Executor | None]:
    """An executor for the time of a `with` block.

    Parameters
    ----------
    workers : local processes; None, 0 or 1 means this process only
    cluster : address of a running Dask scheduler, used in place of local processes. Tasks leave this machine
        for its workers, with the
        data they need.

    Raises
    ------
    LagwiseError
        When a cluster is asked for and Dask is not installed, the scheduler does not answer or has no
        workers, or these lack this version of lagwise.
    """
    if cluster:
        with _dask(cluster) as client:
            yield client.get_executor(pure=False)
    elif workers and workers > 1:
        with processes(workers) as pool:
            yield pool
    else:
        yield None


def _result[Result](future: Future[Result]) -> Result:
    try:
        return future.result()
    except _losses() as error:
        raise LagwiseError(
            "the workers were lost before their tasks were done",
            where="workers",
            mend="Run it again with fewer workers, or with others.",
        ) from error


def _losses() -> tuple[type[BaseException], ...]:
    """What a future raises when nobody is left to run its task."""
    if "distributed" not in sys.modules:
        return BrokenExecutor, CancelledError
    from distributed.scheduler import KilledWorker

    return BrokenExecutor, CancelledError, KilledWorker


@contextmanager
def _dask(address: str) -> Iterator[Any]:
    try:
        from distributed import Client
    except ImportError as error:
        raise _no_cluster(
            "Dask is not installed",
            mend="Install it: pip install lagwise[cluster]. Or leave out the cluster.",
        ) from error
    try:
        client = Client(
            address, timeout=ANSWER_SECONDS, set_as_default=False
        )  # nobody else's work goes there
    except (OSError, ValueError) as error:
        mend = "Check the address, start one, or leave out the cluster."
        raise _no_cluster(f"no Dask scheduler answers at {address}", mend=mend) from error
    with client:
        _require_workers(client, address)
        yield client


def _require_workers(client: Any, address: str) -> None:
    try:
        found = client.run(_version)
    except Exception as error:
        raise _no_cluster(f"the workers at {address} cannot load lagwise ({error})", mend=MEND) from error
    if not found:
        raise _no_cluster(
            f"the scheduler at {address} has no workers", mend="Start some, or leave out the cluster."
        )
    others = sorted(set(found.values()) - {__version__})
    if others:
        raise _no_cluster(
            f"the workers at {address} have lagwise {', '.join(others)}, not {__version__}", mend=MEND
        )


def _version() -> str:
    return __version__
