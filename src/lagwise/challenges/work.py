"""The seam for work that falls into independent tasks: in this process, in local processes or on a cluster."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from typing import Any

import numpy as np

from lagwise.core.errors import LagwiseError


def map_tasks[Task, Result](
    fn: Callable[[Task], Result], tasks: Sequence[Task], executor: Executor | None = None
) -> list[Result]:
    """`fn` of every task, results in the order of the tasks.

    Parameters
    ----------
    fn : callable
        A module-level function or `functools.partial` of one, so that it can travel to another process.
    tasks : sequence
        Each carries its own seed where it needs one (see `seeds`), so that results do not depend on who runs it, nor when.
    executor : concurrent.futures.Executor, optional
        Without one the tasks run here, one after the other.
    """
    if executor is None:
        return [fn(task) for task in tasks]
    return [future.result() for future in [executor.submit(fn, task) for task in tasks]]


def seeds(root: np.random.SeedSequence, n: int) -> list[np.random.SeedSequence]:
    """`n` independent seeds below `root`; the same ones whenever asked, whatever was spawned before."""
    return [np.random.SeedSequence(entropy=root.entropy, spawn_key=(*root.spawn_key, i)) for i in range(n)]


@contextmanager
def open_executor(workers: int | None = None, cluster: str | None = None) -> Iterator[Executor | None]:
    """An executor for the time of a `with` block.

    Parameters
    ----------
    workers : local processes; None, 0 or 1 means this process only
    cluster : address of a running Dask scheduler, used in place of local processes

    Raises
    ------
    LagwiseError
        When a cluster is asked for and Dask is not installed or the scheduler does not answer.
    """
    if cluster:
        with _dask(cluster) as found:
            yield found
    elif workers and workers > 1:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            yield pool
    else:
        yield None


@contextmanager
def _dask(address: str) -> Iterator[Any]:
    try:
        from distributed import Client
    except ImportError as error:
        raise LagwiseError(
            "Dask is not installed", where="cluster", mend="Install the package distributed, or leave out the cluster."
        ) from error
    try:
        client = Client(address)
    except (OSError, ValueError) as error:
        raise LagwiseError(
            f"no Dask scheduler answers at {address}", where="cluster", mend="Start one, or leave out the cluster."
        ) from error
    with client:
        yield client.get_executor()
