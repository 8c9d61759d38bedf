"""A draft in a few lines: what was found in which file, what to look at, and the next command."""

from __future__ import annotations

import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from lagwise.caseload.remarks import listed, shown
from lagwise.core.numbers import plural
from lagwise.document.tree import Block, Heading, bullets, para, strong
from lagwise.drafts.guess import Draft, Guess

_MOST = 12
_PLACES = ("file", "files", "sheet", "sheets")


def said(draft: Draft, folder: str | Path) -> Iterator[Block]:
    """The blocks of a draft for the terminal."""
    yield Heading(1, "A draft of your study plan", "")
    for table in draft.tables:
        place = {g.key: g.value for g in draft.section(f"tables.{table}") if g.key in _PLACES}
        yield para(strong(table), f", from {_place(place)}", role="lead")
        wide = [s for s in draft.sections if s.name.startswith(f"tables.{table}.wide.")]
        told = [f"{g.key} = '{shown(g.value)}'{_mark(g)}" for g in draft.section(f"tables.{table}.columns")]
        told += [f"{s.name.split('.')[-1]} = {len(s.guesses)} columns, '{s.guesses[0].key}' to "
                 f"'{s.guesses[-1].key}'{_mark(s.guesses[0])}" for s in wide]  # fmt: skip
        yield bullets("; ".join(told))
    yield from _open(draft)
    yield from _left(draft)
    if draft.not_read:
        yield para(strong("Not read"), role="lead")
        yield bullets(*(shown(line, 300) for line in draft.not_read[:_MOST]))
        if len(draft.not_read) > _MOST:
            yield para(f"and {len(draft.not_read) - _MOST} more, all of them at the end of study.toml")
    plan = Path(folder) / "study.toml"
    yield para(strong("Next"), role="lead")
    yield bullets(
        f"Go through {plan} in a text editor: strike or correct what is wrong, then write reviewed = true.",
        f"At any time: {command('check', str(folder))}",
    )


def _place(place: dict) -> str:
    files = place.get("files") or [place.get("file", "")]
    sheets = place.get("sheets") or ([place["sheet"]] if "sheet" in place else [])
    said = listed(map(shown, files))
    return f"{said}, sheet{'s' * (len(sheets) > 1)} {listed(map(shown, sheets))}" if sheets else said


def _mark(guess: Guess) -> str:
    return " (look at this)" if guess.certainty == "look at this" else ""


def _open(draft: Draft) -> Iterator[Block]:
    seen: set[str] = set()
    lines = []
    for section, guess in draft.open:
        if guess.key in ("title", "reviewed", "worse") or (".wide." in section and section in seen):
            continue
        seen.add(section)
        place = f" under [{section}]" if section else ""
        lines.append(f"{shown(guess.key)}{place}: {guess.why}")
    if lines:
        yield para(strong(f"To look at ({plural(len(lines), 'line')})"), role="lead")
        yield bullets(
            *lines[:_MOST], *([f"and {len(lines) - _MOST} more in study.toml"] if len(lines) > _MOST else [])
        )


def _left(draft: Draft) -> Iterator[Block]:
    telling = [one for one in draft.left_out if one.identifying]
    others = [one for one in draft.left_out if not one.identifying]
    if telling:
        yield para(strong("Left out, because they could tell who somebody is"), role="lead")
        yield bullets(
            *(
                f"'{shown(one.header)}' ({shown(one.where)}): looks like {one.identifying}"
                for one in telling[:_MOST]
            ),
            "They are never read, but they are in the copies of your files: delete these columns there. "
            "Your own files were not touched.",
        )
    if others:
        yield para(strong("Columns that are not read"), role="lead")
        yield bullets(listed(f"'{shown(one.header)}' ({one.why})" for one in others))


def command(name: str, *args: str) -> str:
    """A command of lagwise as it is typed on this platform, with its paths quoted."""
    if sys.platform == "win32":
        return "py -m lagwise " + subprocess.list2cmdline([name, *args])
    program = ["python", "-m", "lagwise"] if sys.argv[0].endswith("__main__.py") else ["lagwise"]
    return shlex.join([*program, name, *args])
