"""Simulation-based calibration of the ordinal model (Talts et al. 2018, arXiv:1804.06788).

    python tests/bench/sbc.py [--repeats 800] [--people 20] [--steps 14] [--figure docs/figures/sbc.png]

Each repeat draws every parameter from its prior, ratings from the model and the posterior by the project's own density and
sampler, and ranks the true value among 99 nearly independent draws. Right code gives uniform ranks. Nothing is compiled anew
between repeats. Prints a chi-squared test per quantity and writes the figure: the ranks' cumulative share minus the uniform one, with the
band that 95 % of wholly uniform curves stay in.
"""

import argparse
import time
from dataclasses import replace
from pathlib import Path

import alone  # noqa: F401
import numpy as np
from scipy import stats
from simulated_panels import simulate

from lagwise.models.design import design
from lagwise.models.ordinal_draws import Draws, OrdinalModel, draw_prior, ordinal_model
from lagwise.models.ppc import draw_ratings
from lagwise.models.priors import DEFAULT
from lagwise.models.sampling import TARGET_ACCEPT, Chains, sample

HERE = Path(__file__).resolve().parent
KEPT, THIN, TUNE = 99, 20, 500
BINS = 20
QUANTITIES = (
    "load jump", "stress, within", "pain, within", "pain, between", "SD of intercepts", "SD of slopes",
    "cutpoint 2|3", "cutpoint 7|8", "one person's intercept", "one person's slope",
)  # fmt: skip


def quantities(model: OrdinalModel, draws: Draws) -> np.ndarray:
    """(draws, 10) of one chain, in the order of `QUANTITIES`."""
    at = [model.columns.index(c) for c in ("jump", "stress_within", "pain_within", "pain_between")]
    return np.column_stack(
        [draws.beta[0][:, at], draws.sd_intercept[0], draws.sd_slope[0], draws.cutpoints[0][:, [2, 7]],
         draws.intercepts[0][:, 3], draws.slopes[0][:, 3]]
    )  # fmt: skip


def ranks(repeats: int, people: int, steps: int) -> tuple[np.ndarray, int]:
    """(repeats, 10) ranks 0..99 and the number of divergent transitions."""
    data = design(simulate(1, people=people, steps=steps))
    rng = np.random.default_rng(20)
    out, lost = np.empty((repeats, len(QUANTITIES)), dtype=int), 0
    model = ordinal_model(data, DEFAULT)
    for i in range(repeats):
        truth = draw_prior(model, 1, rng)
        y = draw_ratings(model.predictor(truth, 0), truth.cutpoints[0], rng)[0]
        once = ordinal_model(replace(data, y=y.astype(float)), DEFAULT)
        how = Chains(draws=KEPT * THIN, tune=TUNE, chains=1, seed=i, target_accept=TARGET_ACCEPT)
        vectors, info = sample(once.layout.size, once.arguments, once.start(), how)
        found = quantities(once, once.unpack(vectors[:, THIN - 1 :: THIN]))
        out[i] = (found < quantities(model, truth)).sum(axis=0)
        lost += int(info["diverging"].sum())
    return out, lost


def band(repeats: int) -> float:
    """Half-width that 95 % of uniform curves never leave, in share of repeats."""
    rng = np.random.default_rng(1)
    at = np.arange(1, KEPT + 2) / (KEPT + 1)
    far = [np.abs(curve(rng.integers(0, KEPT + 1, repeats)) - at).max() for _ in range(4000)]
    return float(np.quantile(far, 0.95))


def curve(rank: np.ndarray) -> np.ndarray:
    """Cumulative share of ranks at 0, 1, ..., 99."""
    return np.cumsum(np.bincount(rank, minlength=KEPT + 1)) / len(rank)


def draw(found: np.ndarray, half: float, path: Path) -> None:
    """Write the figure."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    at = np.arange(1, KEPT + 2) / (KEPT + 1)
    figure, axes = plt.subplots(2, 5, figsize=(12, 4.8), sharex=True, sharey=True, layout="constrained")
    for ax, name, rank in zip(axes.flat, QUANTITIES, found.T, strict=True):
        ax.fill_between([0, 1], -half, half, color="0.88", linewidth=0)
        ax.axhline(0, color="0.5", linewidth=0.8)
        ax.plot(at, curve(rank) - at, color="#1f5a7a", linewidth=1.4)
        ax.set_title(name, fontsize=10)
    figure.supxlabel("rank of the true value among 99 posterior draws, as a share")
    figure.supylabel("cumulative share minus uniform")
    figure.suptitle(
        f"Ordinal model: ranks of true values over {len(found)} simulated caseloads; grey holds 95 % of uniform curves",
        fontsize=11,
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, dpi=150)
    plt.close(figure)


def main() -> None:
    """Run, print the table, write the figure."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=800)
    parser.add_argument("--people", type=int, default=20)
    parser.add_argument("--steps", type=int, default=14)
    parser.add_argument("--figure", type=Path, default=HERE.parent.parent / "docs" / "figures" / "sbc.png")
    options = parser.parse_args()
    began = time.perf_counter()
    found, lost = ranks(options.repeats, options.people, options.steps)
    half = band(options.repeats)
    at = np.arange(1, KEPT + 2) / (KEPT + 1)
    print(f"{options.repeats} repeats of {options.people} people x {options.steps} steps, {lost} divergent transitions, "
          f"{time.perf_counter() - began:.0f} s")  # fmt: skip
    print(f"{'quantity':24s} chi-squared p   largest deviation (95 % of uniform curves: {half:.3f})")
    for name, rank in zip(QUANTITIES, found.T, strict=True):
        p = stats.chisquare(np.histogram(rank, bins=BINS, range=(0, KEPT + 1))[0]).pvalue
        print(f"{name:24s} {p:13.3f}   {np.abs(curve(rank) - at).max():.3f}")
    draw(found, half, options.figure)


if __name__ == "__main__":
    main()
