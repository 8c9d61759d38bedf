"""The study of the joint model by simulation: `python tests/bench/rated.py run` adds what is missing to rated.csv, without `run` it writes docs/rating-error.md from it."""

import sys
import time
import warnings
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

import alone  # noqa: F401
import numpy as np
import pandas as pd
from rated_worlds import World, simulate

from lagwise.challenges.estimate import answer
from lagwise.core.errors import ModelError
from lagwise.models.design import design
from lagwise.models.rated_data import rated_data
from lagwise.models.rated_fit import fit_joint
from lagwise.models.rows import limits

ROOT = Path(__file__).parents[2]

STORED, PAGE = Path(__file__).with_name("rated.csv"), ROOT / "docs" / "rating-error.md"
FIRST_SEED = 1_000_000
SIZES = ((10, 12, 200), (30, 26, 200), (60, 40, 100))
PIECE = 20
GRID = {
    f"{'daily' if daily else 'weekly'}, {100 * feedback:.0f} %, {p} x {t}, true {effect}": (World(p, t, effect, feedback=feedback, daily=daily), n)
    for daily in (False, True) for feedback in (0.0, 0.12, 0.25) for p, t, n in SIZES for effect in (0.0, 0.8)
}  # fmt: skip
USUAL = World(30, 26)
HARD = {
    "Load answers the rating, 60 x 40": (replace(USUAL, people=60, weeks=40, answers_rating=True), 100),
    "Load answers the rating, 30 x 26": (replace(USUAL, answers_rating=True), 100),
    "Load answers the rating, daily, 30 x 26": (replace(USUAL, answers_rating=True, daily=True), 100),
    "Ratings near the floor (level 1.5), 30 x 26": (replace(USUAL, level=1.5), 100),
    "High pain hidden after heavy weeks, 30 x 26": (replace(USUAL, hidden=True), 100),
    "High pain hidden after heavy weeks, 60 x 40": (replace(USUAL, people=60, weeks=40, hidden=True), 100),
    "Worry answers pain and moves it, 30 x 26": (replace(USUAL, worry=True), 100),
    "Shocks with heavy tails, 30 x 26": (replace(USUAL, heavy_tails=True), 100),
    "Slopes differ between people (SD 0.4), 30 x 26": (replace(USUAL, effect_sd=0.4), 100),
    "Load acts in the same week (0.3), 30 x 26": (replace(USUAL, same_week=0.3), 100),
    "Carry-over 0.7, 30 x 12": (replace(USUAL, weeks=12, carry=0.7), 100),
    "Carry-over 0.1, 30 x 12": (replace(USUAL, weeks=12, carry=0.1), 100),
    "Load follows the usual load (0.9), 30 x 26": (replace(USUAL, follows=0.9), 100),
}


def fitted(world: World, seed: int) -> dict[str, float]:
    """Both estimates per log unit of one caseload, NaN where there is none."""
    warnings.simplefilter("ignore")
    panel = simulate(world, seed)
    row: dict[str, float] = {"seed": seed}
    began = time.perf_counter()
    fit = fit_joint(rated_data(panel))
    row["seconds"] = round(time.perf_counter() - began, 3)
    estimate, std_error, df = fit.contrast("jump")
    low, high = limits(estimate, std_error, df)
    row |= {
        "estimate": estimate,
        "low": low,
        "high": high,
        "converged": float(fit.converged and fit.smallest > 1e-3),
    }
    row |= dict(zip(("phi", "f", "log_sw", "k"), fit.free[[0, 6, 8, 9]], strict=True))
    try:
        found = answer(design(panel, pain_adjusted="during"), "jump", 1.0)
    except ModelError:
        return row | dict.fromkeys(("b_estimate", "b_low", "b_high"), np.nan)
    return row | {"b_estimate": found.estimate, "b_low": found.low, "b_high": found.high}


