"""An empty caseload folder to begin with: a commented study.toml and the headers of the tables."""

from __future__ import annotations

import shutil
import tempfile
from importlib import resources
from pathlib import Path

from lagwise.core.columns import names
from lagwise.core.errors import CaseloadError

TABLES = ("sessions", "checkins", "people", "events")


def start(folder: str | Path) -> list[Path]:
    """Write study.toml and the headers of sessions, checkins, people and events into a new or empty folder.

    Returns the paths written.

    Raises
    ------
    CaseloadError
        When the folder holds anything already, or cannot be made.
    """
    target = Path(folder)
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise CaseloadError("there is something here already", where=str(target), mend="Name a new or empty folder.")
    texts = {"study.toml": resources.files("lagwise.caseload").joinpath("study_template.toml").read_text("utf-8")}
    texts |= {f"{table}.csv": ",".join(names(table)) + "\n" for table in TABLES}
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=".lagwise-", dir=target.parent))
        try:
            for name, text in texts.items():
                (scratch / name).write_text(text, encoding="utf-8", newline="\n")
            scratch.chmod(0o755)
            if target.exists():
                target.rmdir()
            scratch.rename(target)
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except OSError as error:
        raise CaseloadError(f"cannot be written ({error.strerror})", where=str(target), mend="Name a folder you may write to.") from error  # fmt: skip
    return [target / name for name in texts]
