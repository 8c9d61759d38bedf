"""A folder or a file that is written whole or not at all."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from lagwise.core.errors import LagwiseError, WriteUpError
from lagwise.output.manifest import held, write_manifest
from lagwise.output.place import free_name
from lagwise.output.scratch import NEW, OLD, scratch

_AT_FDCWD, _EXCHANGE = -100, 2


@contextmanager
def whole_folder(
    target: Path, what: str, error: type[LagwiseError] = WriteUpError, *, kind: str = "", private: bool = True
) -> Iterator[Path]:
    """A folder to fill, which takes the place of `target` once the block has ended well; else what was there
    stays.

    Parameters
    ----------
    target : Path
        As `check_folder` gives it; it is looked at again when it is replaced.
    what : str
        What is written, as the subject of an error: 'the report'.
    error : type
        The project's error to raise.
    kind : str
        As in `check_folder`. With one, manifest.json lists the files and the next run may replace them;
        without, what is written is the owner's from then on.
    private : bool
        Files and folders are for their owner only, whatever the umask; else as the umask says.

    Raises
    ------
    LagwiseError
        `error`, for anything the system refuses while the folder is filled or put in its place, and when
        `target` was changed meanwhile: then it stays, and what was made lies beside it under the name in the
        error.
    """
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with scratch(target.parent, target.name) as aside:
            work = aside / NEW
            work.mkdir()
            usual = work.stat().st_mode & 0o777
            work.chmod(0o700)
            yield work
            if kind:
                write_manifest(work, kind)
            _set_modes(work, 0o700 if private else usual | 0o700)
            _put(work, target, aside / OLD, kind, what, error)
    except OSError as refused:
        raise _refused(what, target, error, refused) from refused


@contextmanager
def whole_file(
    target: Path,
    what: str,
    error: type[LagwiseError] = WriteUpError,
    *,
    private: bool = True,
    replace: bool = False,
) -> Iterator[Path]:
    """A file to write, which is put in its place once the block has ended well; `replace` one that is there.

    Raises
    ------
    LagwiseError
        `error`, for anything the system refuses, and when there is a file already and `replace` is False.
    """
    try:
        with scratch(target.parent, target.name) as aside:
            work = aside / "file"
            work.touch()
            usual = work.stat().st_mode & 0o666
            yield work
            work.chmod(0o600 if private else usual | 0o600)
            if replace:
                work.replace(target)
            else:
                _link(work, target)
    except OSError as refused:
        raise _refused(what, target, error, refused) from refused


def _refused(what: str, target: Path, error: type[LagwiseError], refused: OSError) -> LagwiseError:
    mend = "Choose a folder you may write to."
    return error(f"{what} cannot be written ({refused.strerror or refused})", where=str(target), mend=mend)


def _set_modes(folder: Path, mode: int) -> None:
    for here, _, names in os.walk(folder):
        Path(here).chmod(mode)
        for name in names:
            (Path(here) / name).chmod(mode & 0o666)


def _put(work: Path, target: Path, old: Path, kind: str, what: str, error: type[LagwiseError]) -> None:
    """Put `work` in the place of `target`, and that at `old`, in one step where the system can."""
    if not target.exists():
        work.rename(target)
        return
    found = held(target)
    if found.replaceable(kind):
        if _exchange(work, target):
            work.rename(old)
        else:
            target.rename(old)
            try:
                work.rename(target)
            except BaseException:
                old.rename(target)
                raise
        found = held(old)  # what was written there between the last look and the exchange
        if found.replaceable(kind):
            return
        target.rename(work)
        old.rename(target)
    place = free_name(target)
    work.rename(place)
    raise error(
        f"this was changed while {what} was made, and stays as it is: {found.sentence()}",
        where=str(target),
        mend=f"What was made is in {place}.",
    )


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step (Linux: renameat2); False where the system cannot."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        renameat2 = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    return not renameat2(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _EXCHANGE)


def _link(work: Path, target: Path) -> None:
    """Name the file `target` unless there is one, in one step where the system can."""
    try:
        os.link(work, target)
    except FileExistsError:
        raise
    except OSError:
        with (
            work.open("rb") as made,
            open(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file,  # noqa: PTH123
        ):
            file.write(made.read())
