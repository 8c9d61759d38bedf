"""Waiting until a file of a folder is saved, without anything but the clock of the files."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

PAUSE = 0.5
"""Seconds between looks."""


def saved(folder: Path, pause: float = PAUSE) -> Iterator[bool]:
    """False at once, then True each time that a file of the folder was saved, added or taken away.

    A file that is still being written is waited for: two looks in a row must find the same.
    """
    seen = _state(folder)
    yield False
    while True:
        time.sleep(pause)
        now = _state(folder)
        if now == seen:
            continue
        while (later := _settled(folder, pause)) != now:
            now = later
        seen = now
        yield True


def _settled(folder: Path, pause: float) -> dict[str, tuple[int, int]]:
    time.sleep(pause)
    return _state(folder)


def _state(folder: Path) -> dict[str, tuple[int, int]]:
    """When each file of the folder was last changed, and its size; empty where there is no folder for now."""
    out = {}
    try:
        for path in sorted(folder.iterdir()):
            if path.is_file() and not path.name.startswith(("~$", ".")):
                at = path.stat()
                out[path.name] = (at.st_mtime_ns, at.st_size)
    except OSError:
        return {}
    return out
