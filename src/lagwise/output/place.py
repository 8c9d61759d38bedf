"""Where a run may write: a new or empty folder, or one it wrote itself; never into a caseload."""

from __future__ import annotations

import os
import re
import tempfile
from datetime import date
from pathlib import Path

from lagwise.core.errors import LagwiseError, WriteUpError
from lagwise.output.manifest import held
from lagwise.output.scratch import sweep

_CASELOAD = re.compile(
    r"study\.toml|caseload\.xlsx|(checkins|sessions|weeks)\.(csv|tsv|txt|xlsx|xlsm|parquet)", re.IGNORECASE
)
_DATED = re.compile(r"-\d{4}-\d{2}-\d{2}(-\d+)?$")


def check_folder(
    out: str | Path,
    *,
    kind: str = "",
    what: str = "report",
    error: type[LagwiseError] = WriteUpError,
    reading: Path | None = None,
) -> Path:
    """The folder to write, resolved, when a run may write there; what killed runs left beside it is removed.

    Parameters
    ----------
    out : path
        New, empty, or written by an earlier run of the same kind and unchanged since.
    kind : str
        Of what is written, as its manifest says; without one the folder must be new or empty.
    what : str
        What it is called in errors.
    error : type
        The project's error to raise.
    reading : path, optional
        A caseload folder that is only read, whatever its files are called.

    Raises
    ------
    LagwiseError
        `error`, when it is a file, lies in a caseload folder, or holds anything that a run did not write.
    """
    try:
        target = Path(out).resolve()
        if target.exists() and not target.is_dir():
            raise error("this is a file, not a folder", where=str(out), mend=f"Name a folder for the {what}.")
        refuse_caseload(out, what=what, error=error, reading=reading)
        for place in (target.parent, Path(tempfile.gettempdir())):
            sweep(place)
        if target.exists():
            _refuse_foreign(target, out, kind, what, error)
    except OSError as refused:
        raise error(
            f"cannot be looked into ({refused.strerror or refused})",
            where=str(out),
            mend="Name another folder.",
        ) from refused
    return target


def refuse_caseload(
    out: str | Path, *, what: str, error: type[LagwiseError] = WriteUpError, reading: Path | None = None
) -> None:
    """Stop when a path is a caseload folder or lies inside one, links followed.

    A caseload folder holds study.toml, caseload.xlsx or a table checkins, sessions or weeks.

    Raises
    ------
    LagwiseError
        `error`, which offers a place beside the caseload.
    """
    target = Path(out).resolve()
    own = reading.resolve() if reading is not None else None
    caseloads = [folder for folder in (target, *target.parents) if folder == own or _holds_caseload(folder)]
    if not caseloads:
        return
    ending = target.suffix if target.suffix and not target.is_dir() else ""
    last = what.split()[-1] if target == caseloads[-1] else target.name.removesuffix(ending)
    place = free_name(caseloads[-1].parent / f"{caseloads[-1].name}-{last}{ending}")
    raise error(
        "this is a caseload folder, which is only read"
        if target == caseloads[0]
        else f"this is inside the caseload folder {caseloads[0].name}, which is only read",
        where=str(out),
        mend=f"Write elsewhere, for example to {place}.",
    )


def free_name(path: Path) -> Path:
    """The path with today's date in its name, and a number where that is taken: my-report-2026-11-29."""
    ending = path.suffix if path.suffix and not path.is_dir() else ""
    stem = f"{_DATED.sub('', path.name.removesuffix(ending))}-{date.today():%Y-%m-%d}"
    names = (f"{stem}{f'-{i}' if i > 1 else ''}{ending}" for i in range(1, 10_000))
    return next(place for name in names if not os.path.lexists(place := path.with_name(name)))


def offered(out: str | Path, target: Path) -> str:
    """A free name beside the target, written as the user wrote the target."""
    free = free_name(target)
    return str(Path(out).with_name(free.name) if Path(out).name == target.name else free)


def _refuse_foreign(target: Path, out: str | Path, kind: str, what: str, error: type[LagwiseError]) -> None:
    found = held(target)
    if found.replaceable(kind):
        return
    mend = f"Write to a new folder, for example {offered(out, target)}"
    if not kind:
        raise error(
            "there is something here already, the folder is not empty", where=str(out), mend=f"{mend}."
        )
    if not found.kind:
        raise error(
            f"the folder is not empty and holds no earlier {what} with a manifest.json, by which lagwise "
            "knows its own files (older "
            f"versions wrote none). Nothing was touched: {found.sentence()}",
            where=str(out),
            mend=f"{mend}, or move this one away yourself.",
        )
    if found.kind != kind:
        raise error(
            f"the folder is not empty: it holds a {found.kind}, not a {what}", where=str(out), mend=f"{mend}."
        )
    raise error(
        f"this {what} is no longer as it was written, and nothing was touched: {found.sentence()}",
        where=str(out),
        mend=f"{mend}, or move what is yours elsewhere.",
    )


def _holds_caseload(folder: Path) -> bool:
    try:
        with os.scandir(folder) as entries:
            return any(_CASELOAD.fullmatch(entry.name) for entry in entries)
    except OSError:  # Not there yet, or not ours to list.
        return False
