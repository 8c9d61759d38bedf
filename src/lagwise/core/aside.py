"""Work that another process may do while this one goes on, and that ends with this one, however it ends."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor
from contextlib import contextmanager, suppress
from threading import Thread, current_thread, main_thread

_BOUND = """
import ctypes, os, sys
ctypes.CDLL(None).prctl(1, 9)
if os.getppid() == int(sys.argv[1]):
    os.execv(sys.argv[2], sys.argv[2:])
"""
"""prctl(PR_SET_PDEATHSIG, SIGKILL), which outlives exec; nothing is begun for a parent that is gone already.
"""


def cores() -> int:
    """Processors this process may use: how many others are worth their start."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def begin[Result](helper: Executor | None, fn: Callable[..., Result], *args: object) -> Callable[[], Result]:
    """Starts `fn(*args)` in the helper, and returns what to call for its result.

    Without a helper, where the helper is lost, and where it has not begun when the result is asked for, `fn`
    runs here. `fn` is a module-level function, so that it can travel; the result does not depend on where it
    runs.
    """
    if helper is None:
        return lambda: fn(*args)
    coming = helper.submit(fn, *args)

    def result() -> Result:
        try:
            return fn(*args) if coming.cancel() else coming.result()
        except BrokenExecutor:
            return fn(*args)

    return result


def begin_each[Result](
    helper: Executor | None, fn: Callable[..., Result], tasks: Sequence[Sequence[object]]
) -> Callable[[], list[Result]]:
    """Starts `fn` of the arguments of every task, as `begin` does; the results are in the order of the
    tasks. When they are asked for, the last are done here while the helper does the first."""
    coming = [begin(helper, fn, *task) for task in tasks]
    return lambda: [result() for result in reversed(coming)][::-1]


@contextmanager
def processes(n: int) -> Iterator[Executor]:
    """Other processes as an executor. When the block ends in an error they are stopped at once, whatever they
    were at; they end with this process too, however it ends.
    """
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import active_children, get_context

    others = active_children()
    with ProcessPoolExecutor(n, mp_context=get_context("spawn"), initializer=end_with_parent) as pool:
        try:
            yield pool
        except BaseException:
            for child in active_children():
                if child not in others:
                    child.terminate()
            raise


def end_with_parent() -> None:
    """For a process made by multiprocessing: end when its parent is gone. Ctrl-C is left to the parent, which
    then stops it.
    """
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os._exit(1)

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=watch, daemon=True).start()


def ending_with_us(command: Sequence[str]) -> list[str]:
    """A command that the system kills when the thread that started it is gone (Linux); elsewhere the command
    as it is.

    The command begins with the path of its program.
    """
    if not sys.platform.startswith("linux"):
        return list(command)
    return [sys.executable, "-I", "-S", "-c", _BOUND, str(os.getpid()), *command]


@contextmanager
def unwinding() -> Iterator[None]:
    """While the block runs, TERM and HUP end it as an error would, so that everything it opened is closed and
    removed; then this process ends at once, without tidying its memory, which takes seconds.

    Signals that somebody handles or ignores (nohup) are left alone, and so is everything outside the main
    thread.
    """
    before = {}
    if current_thread() is main_thread():
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is signal.SIG_DFL:
                before[number] = signal.signal(number, _end)
    try:
        yield
    except _Ended as ended:
        for stream in (sys.stdout, sys.stderr):
            with suppress(OSError, ValueError):
                stream.flush()
        os._exit(ended.code)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class _Ended(SystemExit):
    code: int


def _end(number: int, frame: object) -> None:
    raise _Ended(128 + number)
