"""Hidden folders that a run works in, and the removal of those that a killed run left."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from lagwise.output.manifest import held

PREFIX = ".lagwise-"
MARKER = "lagwise-scratch.json"
"""A run holds a lock on this file as long as it lives; the system takes the lock away however it ends."""
NEW, OLD = "new", "old"
_NAME = re.compile(re.escape(PREFIX) + r"[a-z0-9_]{8}")
_TRIES = 20


@contextmanager
def scratch(parent: Path, target: str = "") -> Iterator[Path]:
    """A private folder beside what is to be written, gone when the block ends; `target` is the name it works
    for.
    """
    sweep(parent)
    folder, lock = _claimed(parent, target)
    try:
        yield folder
    finally:
        _empty(folder)
        os.close(lock)
        _leave(folder)


@contextmanager
def temporary() -> Iterator[Path]:
    """A private folder in the system's place for such, gone when the block ends or, after a kill, with the
    next run.
    """
    with scratch(Path(tempfile.gettempdir())) as folder:
        (folder / NEW).mkdir(0o700)
        yield folder / NEW


def sweep(parent: Path) -> None:
    """Remove what killed runs of this user left in a folder; what belongs to a living one, or cannot be told,
    stays.

    A leftover is known by its name, its owner and its marker file, whose lock nobody holds any more. A former
    report that was on its way aside comes back to its place.
    """
    with contextlib.suppress(OSError):
        for entry in _entries(parent):
            if (
                _NAME.fullmatch(entry.name)
                and entry.is_dir(follow_symlinks=False)
                and _mine(entry.stat(follow_symlinks=False))
            ):
                with contextlib.suppress(OSError):
                    _sweep_one(Path(entry.path))


def _sweep_one(folder: Path) -> None:
    marker = folder / MARKER
    try:
        lock = os.open(marker, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
    except FileNotFoundError:
        folder.rmdir()  # refused by the system unless it is empty
        return
    try:
        if not _lock(lock) or not _same(lock, marker):
            return
        _rescue(folder, _told(lock))
        _empty(folder)
    finally:
        os.close(lock)
    _leave(folder)


def _rescue(folder: Path, target: str) -> None:
    """Give back what is the owner's: a former report without successor, or one changed while replaced."""
    from lagwise.output.place import free_name

    if not target or Path(target).name != target:
        return
    place = folder.parent / target
    if (folder / OLD).is_dir() and not os.path.lexists(place):
        (folder / OLD).rename(place)
    for part in (folder / NEW, folder / OLD):
        if part.is_dir() and (found := held(part)).kind and not found.own:
            part.rename(free_name(place))


def _claimed(parent: Path, target: str) -> tuple[Path, int]:
    """A new folder with its marker, and the open marker, which is locked."""
    for _ in range(_TRIES):  # Another run's sweep may take an empty one away.
        folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=parent))
        try:
            lock = os.open(folder / MARKER, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        except FileNotFoundError:
            continue
        try:
            if _lock(lock, unsupported=True) and _same(lock, folder / MARKER):
                os.write(lock, json.dumps({"target": target, "pid": os.getpid()}).encode())
                return folder, lock
        except BaseException:
            os.close(lock)
            shutil.rmtree(folder, ignore_errors=True)
            raise
        os.close(lock)
    raise OSError(errno.EAGAIN, "no folder to work in could be made", str(parent))


def _empty(folder: Path) -> None:
    """Remove everything in the folder but the marker."""
    with contextlib.suppress(OSError):
        for entry in _entries(folder):
            if entry.is_dir(follow_symlinks=False):
                shutil.rmtree(entry.path, ignore_errors=True)
            elif entry.name != MARKER:
                with contextlib.suppress(OSError):
                    Path(entry.path).unlink()


def _leave(folder: Path) -> None:
    """Remove the folder if nothing is left but the marker; else it stays known as a leftover."""
    with contextlib.suppress(OSError):
        if [path.name for path in folder.iterdir()] == [MARKER]:
            (folder / MARKER).unlink()
        folder.rmdir()


def _told(lock: int) -> str:
    try:
        os.lseek(lock, 0, os.SEEK_SET)
        return str(json.loads(os.read(lock, 100_000))["target"])
    except (ValueError, KeyError, TypeError):
        return ""


def _same(opened: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(opened), path.lstat())
    except FileNotFoundError:
        return False


def _mine(status: os.stat_result) -> bool:
    return not hasattr(os, "geteuid") or status.st_uid == os.geteuid()


def _lock(opened: int, *, unsupported: bool = False) -> bool:
    """Take the lock; False where another holds it, `unsupported` on a file system that has none."""
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(opened, 0, os.SEEK_SET)
            msvcrt.locking(opened, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return unsupported and error.errno not in (errno.EWOULDBLOCK, errno.EACCES, errno.EAGAIN)
    return True


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    with os.scandir(folder) as entries:
        return list(entries)
