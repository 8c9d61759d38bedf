"""What is said of caseloads made to fool an analysis; adds to the rows stored beside this file and writes docs/fooled.md from them.

Run: python tests/bench/fooling.py [seeds]. 100 seeds by default, about 30 minutes on one idle core; what is stored already is not run again.
Delete tests/bench/fooled.csv and fooled_thresholds.csv first where a challenge has changed.
"""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import csv  # noqa: E402
import sys  # noqa: E402
from pathlib import Path  # noqa: E402

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "challenges"))

from fooling import LEAVING, MEASURED, SIZES, TRICKS, YARDSTICK, left, measured, told, told_more  # noqa: E402
from fooling_page import MORE, PAGE, STORED, THRESHOLDS, page  # noqa: E402

FIRST_SEED, THRESHOLD_SEED = 70_000, 80_000
LARGE, DEAR = 40, 40
"""Of the seeds, so many are drawn at the largest size, and so many are put to the slower challenges, at the middle one."""


def main(seeds: int) -> None:
    """Run what is not stored yet, a seed of everything at a time, and write the page."""
    for k in range(seeds):
        thresholds(THRESHOLD_SEED + k)
        some(FIRST_SEED + k, SIZES if k < LARGE else SIZES[:2])
        if k < DEAR:
            more(FIRST_SEED + k)
        print(f"seed {k + 1} of {seeds}", flush=True)
    PAGE.write_text(page(), encoding="utf-8")


def some(seed: int, sizes: tuple[tuple[int, int], ...]) -> None:
    """Every trick at these sizes, for one seed."""
    done = stored(STORED, "trick")
    for people, weeks in sizes:
        for name in TRICKS:
            if (name, people, seed) not in done:
                keep(STORED, told(name, people, weeks, seed))


def more(seed: int) -> None:
    """The slower challenges at the middle size, for one seed."""
    done = stored(MORE, "trick")
    people, weeks = SIZES[1]
    for name, trick in (TRICKS | MEASURED).items():
        if trick.dear and (name, people, seed) not in done:
            keep(MORE, told_more(name, people, weeks, seed))


def thresholds(seed: int) -> None:
    """What two of the rules go by, for one seed."""
    done = stored(THRESHOLDS, "caseloads")
    for people, weeks in SIZES:
        for names, make in ((LEAVING, left), (YARDSTICK, measured)):
            for name in names:
                if (name, people, seed) not in done:
                    keep(THRESHOLDS, make(name, people, weeks, seed))


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
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
