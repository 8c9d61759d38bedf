"""manifest.json: the files a run wrote, with their SHA-256, so that the next run can tell its own from the
owner's.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from lagwise import __version__
from lagwise.core.claim import said

NAME = "manifest.json"
SCHEMA = "lagwise-manifest"
_DESKTOP = re.compile(r"\.DS_Store|(eh)?Thumbs\.db|desktop\.ini|\.directory", re.IGNORECASE)
_LOCK = re.compile(r"\.~lock\..*#|~\$.*")
_LONGEST_LOCK = 4096
_COPIES = ".ipynb_checkpoints"
_SHOWN = 5


@dataclass(frozen=True)
class Held:
    """What a folder holds, seen from its manifest.

    Attributes
    ----------
    kind : what wrote it ('report', 'plan', 'notebooks'); empty where no manifest says so
    changed : files the manifest lists with other content now
    extra : files, links and folders it does not list
    litter : what desktops and word processors leave beside an opened file (`.DS_Store`, `Thumbs.db`, lock
        files); it may go
    """

    kind: str
    changed: tuple[str, ...]
    extra: tuple[str, ...]
    litter: tuple[str, ...]

    @property
    def empty(self) -> bool:
        """Whether nothing but litter is there."""
        return not (self.kind or self.changed or self.extra)

    @property
    def own(self) -> bool:
        """Whether all of it was written by a run and is unchanged."""
        return bool(self.kind) and not (self.changed or self.extra)

    def replaceable(self, kind: str) -> bool:
        """Whether a run of this kind may take its place; without a kind only that of an empty folder."""
        return self.empty or (self.own and self.kind == kind)

    def sentence(self) -> str:
        """What is not a run's own, by name."""
        found = {"changed": self.changed, "extra": self.extra, "litter": self.litter}
        parts = [said(f"held.{kind}", names=_few(names)) for kind, names in found.items() if names]
        return "; ".join(parts)


def write_manifest(folder: Path, kind: str) -> None:
    """List every file of the folder in its manifest, which is written last."""
    names = sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())
    files = {name: _hash(folder / name) for name in names if name != NAME}
    text = json.dumps({"schema_name": SCHEMA, "lagwise": __version__, "kind": kind, "files": files}, indent=1)
    (folder / NAME).write_text(text + "\n", encoding="utf-8", newline="\n")


def held(folder: Path) -> Held:
    """What the folder holds; listed files are read once, a folder that is not a run's own is named and not
    looked into.

    Raises
    ------
    OSError
        When a part of it cannot be read.
    """
    kind, listed = _read(folder / NAME)
    needed = {str(above) for name in listed for above in PurePosixPath(name).parents}
    changed: list[str] = []
    extra: list[str] = []
    litter: list[str] = []

    def unlisted(error: OSError) -> None:
        raise error

    for here, folders, names in os.walk(folder, onerror=unlisted):
        place = Path(here).relative_to(folder)
        for name in list(folders):
            if (Path(here) / name).is_symlink() or (
                (place / name).as_posix() not in needed and name != _COPIES
            ):
                folders.remove(name)
                extra.append(f"{(place / name).as_posix()}/")
        for name in names:
            path, relative = Path(here) / name, (place / name).as_posix()
            if path.is_symlink() or not path.is_file():
                extra.append(relative)
            elif relative in listed:
                changed += [relative] if _hash(path) != listed[relative] else []
            elif not (kind and relative == NAME):
                (litter if _is_litter(path, relative, listed) else extra).append(relative)
    return Held(kind, tuple(sorted(changed)), tuple(sorted(extra)), tuple(sorted(litter)))


def _read(path: Path) -> tuple[str, Mapping[str, str]]:
    """Kind and files of a manifest; nothing where there is none, or it says something else."""
    try:
        if path.is_symlink():
            return "", {}
        values = json.loads(path.read_bytes())
        if values["schema_name"] != SCHEMA:
            return "", {}
        return str(values["kind"]), {str(name): str(digest) for name, digest in values["files"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return "", {}


def _is_litter(path: Path, relative: str, listed: Mapping[str, str]) -> bool:
    if _DESKTOP.fullmatch(path.name) or (_LOCK.fullmatch(path.name) and path.stat().st_size <= _LONGEST_LOCK):
        return True
    if path.name.startswith("._"):  # What a Mac writes beside a file on a foreign disk.
        return str(PurePosixPath(relative).with_name(path.name.removeprefix("._"))) in listed
    # JupyterLab copies a notebook when it is opened; a copy that differs is somebody's work.
    return path.parent.name == _COPIES and _hash(path) in listed.values()


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _few(names: tuple[str, ...]) -> str:
    rest = len(names) - _SHOWN
    return ", ".join(names[:_SHOWN]) + (f" and {rest} more" if rest > 0 else "")