def run() -> None:
    """Every cell in pieces of 20 caseloads, round by round, so that what is stored is even over cells whenever it stops."""
    names, workers = list(GRID | HARD), ProcessPoolExecutor(2)
    for piece in range(max(n for _, n in (GRID | HARD).values()) // PIECE):
        for at, (name, (world, n)) in enumerate((GRID | HARD).items()):
            stored = pd.read_csv(STORED) if STORED.exists() else pd.DataFrame(columns=["cell", "seed"])
            seeds = [FIRST_SEED + 1000 * at + i for i in range(piece * PIECE, min(n, (piece + 1) * PIECE))]
            left = [s for s in seeds if not ((stored["cell"] == name) & (stored["seed"] == s)).any()]
            if left:
                found = workers.map(partial(fitted, world), left, chunksize=2)
                rows = pd.DataFrame([{"cell": name, **one} for one in found]).round(5)
                rows.to_csv(STORED, mode="a", header=not STORED.exists(), index=False)
                print(f"{piece} {names.index(name) + 1}/{len(names)} {name}", flush=True)


def told(rows: pd.DataFrame, truth: float, prefix: str = "") -> tuple[float, float, float, float]:
    """Bias, its Monte Carlo error, intervals without 0 and with the truth, of 100."""
    estimate, low, high = (rows[f"{prefix}{k}"].dropna().to_numpy() for k in ("estimate", "low", "high"))
    off = float(np.mean((low > 0) | (high < 0)))
    return (
        float(estimate.mean() - truth),
        float(estimate.std(ddof=1) / np.sqrt(len(estimate))),
        100 * off,
        100 * float(np.mean((low <= truth) & (truth <= high))),
    )


def claimed(rows: pd.DataFrame) -> float:
    """Of 100 caseloads those in which both intervals lie on the same side of 0: where they do not, a report says 'undecided'."""
    above, below = (rows["low"] > 0) & (rows["b_low"] > 0), (rows["high"] < 0) & (rows["b_high"] < 0)
    return 100 * float((above | below).mean())


def mark(text: str, missed: bool) -> str:
    return f"**{text}**" if missed else text


def line(name: str, rows: pd.DataFrame, truth: float, *, target: bool) -> str:
    bias, error, off, held = told(rows, truth)
    b_bias, _, b_off, b_held = told(rows, truth, "b_")
    cells = [
        name, str(len(rows)), f"{mark(f'{bias:+.3f}', target and abs(bias) > 0.05)} ({error:.3f})",
        mark(f"{off:.3g}", target and off > 7.01) if truth == 0 else "-", mark(f"{held:.3g}", target and not 91.99 <= held <= 98.01),
        f"{100 * np.sqrt(max(held, 1) / 100 * max(100 - held, 1) / 100 / len(rows)):.1f}", f"{b_bias:+.3f}", f"{b_off:.0f}" if truth == 0 else "-", f"{b_held:.0f}", mark(f"{claimed(rows):.3g}", target and claimed(rows) > 5.01) if truth == 0 else "-",
    ]  # fmt: skip
    return f"| {' | '.join(cells)} |"


HEAD = "| caseloads | drawn | joint model: bias (its Monte Carlo error) | intervals without 0, of 100 | with the truth, of 100 | error of a share | B: bias | without 0 | with the truth | both leave out 0 on one side |\n|---|---|---|---|---|---|---|---|---|---|"


def page() -> None:
    """The tables behind what was decided, which stays as it was written."""
    stored = pd.read_csv(STORED)
    decided = PAGE.read_text("utf-8").split("\n## What came out")[0].rstrip()
    tables = []
    for cells, target in ((GRID, True), (HARD, False)):
        lines = [
            line(name, mine, world.effect, target=target)
            for name, (world, _) in cells.items()
            if len(mine := stored[stored["cell"] == name])
        ]
        tables.append("\n".join([HEAD, *lines]))
    slow = stored.groupby("cell")["seconds"].median()
    PAGE.write_text(
        f"{decided}\n\n## What came out\n\nPoints per log unit. Bold is a missed target. Of {len(stored)} searches {int((stored['converged'] == 0).sum())} did not end at a minimum; the slowest cell took {slow.max():.1f} s a fit (median, on one core of a shared machine).\n\n"
        f"{tables[0]}\n\n## Where no target was set\n\nA true 0, load cut by 25 % a point, one rating a week unless said.\n\n{tables[1]}\n\n{READ}\n",
        "utf-8",
    )  # fmt: skip


READ = """## How to read it

- **What a report names** meets its target in every cell: a report names a difference only where both estimates do, and at a true 0 at most 4 of 100 do so, where adjustment B alone would name one in up to 88.
- **Bias** meets the target in every cell of 30 x 26, and misses it by 0.003 at 60 x 40 with no feedback and single ratings; in 10 x 12 four cells of twelve miss it, by 0.014 to 0.041 with Monte Carlo errors of 0.02 to 0.03. Adjustment B's is up to -0.24 with single ratings.
- **Intervals**: four of 36 cells miss, where the first run missed ten: two at a true 0 with single ratings and no or little feedback, one by the bias above, and one is wider than it need be.
- **Load that answers the rating itself** is half mended: the record tells k only in part, and the weak prior puts it half-way.
- **Load that acts in the same week**: what it does to the pain of that week carries over into the next (0.3 x 0.4 = 0.12 points per log unit), and is part of the difference that follows at the same pain when that load was chosen. Read against that truth the bias is the figure less 0.12.
- **High pain hidden after heavy weeks** is mended by taking a missing rating as a measure of pain, and **records of 12 weeks** by modelling load from its first week on: a usual load is itself an answer to earlier pain.
- **Ratings near the floor** and **worry that answers pain and moves it** need nothing more at these sizes."""

if __name__ == "__main__":
    if "run" in sys.argv[1:]:
        run()
    page()
