"""Work that another process may do while this one goes on."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor


def cores() -> int:
    """Processors this process may use: how many others are worth their start."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def begin[Result](helper: Executor | None, fn: Callable[..., Result], *args: object) -> Callable[[], Result]:
    """Starts `fn(*args)` in the helper, and returns what to call for its result.

    Without a helper, and where the helper is lost, `fn` runs here when its result is asked for. `fn` is a module-level
    function, so that it can travel; the result does not depend on where it runs.
    """
    if helper is None:
        return lambda: fn(*args)
    coming = helper.submit(fn, *args)

    def result() -> Result:
        try:
            return coming.result()
        except BrokenExecutor:
            return fn(*args)

    return result
