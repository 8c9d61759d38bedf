"""How many rounds of `check` it takes from a practice's files to a report, doing only what the messages say.

A round is one `check`. After it every edit that a report waits for is pasted where it is said, the first one where
there is a choice, and a draft is taken as looked through; in the last round nothing is left to do.

    python tests/bench/rounds.py                  # every folder of data_synthetic/messy/practices, from its draft
    python tests/bench/rounds.py --bare           # the same from a plan that names the first file or sheets only
"""

import argparse
import re
import shutil
import tempfile
from pathlib import Path

from lagwise.caseload.check_edits import Edit
from lagwise.core.errors import LagwiseError
from lagwise.pages.check_page import checked
from lagwise.say.check.paste import to_paste

PRACTICES = Path(__file__).resolve().parents[2] / "data_synthetic" / "messy" / "practices"
MOST = 12


def pasted(text: str, edit: Edit) -> str:
    """A study.toml with one edit written where `check` says."""
    where, lines = to_paste(edit, text, {})
    rows = text.rstrip("\n").split("\n")
    if found := re.match(r"Put below .* in line (\d+)", where):
        rows.insert(int(found[1]), lines)
    elif found := re.match(r"Write in place of line (\d+) of", where):
        rows[int(found[1]) - 1] = lines
    elif where.startswith("Paste at the end"):
        rows += ["", lines]
    else:
        raise SystemExit(f"cannot follow: {where}")
    return "\n".join(rows) + "\n"


def rounds(folder: Path) -> tuple[int, str]:
    """Rounds until nothing is left to do, and what is left where that is never."""
    plan = folder / "study.toml"
    for number in range(1, MOST + 1):
        found = checked(folder)
        waits = [need for need in found.needs if need.stops]
        if not waits and found.reading.plan.study.reviewed:
            return number, ""
        text = before = plan.read_text("utf-8")
        for need in sorted(waits, key=lambda need: -need.line):
            if need.instead:
                rows = text.split("\n")
                rows[need.line - 1] = need.instead
                text = "\n".join(rows)
        for need in waits:
            text = pasted(text, need.edits[0]) if need.edits else text
        text = re.sub(r"(?m)^reviewed = false", "reviewed = true", text)
        if text == before:
            return number, "; ".join(f"{place}: {what}" for place, what in waits[0].said)
        plan.write_text(text, "utf-8")
    return MOST, "no end"


def bare(folder: Path, files: list[Path]) -> None:
    """A plan of a title and the files' names, as somebody begins who knows the template only."""
    lines = [f'title = "{folder.name}"']
    for table, path in zip(("sessions", "checkins"), (files * 2)[:2], strict=True):
        lines += [f"[tables.{table}]", f'file = "{path.name}"']
    (folder / "study.toml").write_text("\n".join(lines) + "\n", "utf-8")


def main() -> None:
    """Print one line for each practice."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--bare", action="store_true")
    options = parser.parse_args()
    from lagwise.drafts import draft

    with tempfile.TemporaryDirectory() as scratch:
        for source in sorted(p for p in PRACTICES.iterdir() if p.is_dir()):
            files = sorted(p for p in source.iterdir() if p.name != "troubles.json")
            folder = Path(scratch) / source.name
            if options.bare:
                folder.mkdir()
                for path in files:
                    shutil.copy(path, folder)
                bare(folder, files)
            else:
                draft(files, folder)
            try:
                number, left = rounds(folder)
            except LagwiseError as error:
                number, left = 0, str(error)
            print(f"{source.name:18} {number:2} rounds  {left}")


if __name__ == "__main__":
    main()
