"""How much of the six messy practices' columns a draft maps rightly, and how long one of 50 sheets takes.

`python tests/bench/drafting.py` prints a line a practice: columns mapped rightly, wrongly and unmarked, columns that
must never be mapped and are, settings that are not those planted, rounds of check until a report is possible, planted
troubles named in the first round; then the CPU seconds of a workbook of 50 sheets.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import lagwise as lw

PRACTICES = Path(__file__).parents[2] / "data_synthetic" / "messy" / "practices"


@dataclass(frozen=True)
class Score:
    """Columns of a practice that a draft should map, those mapped rightly, and what went wrong."""

    asked: int
    right: tuple[str, ...]
    wrong: tuple[str, ...]
    never: tuple[str, ...]
    settings: tuple[str, ...]


def score(draft: lw.drafts.Draft, troubles: dict[str, Any]) -> Score:
    """Hold a draft against what was planted."""
    asked = {(t, ours): at for t, columns in troubles["columns"].items() for ours, at in columns.items()}
    mapped = {
        (table, g.key): ([g.value], g.certainty)
        for table in draft.tables
        for g in draft.section(f"tables.{table}.columns")
    }
    for one in draft.sections:
        parts = one.name.split(".")
        if parts[0] == "tables" and parts[2:3] == ["wide"]:
            mapped[parts[1], parts[3]] = ([g.key for g in one.guesses], one.guesses[0].certainty)
    right, wrong, never = [], [], []
    for key, (headers, certainty) in mapped.items():
        at = asked.get(key, {})
        names = at.get("column", [])
        files = {g.key: g.value for g in draft.section(f"tables.{key[0]}")}
        placed = all(
            files.get(k) == at[k] or at[k] in files.get(f"{k}s", []) for k in ("file", "sheet") if k in at
        )
        if placed and headers == (names if isinstance(names, list) else [names]):
            right.append(".".join(key))
        elif certainty == "sure" and key != ("people", "person"):
            wrong.append(f"{'.'.join(key)} = {headers}")
        never += [h for h in headers if h in troubles["never"]]
    return Score(len(asked), tuple(right), tuple(wrong), tuple(never), tuple(_settings(draft, troubles)))


def _settings(draft: lw.drafts.Draft, troubles: dict[str, Any]) -> list[str]:
    """The planted settings that a draft does not have."""
    found: dict[str, Any] = {}
    for one in draft.sections:
        name = one.name.removeprefix("tables.")
        for g in one.guesses:
            found[f"{name}.{g.key}"] = g.value
            if isinstance(g.value, dict):
                found |= {f"{name}.{g.key}.{k}": v for k, v in g.value.items()}
            if g.key == "person_from":
                found["person"] = f"{g.value} name"
            if ".missing" in one.name:
                found["missing"] = g.value[0]
    for one in draft.sections:
        if one.name.startswith("ratings."):
            ends = {g.key: g.value for g in one.guesses}
            found[f"checkins.scale.{one.name[8:]}"] = f"{ends['low']}-{ends['high']}"
    return [f"{k} = {found.get(k)}" for k, v in troubles["settings"].items() if found.get(k) != v]


def check(folder: Path) -> str:
    """What check prints."""
    call = [sys.executable, "-m", "lagwise", "check", str(folder), "--html", str(folder.with_suffix(".html"))]
    ran = subprocess.run(call, capture_output=True, text=True, env={**os.environ, "COLUMNS": "400"})
    return ran.stdout + ran.stderr


def unnamed(folder: Path, troubles: dict[str, Any]) -> list[str]:
    """Planted troubles that neither the draft nor the first check names."""
    said = " ".join(((folder / "study.toml").read_text("utf-8") + check(folder)).split())
    return [t["what"] for t in troubles["troubles"] if not all(name in said for name in t["names"])]


def book_of(path: Path, sheets: int = 50, rows: int = 400) -> Path:
    """A workbook with a sheet for each person, of daily sessions and ratings."""
    from openpyxl import Workbook

    made = Workbook(write_only=True)
    for n in range(sheets):
        sheet = made.create_sheet(f"P{n + 1:02d}")
        sheet.append(["Log of the knee group"])
        sheet.append(["Date", "Exercise", "Sets", "Reps", "Weight", "RPE", "Pain 0-10", "Sleep", "Comments"])
        for i in range(rows):
            day = dt.date(2025, 1, 6) + dt.timedelta(days=i)
            sheet.append([day, ("Row", "Squat")[i % 2], 3 + i % 3, 8, 40 + n, 6 + i % 4, i % 9, 7.5, None])
    made.save(path)
    return path


def main() -> None:
    """Print the scores."""
    from rounds import rounds

    with tempfile.TemporaryDirectory() as scratch:
        for folder in sorted(p for p in PRACTICES.iterdir() if p.is_dir()):
            start = time.process_time()
            draft = lw.draft(folder, Path(scratch) / folder.name)
            took = time.process_time() - start
            troubles = json.loads((folder / "troubles.json").read_text("utf-8"))
            s = score(draft, troubles)
            print(f"{folder.name}: {len(s.right)} of {s.asked} rightly, wrongly {list(s.wrong)}, "
                  f"never {list(s.never)}, settings {list(s.settings)}; {took:.2f} s")  # fmt: skip
            print(f"    not named in the first round: {unnamed(Path(scratch) / folder.name, troubles)}")
            print("    rounds: {} {}".format(*rounds(Path(scratch) / folder.name)))
        book = book_of(Path(scratch) / "fifty.xlsx")
        start = time.process_time()
        draft = lw.draft(book, Path(scratch) / "fifty")
        print(f"50 sheets of 400 rows: {time.process_time() - start:.1f} s of CPU, tables {draft.tables}")


if __name__ == "__main__":
    sys.exit(main())
