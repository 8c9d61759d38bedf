"""What is said of caseloads made to fool an analysis; adds to the rows stored beside this file and writes docs/fooled.md from them.

Run: python tests/bench/fooling.py [seeds [processes]]. 100 seeds and 1 process by default; what is stored already is not run again.
Delete tests/bench/fooled.csv, fooled_more.csv and fooled_thresholds.csv first where a model or a challenge has changed.
"""

import csv
import sys
from collections.abc import Callable
from pathlib import Path

import alone  # noqa: F401
from fooling import LEAVING, MEASURED, SIZES, TRICKS, YARDSTICK, left, measured, told, told_more
from fooling_page import MORE, PAGE, STORED, THRESHOLDS, page

from lagwise.challenges.work import map_tasks, open_executor

ROOT = Path(__file__).parents[2]

FIRST_SEED, THRESHOLD_SEED = 70_000, 80_000
LARGE, DEAR = 40, 40
"""Of the seeds, so many are drawn at the largest size (all of them with `EVERY`), and so many are put to the slower challenges, at the middle one."""
EVERY = ("feedback",)
Job = tuple[Path, Callable[..., dict[str, object]], str, int, int, int]
"""Where its row goes, what makes it, and of what: name, people, weeks, seed."""


def main(seeds: int, processes: int) -> None:
    """Run what is not stored yet, a seed at a time, from `LARGE` on first of `EVERY` alone, and write the page."""
    done = {
        file: stored(file, column)
        for file, column in ((STORED, "trick"), (MORE, "trick"), (THRESHOLDS, "caseloads"))
    }
    with open_executor(processes) as executor:
        for k, whole in [*((k, k < LARGE) for k in range(seeds)), *((k, True) for k in range(LARGE, seeds))]:
            waiting = [
                j for j in jobs(k) if (whole or j[2] in EVERY) and (j[2], j[3], j[5]) not in done[j[0]]
            ]
            for job, row in zip(waiting, map_tasks(run, waiting, executor), strict=True):
                keep(job[0], row)
                done[job[0]].add((job[2], job[3], job[5]))
            print(f"seed {k + 1} of {seeds}{'' if whole else ', in part'}", flush=True)
    PAGE.write_text(page(), encoding="utf-8")


def jobs(k: int) -> list[Job]:
    """Everything of the k-th seed."""
    seed, middle = FIRST_SEED + k, SIZES[1]
    out: list[Job] = [(STORED, told, name, *size, seed) for size in SIZES for name in TRICKS if size != SIZES[-1] or k < LARGE or name in EVERY]  # fmt: skip
    if k < DEAR:
        out += [
            (MORE, told_more, name, *middle, seed)
            for name, trick in (TRICKS | MEASURED).items()
            if trick.dear
        ]
    for names, make in ((LEAVING, left), (YARDSTICK, measured)):
        out += [(THRESHOLDS, make, name, *size, THRESHOLD_SEED + k) for size in SIZES for name in names]
    return out


def run(job: Job) -> dict[str, object]:
    """The row of one job."""
    return job[1](*job[2:])


def stored(file: Path, name: str) -> set[tuple[str, int, int]]:
    """(name, people, seed) of the rows a file holds."""
    if not file.exists():
        return set()
    with file.open(encoding="utf-8", newline="") as opened:
        return {(r[name], int(r["people"]), int(r["seed"])) for r in csv.DictReader(opened)}


def keep(file: Path, row: dict[str, object]) -> None:
    """Add one row to the stored ones."""
    fresh = not file.exists()
    with file.open("a", encoding="utf-8", newline="") as opened:
        writer = csv.DictWriter(opened, list(row), lineterminator="\n")
        if fresh:
            writer.writeheader()
        writer.writerow(row)


if __name__ == "__main__":
    main(*(int(a) for a in (*sys.argv[1:], *("100", "1")[len(sys.argv) - 1 :])))
