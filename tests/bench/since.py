"""How often a move by new data alone is told for more than that: `python tests/bench/since.py [--caseloads N]`.

Criterion, written before its table in docs/since.md was made: of pairs that the same analysis made, the later on a record that grew, at most
5 of 100 are told to have moved by more than new data explain, within two Monte Carlo standard errors, in every cell; at
most 15 of 100 cannot be told. Of pairs whose earlier ratings after heavier weeks were raised by 1.5 points in the later
record, at least 80 of 100 of those that can be told are.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import replace

import numpy as np

from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.findings.moves import spread
from lagwise.planning.assumptions import Assumptions
from lagwise.planning.simulate import Task, answers_of, panel_of_many

STUDY = Study("Simulated")
CELLS = ((12, 26), (20, 26), (40, 26), (20, 52))
SHARES = (0.5, 0.75, 0.9)
ESTIMATE, ERROR, LOW, HIGH = range(4)


def part(panel: Panel, steps: int) -> Panel:
    """The first steps of a record; the rating after the last of them is not known yet."""
    f = panel.frame[panel.frame["step"] < steps].copy()
    f.loc[f["step"] == steps - 1, panel.study.outcome.column] = np.nan
    return replace(panel, frame=f.reset_index(drop=True))


def edited(panel: Panel, steps: int) -> Panel:
    """The record with the ratings after heavier weeks raised, in the steps that the earlier report knew."""
    f, asked = panel.frame.copy(), panel.study.outcome.column
    heavy = (f["step"] < steps - 1) & (f["jump"] > 0.2)
    f.loc[heavy, asked] = (f.loc[heavy, asked] + 1.5).clip(0, 10)
    return replace(panel, frame=f)


def answers(panel: Panel, task: Task) -> tuple[np.ndarray, np.ndarray]:
    """Estimates of every caseload, and the person-steps behind each."""
    f, asked = panel.frame, panel.study.outcome
    known = f[[asked.column, asked.name, *STUDY.analysis.exposures, "usual"]].notna().all(axis=1)
    at = f["person"].astype(str).str[1:].astype(int) // task.people
    return answers_of(STUDY, panel, task), np.bincount(at[known], minlength=task.caseloads)


def told(new: tuple[np.ndarray, np.ndarray], old: tuple[np.ndarray, np.ndarray]) -> tuple[int, int, int]:
    """How many pairs moved by more than new data explain, how many can be told, how many there are."""
    beyond = known = pairs = 0
    for a, b, steps, before in zip(new[0], old[0], new[1], old[1], strict=True):
        if not np.isfinite(a[ESTIMATE] - b[ESTIMATE]):
            continue
        pairs += 1
        sd = spread(b[ERROR], a[ERROR], before, steps)
        if sd is not None:
            known += 1
            wide = max((one[HIGH] - one[LOW]) / 2 / one[ERROR] for one in (a, b))
            beyond += abs(a[ESTIMATE] - b[ESTIMATE]) > wide * sd
    return int(beyond), known, pairs


def main() -> None:
    """Print one row of the page's table for each cell."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--caseloads", type=int, default=500)
    caseloads = parser.parse_args().caseloads
    for people, weeks in CELLS:
        task = Task(people, weeks, 0.5, caseloads, np.random.SeedSequence(17))
        whole = panel_of_many(STUDY, Assumptions(), task)
        new = answers(whole, task)
        for share in SHARES:
            steps = int(weeks * share)
            old = answers(part(whole, steps), task)
            row = [people, f"{steps} of {weeks}"]
            for later in (new, answers(edited(whole, steps), task)):
                beyond, known, pairs = told(later, old)
                p = beyond / known
                row += [
                    f"{100 * p:.1f} ± {100 * math.sqrt(p * (1 - p) / known):.1f}",
                    f"{100 * (1 - known / pairs):.0f}",
                ]
            print("|", " | ".join(map(str, row)), "|", flush=True)


if __name__ == "__main__":
    main()
