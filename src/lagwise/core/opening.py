"""Somebody's file, opened once: a regular file of bearable size, whatever its name leads to by then."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from lagwise.core.errors import LagwiseError
from lagwise.core.numbers import megabytes

_READ = os.O_RDONLY | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
_FOLDER = os.O_RDONLY | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_DIRECTORY", 0) | _NO_LINK
_BLOCK = 1 << 24


def read_once(
    path: Path, most: int, kind: type[LagwiseError], *, where: str, mend: str = "", root: Path | None = None
) -> bytes:
    """The bytes of a regular file of at most `most` bytes, from one opening.

    Parameters
    ----------
    path : Path
        The file; below `root` when that is given.
    most : int
        Bytes that are read at most. A larger file is refused by its size, before anything of it is read.
    kind : type
        The project's error to raise.
    where, mend : str
        Of the error: the file as people call it, and what to do when it is too large.
    root : Path, optional
        A resolved folder. No link is followed below it, so that a name that was inside when it was looked at,
        and has been made a link since, is refused.

    Raises
    ------
    LagwiseError
        `kind`, when the file is no regular file, is too large or cannot be opened or read.
    """
    try:
        handle = _opened(path, root)
        try:
            found = os.fstat(handle)
            if not stat.S_ISREG(found.st_mode):
                raise kind("is not a regular file", where=where, mend="Put the file itself there.")
            if found.st_size > most:
                raise _too_large(found.st_size, most, kind, where, mend)
            blocks, size = [], 0
            while block := os.read(handle, _BLOCK):
                blocks.append(block)
                size += len(block)
                if size > most:
                    raise _too_large(size, most, kind, where, mend)
        finally:
            os.close(handle)
    except (OSError, ValueError) as error:
        known = getattr(error, "strerror", None)
        held = isinstance(error, PermissionError)
        mend = "Check the path, and that you may read it."
        mend = f"Close it where it is open, in a spreadsheet say. {mend}" if held else mend
        raise kind(f"cannot be opened ({known or 'no usable file name'})", where=where, mend=mend) from None
    return b"".join(blocks)


def _opened(path: Path, root: Path | None) -> int:
    if root is None:
        return os.open(path, _READ)
    if os.open not in os.supports_dir_fd:
        return os.open(path, _READ | _NO_LINK)
    *folders, name = path.relative_to(root).parts
    at = os.open(root, _FOLDER)
    try:
        for folder in folders:
            deeper = os.open(folder, _FOLDER, dir_fd=at)
            os.close(at)
            at = deeper
        return os.open(name, _READ | _NO_LINK, dir_fd=at)
    finally:
        os.close(at)


def _too_large(size: int, most: int, kind: type[LagwiseError], where: str, mend: str) -> LagwiseError:
    return kind(f"has {megabytes(size)}; at most {megabytes(most)} are read", where=where, mend=mend)
