"""The hand-written density against the plain formula, numerical derivatives and R's ordinal::clmm."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.special import expit, roots_hermite

from lagwise.models.cumlogit import Layout, log_density

REFERENCE = Path(__file__).parent.parent / "reference"
K = 11


def problem(
    people: int = 7, p: int = 3, *, slopes: bool = True, seed: int = 0, empty: tuple[int, ...] = (8, 10)
):
    rng = np.random.default_rng(seed)
    rows = rng.integers(1, 9, people)
    person = np.repeat(np.arange(people), rows)
    n = len(person)
    category = rng.choice([k for k in range(K) if k not in empty], n).astype(np.int64)
    Q = rng.normal(size=(p, n))
    half = rng.normal(size=(p, p))
    layout = Layout(K, p, people, slopes, anchor=4)
    x = rng.normal(0, 0.4, layout.size)
    arguments = (
        Q, rng.normal(size=n), category.astype(np.uint64),
        np.searchsorted(person, np.arange(people + 1)).astype(np.int64), np.bincount(category, minlength=K),
        4, half @ half.T + np.eye(p), 1.5, 0.35, 2.0, slopes,
    )  # fmt: skip
    return layout, x, arguments, person


def plain(layout: Layout, x: np.ndarray, arguments: tuple, person: np.ndarray) -> float:
    """The same density from textbook formulas; constants left out of the hand-written one are left out here too."""
    Q, jump, category, _, _, _, precision, scale_u, scale_v, scale_c, slopes = arguments
    c, theta = layout.cutpoints(x), x[layout.theta : layout.log_su]
    su = np.exp(x[layout.log_su])
    category = category.astype(np.int64)
    eta = theta @ Q + su * layout.sum_to_zero(x)[person]
    if slopes:
        eta = eta + np.exp(x[layout.log_sv]) * x[layout.zv :][person] * jump
    edges = np.concatenate([[-np.inf], c, [np.inf]])
    value = np.log(expit(edges[category + 1] - eta) - expit(edges[category] - eta)).sum()
    value += stats.logistic.logpdf(c, scale=scale_c).sum() + (K - 1) * np.log(scale_c) + x[1 : K - 1].sum()
    value -= 0.5 * theta @ precision @ theta
    value -= 0.5 * np.sum(x[layout.zu : layout.log_sv] ** 2)
    value += x[layout.log_su] - 0.5 * (su / scale_u) ** 2
    if slopes:
        value += x[layout.log_sv] - 0.5 * (np.exp(x[layout.log_sv]) / scale_v) ** 2
        value -= 0.5 * np.sum(x[layout.zv :] ** 2)
    return float(value)


@pytest.mark.parametrize("slopes", [True, False])
def test_density_is_the_textbook_formula_and_the_gradient_its_derivative(slopes):
    layout, x, arguments, person = problem(slopes=slopes)
    grad = np.empty(layout.size)
    assert log_density(x, *arguments, grad) == pytest.approx(plain(layout, x, arguments, person), abs=1e-9)
    steps = 1e-6 * np.eye(layout.size)
    slope = [
        (plain(layout, x + e, arguments, person) - plain(layout, x - e, arguments, person)) / 2e-6
        for e in steps
    ]
    np.testing.assert_allclose(grad, slope, atol=2e-6 * np.abs(grad).max())


def test_far_from_the_data_the_density_stays_finite():
    layout, x, arguments, _ = problem()
    x = x.copy()
    x[layout.theta] = 60.0
    grad = np.empty(layout.size)
    assert np.isfinite(log_density(x, *arguments, grad)) and np.isfinite(grad).all()


def test_the_same_point_gives_the_same_bits_wherever_it_stands_in_memory():
    layout, x, arguments, _ = problem(people=23, p=9)
    seen = set()
    for shift in range(8):
        room = np.empty(layout.size + 16)
        here = room[shift : shift + layout.size]
        here[:] = x
        grad = np.empty(layout.size + 16)[shift : shift + layout.size]
        copies = tuple(a.copy() if isinstance(a, np.ndarray) else a for a in arguments)
        seen.add((log_density(here, *copies, grad), grad.tobytes()))
    assert len(seen) == 1


def test_intercepts_sum_to_zero_with_the_right_covariance():
    layout = Layout(K, 0, 6, False, 4)
    map_ = np.stack([layout.sum_to_zero(np.eye(layout.size)[layout.zu + i]) for i in range(5)], axis=1)
    np.testing.assert_allclose(map_ @ map_.T, np.eye(6) - 1 / 6, atol=1e-12)


@pytest.mark.parametrize(("file", "newton"), [("panel_40x26.csv", False), ("panel_12x20.csv", True)])
def test_marginal_likelihood_peaks_where_clmm_says(file, newton):
    """The maximum is the same to 1e-4; a Newton step from clmm's estimates (smaller panel) leaves them as they are to 3 digits.

    The likelihood of one person at an intercept b is the density with m = 1 and cutpoints moved by -b, its priors taken away;
    the normal distribution of b is integrated out by adaptive Gauss-Hermite quadrature.
    """
    names = ["jump", "log_usual", "stress_within", "pain_within"]
    data = pd.read_csv(REFERENCE / file).dropna(subset=["pain_next", "pain_between", *names])
    found = pd.read_csv(REFERENCE / "clmm.csv").query("data == @file").set_index("name")["value"]
    category = np.clip(np.floor(data["pain_next"].to_numpy() + 0.5), 0, 10).astype(np.uint64)
    top = int(category.max()) + 1
    assert len(np.unique(category)) == top
    layout = Layout(top, len(names), 1, False, anchor=top // 2)
    people = [
        (Q, np.zeros(len(rows)), category[rows], np.array([0, len(rows)]),
         np.bincount(category[rows], minlength=top), layout.anchor, np.zeros((len(names),) * 2), 1.0, 1.0, 1.0, False)
        for rows in data.groupby("person").indices.values()
        for Q in [np.ascontiguousarray(data[names].to_numpy()[rows].T)]
    ]  # fmt: skip
    nodes, weights = roots_hermite(15)
    grad = np.empty(layout.size)
    x = np.zeros(layout.size)

    def conditional(one, cut, beta, b):
        x[: layout.theta] = layout.from_cutpoints(cut - b)
        x[layout.theta : layout.log_su] = beta
        prior = stats_logistic(cut - b) + x[1 : layout.theta].sum()
        return log_density(x, *one, grad) - prior + 0.5

    def stats_logistic(c):
        return float(np.sum(-np.abs(c) - 2 * np.log1p(np.exp(-np.abs(c)))))

    def marginal(v):
        cut, beta, sd = v[: top - 1], v[top - 1 : -1], v[-1]
        total = 0.0
        for i, one in enumerate(people):
            b = centre[i] + np.sqrt(2) * width[i] * nodes
            log = np.array([conditional(one, cut, beta, t) for t in b]) + stats.norm.logpdf(b, scale=sd)
            total += (
                np.log(np.sum(weights * np.exp(nodes**2 + log - log.max())) * np.sqrt(2) * width[i])
                + log.max()
            )
        return total

    start = np.array([*found[[f"{k}|{k + 1}" for k in range(top - 1)]], *found[names], found["sd_intercept"]])
    grid = np.linspace(-8, 8, 321)
    centre, width = np.empty(len(people)), np.empty(len(people))
    for i, one in enumerate(people):
        log = (
            np.array([conditional(one, start[: top - 1], start[top - 1 : -1], t) for t in grid])
            - 0.5 * (grid / start[-1]) ** 2
        )
        w = np.exp(log - log.max())
        centre[i] = np.sum(w * grid) / w.sum()
        width[i] = np.sqrt(np.sum(w * (grid - centre[i]) ** 2) / w.sum())

    assert marginal(start) == pytest.approx(found["loglik"], abs=1e-4)
    if not newton:
        return
    h = 1e-3 * np.eye(len(start))
    slope = np.array([(marginal(start + e) - marginal(start - e)) / 2e-3 for e in h])
    curve = np.array([
        [(marginal(start + a + b) - marginal(start + a - b) - marginal(start - a + b) + marginal(start - a - b)) / 4e-6 if j <= i else 0.0
         for j, b in enumerate(h)] for i, a in enumerate(h)
    ])  # fmt: skip
    curve = curve + np.tril(curve, -1).T
    step = -np.linalg.solve(curve, slope)
    np.testing.assert_allclose(start + step, start, rtol=5e-4, atol=5e-4)
