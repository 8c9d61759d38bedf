"""Which versions of a caseload were shared before: two of them a few people apart subtract to those people.

The record is one file per user, readable by them alone, outside caseloads and reports (`register`). It holds
fingerprints under a random key of its own: no code, date or rating in clear.
"""

from __future__ import annotations

import hmac
import json
import os
import secrets
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lagwise.core.errors import WriteUpError
from lagwise.core.numbers import is_few, plural
from lagwise.core.results import Caseload, Panel

SCHEMA_NAME, SCHEMA_VERSION = "lagwise-shared-versions", 1
SKETCH = 8
"""Fingerprints of single rows kept per person, the smallest ones: most of them stay as a record grows."""
DATED = ("sessions", "checkins", "weeks", "events")

People = dict[str, dict[str, Any]]
"""By fingerprint of the code: `all` of the person's rows together, and `rows`, some of them."""


@dataclass(frozen=True)
class Release:
    """A version about to be shared: its people's fingerprints and the record it goes into."""

    path: Path
    people: People
    held: Mapping[str, Any]


def register() -> Path:
    """The record's place: shared-versions.json under $XDG_STATE_HOME/lagwise, by default
    ~/.local/state/lagwise.
    """
    given = os.environ.get("XDG_STATE_HOME", "")
    root = Path(given) if given and Path(given).is_absolute() else Path.home() / ".local" / "state"
    return root / "lagwise" / "shared-versions.json"


def checked(caseload: Caseload, panel: Panel) -> Release:
    """The version to share of a caseload, once it is sure that no earlier one is a few people apart.

    Same people and same records: the same version, allowed. With the plan's attested consent single people
    are shown anyway, and nothing is refused.

    Raises
    ------
    WriteUpError
        When 1 to 4 people joined or left since an earlier version, or only 1 to 4 people have other records;
        when the record cannot be used.
    """
    path = register()
    held = _read(path)
    people = _fingerprints(caseload, panel, bytes.fromhex(held["key"]))
    if not panel.study.consent_single_person_plots:
        for former in held["versions"]:
            if _related(former["people"], people):
                _refuse_few(former, people, path)
    _write(path, held)  # a record that cannot be written is said before the long work
    return Release(path, people, held)


def record(release: Release, *, title: str, made_on: str, out: Path) -> Path:
    """Add a version that has been written to the record, unless it is there already; the record's path.

    Raises
    ------
    WriteUpError
    """
    held = _read(release.path) if release.path.exists() else release.held
    if held["key"] != release.held["key"]:
        raise _unusable(release.path, "it was exchanged meanwhile")
    if all(v["people"] != release.people for v in held["versions"]):
        version = {"made_on": made_on, "title": title, "folder": str(out), "people": release.people}
        _write(release.path, {**held, "versions": [*held["versions"], version]})
    return release.path


def _refuse_few(former: Mapping[str, Any], people: People, path: Path) -> None:
    was = former["people"]
    moved = was.keys() ^ people.keys()
    changed = [who for who in was.keys() & people.keys() if was[who]["all"] != people[who]["all"]]
    counted = plural(len(moved or changed), "person has", "people have")
    if is_few(len(moved or changed)):
        raise WriteUpError(
            (f"{counted} joined or left since" if moved else f"only {counted} other records than in")
            + f" the version shared on {former['made_on']} ({former['folder']}): whoever holds both could "
            "subtract them",
            where="report --share",
            mend=(
                "Wait until at least 5 people have joined or left, or share a copy of the folder with the "
                "same people as that version."
                if moved
                else "Wait until records of at least 5 people are new, or leave the new ones out of a copy "
                "of the folder."
            )
            + " If that version never left your hands, or every copy is deleted, take its entry out of "
            f"{path}.",
        )


def _related(was: People, people: People) -> bool:
    """Whether two versions are of one caseload: somebody has the same code and most of the same rows."""
    return any(
        len(set(was[who]["rows"]) & set(people[who]["rows"])) * 2
        >= min(len(was[who]["rows"]), len(people[who]["rows"]))
        > 0
        for who in was.keys() & people.keys()
    )


def _fingerprints(caseload: Caseload, panel: Panel, key: bytes) -> People:
    """Fingerprints of everybody in the panel, from the rows that were read; the number of a row is no part of
    it.
    """

    def told(text: str) -> str:
        return hmac.digest(key, text.encode(), "sha256").hex()[:24]

    rows: dict[str, list[tuple[bool, str]]] = {str(p): [] for p in panel.frame["person"].unique()}
    for name in (*DATED, "people"):
        frame = getattr(caseload, name)
        if not len(frame):
            continue
        columns = sorted(c for c in frame.columns if c not in ("person", "row") and frame[c].notna().any())
        known = frame[columns].notna().to_numpy()
        values = zip(*(frame[c].tolist() for c in columns), strict=True)
        for person, cells, there in zip(frame["person"].astype(str), values, known, strict=True):
            if person in rows:
                own_cells = [f"{c}={v}" for c, v, k in zip(columns, cells, there, strict=True) if k]
                rows[person].append((name in DATED, "\x1f".join([name, *own_cells])))
    out = {}
    for person, own in rows.items():
        marks = sorted((told(text), dated) for dated, text in own)
        whole = told("\n".join(mark for mark, _ in marks))
        out[told(f"code {person}")] = {
            "all": whole,
            "rows": [mark for mark, dated in marks if dated][:SKETCH],
        }
    return dict(sorted(out.items()))


def _read(path: Path) -> dict[str, Any]:
    try:
        held = json.loads(path.read_bytes())
    except FileNotFoundError:
        return {
            "schema_name": SCHEMA_NAME,
            "schema_version": SCHEMA_VERSION,
            "key": secrets.token_hex(32),
            "versions": [],
        }
    except (OSError, ValueError) as error:
        raise _unusable(path, getattr(error, "strerror", None) or "it is damaged") from error
    if (
        not isinstance(held, dict)
        or held.get("schema_name") != SCHEMA_NAME
        or not {"key", "versions"} <= set(held)
    ):
        raise _unusable(path, "it is not such a record")
    return held


def _write(path: Path, held: Mapping[str, Any]) -> None:
    """The record as a whole, readable by its owner alone (mkstemp makes files of mode 0600)."""
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".shared-versions-", dir=path.parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(held, file, indent=1)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise _unusable(path, error.strerror or str(error)) from error


def _unusable(path: Path, why: str) -> WriteUpError:
    return WriteUpError(
        f"the record of versions shared before cannot be used ({why})",
        where=str(path),
        mend=(
            "Put it right, or name another place for it with the environment variable XDG_STATE_HOME; "
            "without it two versions a few people apart would go unnoticed."
        ),
    )
