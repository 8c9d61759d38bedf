"""Seconds per fit of the mixed-model kernel against lme4's lmer and statsmodels' MixedLM, as ratios from one run.

Run: python tests/bench/kernel.py. Needs Rscript with lme4 for the first comparison; says so when it is not there.
"""

import shutil
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import alone  # noqa: F401
import numpy as np

from lagwise.models.crossproducts import CrossProducts
from lagwise.models.kernel import fit

R = """
suppressMessages(library(lme4))
d <- read.csv(commandArgs(TRUE)[1]); repeats <- as.integer(commandArgs(TRUE)[2])
f <- as.formula(paste("y ~", paste(grep("^x", names(d), value = TRUE), collapse = "+"), "+ (x1 | person)"))
fit <- lmer(f, d)
times <- sapply(seq_len(repeats), function(i) system.time(lmer(f, d))["elapsed"])
cat(format(c(median(times), fixef(fit)["x1"], REMLcrit(fit)), digits = 15))
"""


def data(people: int, steps: int, columns: int, seed: int = 1) -> tuple[np.ndarray, ...]:
    """y, X, Z and person of a random-slope model with `columns` columns of X."""
    rng = np.random.default_rng(seed)
    n = people * steps
    person = np.repeat(np.arange(people), steps)
    X = np.column_stack([np.ones(n), rng.normal(0, 0.3, n), rng.normal(5, 2, (n, columns - 2))])
    b = rng.normal(0, 1, (people, 2)) @ np.array([[1.0, 0.2], [0.0, 0.6]])
    y = 4 + 0.5 * X[:, 1] + 0.1 * X[:, 2] + b[person, 0] + b[person, 1] * X[:, 1] + rng.normal(0, 1, n)
    return y, X, np.column_stack([np.ones(n), X[:, 1]]), person


def median_seconds(run: Callable[[], object], repeats: int) -> float:
    """Median wall-clock seconds of `run`."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return float(np.median(times))


def lmer(y: np.ndarray, X: np.ndarray, person: np.ndarray, repeats: int) -> tuple[float, float, float] | None:
    """Median seconds, slope and REML criterion of lme4's lmer; None without Rscript or lme4."""
    there = ["Rscript", "-e", 'quit(status = !requireNamespace("lme4", quietly = TRUE))']
    if shutil.which("Rscript") is None or subprocess.run(there, check=False).returncode:
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "d.csv"
        names = ",".join(["y", "person", *(f"x{i}" for i in range(1, X.shape[1]))])
        np.savetxt(
            path,
            np.column_stack([y, person, X[:, 1:]]),
            delimiter=",",
            header=names,
            comments="",
            fmt="%.17g",
        )
        script = Path(folder) / "run.R"
        script.write_text(R)
        done = subprocess.run(
            ["Rscript", str(script), str(path), str(repeats)], capture_output=True, text=True, check=True
        )
    a, b, c = done.stdout.split()
    return float(a), float(b), float(c)


def mixedlm(y: np.ndarray, X: np.ndarray, Z: np.ndarray, person: np.ndarray) -> Callable[[], object]:
    """A MixedLM fit with its default optimiser, its warnings about convergence kept off the screen."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    def run() -> object:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return MixedLM(y, X, groups=person, exog_re=Z).fit(reml=True)

    return run


def main() -> int:
    """Print one line per comparison; 1 when a target is missed."""
    missed = 0
    for people, steps, columns, repeats in (
        (40, 26, 17, 30),
        (40, 26, 8, 30),
        (4000, 26, 8, 5),
        (4000, 26, 17, 5),
    ):
        y, X, Z, person = data(people, steps, columns)

        def ours(y=y, X=X, Z=Z, person=person):
            return fit(CrossProducts.build(y, X, Z, person), "correlated")

        e = ours()
        seconds = median_seconds(ours, repeats)
        size = f"{len(y):>7,} rows, {columns} columns, random slope"
        theirs = lmer(y, X, person, max(3, repeats // 3))
        if theirs is None:
            print(f"{size}: lme4 not compared, Rscript or its package lme4 is not installed")
        else:
            ratio = theirs[0] / seconds
            missed += ratio < 10
            print(
                f"{size}: {1000 * seconds:8.2f} ms; lme4 {1000 * theirs[0]:8.1f} ms, {ratio:6.1f} x (target 10); "
                f"slope differs by {abs(e.beta[0, 1] / theirs[1] - 1):.1e}, deviance by {e.deviance[0] - theirs[2]:.1e}"
            )
        if people <= 40:
            other = median_seconds(mixedlm(y, X, Z, person), 3)
            missed += other / seconds < 50
            print(
                f"{size}: {1000 * seconds:8.2f} ms; MixedLM {1000 * other:6.0f} ms, {other / seconds:6.1f} x (target 50)"
            )
    y, X, Z, person = data(40, 26, 17)
    rng = np.random.default_rng(2)
    columns = np.stack([rng.permutation(X[:, 1]) for _ in range(999)])
    cross = CrossProducts.build(y, X, None, person)
    seconds = median_seconds(
        lambda: fit(cross.with_columns([1], columns[:, :, None])).contrast(np.eye(17)[1]), 3
    )
    print(
        f"999 refits with another column, person intercepts, 1,040 rows: {seconds:.2f} s, {1e3 * seconds / 999:.2f} ms each"
    )
    return missed


if __name__ == "__main__":
    sys.exit(main())
