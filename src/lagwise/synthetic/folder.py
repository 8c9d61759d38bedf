"""Synthetic caseloads as folders."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

from lagwise.caseload.study_text import toml_key, toml_value
from lagwise.core import columns
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study
from lagwise.output import check_folder, whole_folder
from lagwise.synthetic.caseloads import make
from lagwise.synthetic.tables import csv_text


def files(kind: str, seed: int = 1, *, anew: bool = False) -> dict[str, bytes]:
    """Name -> bytes of every file of a caseload folder: study.toml, the tables as CSV and truth.json.

    `anew` simulates the truth also where it lies stored.
    """
    caseload, truth = make(kind, seed, anew=anew)
    out = {"study.toml": study_text(caseload.study).encode()}
    for name in columns.TABLES:
        frame = getattr(caseload, name)
        if len(frame):
            out[f"{name}.csv"] = csv_text(frame).encode()
    return out | {"truth.json": (json.dumps(truth, indent=1) + "\n").encode()}


def write(kind: str, out: str | Path, seed: int = 1) -> Path:
    """Write a synthetic caseload folder, whole or not at all; the same kind and seed give the same bytes.
    Returns the folder.

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


def own_clinic(seed: int, under: str | Path = ".") -> Path:
    """A clinic of a student's own: the folder `clinic-SEED` below `under`, with its truth beside it.

    Written when it is not there yet, and left alone when it is there as it was written, so that a notebook
    can be run again. Other seeds give other people and rows from the same process, hence the same truth.

    Raises
    ------
    CaseloadError
        When the folder is there and holds something else, or cannot be written.
    """
    content = files("clinic", seed)
    folder = Path(under) / f"clinic-{seed}"
    if folder.is_dir() and {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == content:
        return folder
    check_folder(folder, what="caseload", error=CaseloadError)
    with whole_folder(folder, "the caseload", CaseloadError, private=False) as work:
        put(content, work)
    return folder


def zipped(kind: str = "clinic", seed: int = 1) -> bytes:
    """A caseload folder as one zip file, to hand out. The same kind and seed give the same bytes: files are
    stored as they are, with a fixed date.
    """
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in sorted(files(kind, seed).items()):
            entry = zipfile.ZipInfo(f"{kind}/{name}", (2024, 1, 1, 0, 0, 0))
            entry.create_system, entry.external_attr = 3, 0o100644 << 16
            archive.writestr(entry, data)
    return out.getvalue()


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


def study_text(study: Study) -> str:
    """The plan as study.toml; what stands at its default in [clock], [load] and [pain] is left out."""
    analysis = study.analysis
    lines = [
        f"title = {toml_value(study.title)}",
        f"setting = {toml_value(study.setting)}",
        "",
        "[analysis]",
        f"exposures = {toml_value(analysis.exposures)}",
        f"primary = {toml_value(analysis.primary)}",
        f"primary_contrast = {analysis.primary_contrast:g}",
        f"practically_zero = {analysis.practically_zero:g}",
    ]
    if study.groups:
        lines += [
            "",
            "[groups]",
            *(f"{toml_key(name)} = {toml_value(names)}" for name, names in study.groups.items()),
        ]
    for name, (low, high) in study.scores.items():
        lines += ["", f"[scores.{toml_key(name)}]", f"low = {low:g}", f"high = {high:g}"]
    return "\n".join(lines) + "\n"
