"""Synthetic caseloads as folders."""

from __future__ import annotations

import json
from pathlib import Path

from lagwise.caseload.study_text import toml_key, toml_value
from lagwise.core import columns
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study
from lagwise.output import check_folder, whole_folder
from lagwise.synthetic.caseloads import make
from lagwise.synthetic.tables import csv_text


def files(kind: str, seed: int = 1) -> dict[str, bytes]:
    """Name -> bytes of every file of a caseload folder: study.toml, the tables as CSV and truth.json."""
    caseload, truth = make(kind, seed)
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
