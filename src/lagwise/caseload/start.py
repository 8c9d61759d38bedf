"""An empty caseload folder to begin with: a commented study.toml and the headers of the tables."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from lagwise.core.columns import names
from lagwise.core.errors import CaseloadError
from lagwise.output import check_folder, whole_folder

TABLES = ("sessions", "checkins", "people", "events")


def start(folder: str | Path) -> list[Path]:
    """Write study.toml and the headers of sessions, checkins, people and events into a new or empty folder.

    Returns the paths written.

    Raises
    ------
    CaseloadError
        When the folder holds anything already, lies in another caseload, or cannot be made.
    """
    target = check_folder(folder, what="caseload", error=CaseloadError)
    texts = {
        "study.toml": resources.files("lagwise.caseload").joinpath("study_template.toml").read_text("utf-8")
    }
    texts |= {f"{table}.csv": ",".join(names(table)) + "\n" for table in TABLES}
    with whole_folder(target, "the caseload", CaseloadError) as work:
        for name, text in texts.items():
            (work / name).write_text(text, encoding="utf-8", newline="\n")
    return [Path(folder) / name for name in texts]
