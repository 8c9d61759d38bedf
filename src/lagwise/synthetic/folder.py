"""Synthetic caseloads as folders."""

from __future__ import annotations

from pathlib import Path

from lagwise.core import columns
from lagwise.core.errors import CaseloadError
from lagwise.output import check_folder, whole_folder
from lagwise.synthetic.caseloads import make
from lagwise.synthetic.text import csv_text, study_text, truth_text


def files(kind: str, seed: int = 1) -> dict[str, bytes]:
    """Name -> bytes of every file of a caseload folder: study.toml, the tables as CSV and truth.json."""
    caseload, truth = make(kind, seed)
    out = {"study.toml": study_text(caseload.study).encode()}
    for name in columns.TABLES:
        frame = getattr(caseload, name)
        if len(frame):
            out[f"{name}.csv"] = csv_text(frame).encode()
    return out | {"truth.json": truth_text(truth).encode()}


def write(kind: str, out: str | Path, seed: int = 1) -> Path:
    """Write a synthetic caseload folder, whole or not at all; the same kind and seed give the same bytes. Returns the folder.

    Raises
    ------
    CaseloadError
        When there is no such kind, or `out` is there and not an empty folder.
    """
    folder = check_folder(out, what="caseload", error=CaseloadError)
    content = files(kind, seed)
    with whole_folder(folder, "the caseload", CaseloadError, private=False) as work:
        put(content, work)
    return Path(out)


def put(content: dict[str, bytes], folder: Path) -> Path:
    """Write named bytes into a folder and its sub-folders, replacing files of the same name."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in content.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
    except OSError as error:
        raise CaseloadError(
            f"cannot be written ({error.strerror})", where=str(folder), mend="Name another folder."
        ) from None
    return folder
