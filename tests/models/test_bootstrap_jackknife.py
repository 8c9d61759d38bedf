import numpy as np
import pytest
from simulated_panels import simulate

from lagwise.models.bootstrap import bootstrap
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design
from lagwise.models.jackknife import halves, jackknife
from lagwise.models.kernel import fit
from lagwise.models.ladder import climb
from lagwise.models.people import person_effects
from lagwise.models.within import fit_within


@pytest.fixture(scope="module")
def rung():
    return climb(
        design(simulate(31, people=20, steps=20, effect=0.5, slope_sd=1.0), pain_adjusted="none"), "jump"
    )


def test_resampled_people_equal_a_fit_on_stacked_rows(rung):
    d = rung.design
    chosen = np.random.default_rng(1).integers(0, 20, (2, 20))
    batch = fit(rung.cross.with_people(chosen), rung.estimates.structure)
    for b in range(2):
        rows = np.concatenate([np.flatnonzero(d.person == i) for i in chosen[b]])
        person = np.repeat(np.arange(20), np.bincount(d.person)[chosen[b]])
        Z = np.column_stack([np.ones(len(rows)), rung.slope_values[rows]])
        single = fit(CrossProducts.build(d.y[rows], d.X[rows], Z, person), rung.estimates.structure)
        np.testing.assert_allclose(batch.beta[b], single.beta[0], rtol=1e-5, atol=1e-8)
        np.testing.assert_allclose(batch.deviance[b], single.deviance[0], rtol=1e-9)


def test_bootstrap_limits_are_near_the_model_s_own_when_the_model_is_true(rung):
    estimate, std_error, _ = rung.contrast("jump")
    row = bootstrap(rung, "jump", seed=2).iloc[0]
    assert row["estimate"] == pytest.approx(estimate) and row["draws"] > 390
    assert row["high"] - row["low"] == pytest.approx(2 * 2.1 * std_error, rel=0.35)
    assert bootstrap(rung, "jump", seed=2).equals(bootstrap(rung, "jump", seed=2))


def test_people_whose_outcomes_are_nearly_exact_leave_no_negative_variance():
    """Person effects thousands of residual SDs wide: draws whose cross-products are lost to rounding are no fits."""
    rung = climb(
        design(simulate(11, people=12, steps=12, effect=0.5, slope_sd=1, person_sd=1, noise=1e-4)), "jump"
    )
    row = bootstrap(rung, "jump", draws=99).iloc[0]
    assert 50 < row["draws"] < 99 and np.isfinite(row["low"])


def test_bootstrap_holds_its_level_for_few_people():
    # 9 people, no association, no feedback: about 95 of 100 intervals include 0.
    misses = 0
    for seed in range(24):
        model = fit_within(design(simulate(seed, people=9, steps=16, feedback=0.0), exposures=["jump"]))
        row, (estimate, std_error, _) = bootstrap(model, "jump", draws=199).iloc[0], model.contrast("jump")
        assert row["estimate"] == pytest.approx(estimate) and row["low"] < estimate < row["high"]
        assert row["std_error"] < std_error  # the plain sandwich lacks CR2's correction
        misses += not row["low"] <= 0 <= row["high"]
    assert misses <= 4  # more in 1 of 150 tests


def test_halves_cut_each_record_and_centre_anew():
    d = design(simulate(33, people=6, steps=15, missing=0.1))
    first, second = halves(d)
    assert first.n_steps + second.n_steps == d.n_steps
    for person in d.people:
        a, b = (h.frame.loc[h.frame["person"] == person, "step"] for h in (first, second))
        assert a.max() < b.min() and abs(len(a) - len(b)) <= 1
    at = first.names.index("stress_within")
    sums = np.bincount(first.person, weights=first.X[:, at])
    np.testing.assert_allclose(sums, 0, atol=1e-9)


def test_jackknife_error_is_that_of_the_combination(rung):
    # Monte Carlo: new outcomes from the fitted model, the corrected estimate's spread against the stated error.
    table = jackknife(rung, "jump").set_index("estimate")
    d, e = rung.design, rung.estimates
    rng = np.random.default_rng(4)
    b = (
        rng.standard_normal((200, d.n_people, 2))
        @ np.linalg.cholesky(e.covariance()[0] + 1e-12 * np.eye(2)).T
    )
    Y = (
        d.X @ e.beta[0]
        + b[:, d.person, 0]
        + b[:, d.person, 1] * rung.slope_values
        + e.sigma[0] * rng.standard_normal((200, d.n_steps))
    )
    first, second = halves(d)
    parts = [(d, np.arange(d.n_steps))]
    keys = {k: i for i, k in enumerate(zip(d.frame["person"], d.frame["step"], strict=True))}
    parts += [
        (h, np.array([keys[k] for k in zip(h.frame["person"], h.frame["step"], strict=True)]))
        for h in (first, second)
    ]
    found = []
    for h, rows in parts:
        at = h.names.index("jump")
        Z = np.column_stack([np.ones(h.n_steps), h.X[:, at]])
        found.append(
            fit(CrossProducts.build(h.y, h.X, Z, h.person).with_responses(Y[:, rows]), e.structure).beta[
                :, at
            ]
        )
    corrected = 2 * found[0] - (found[1] + found[2]) / 2
    assert table.loc["corrected", "std_error"] == pytest.approx(corrected.std(), rel=0.2)


def test_person_effects_are_the_textbook_blups(rung):
    d, e = rung.design, rung.estimates
    effects = person_effects(rung)
    Z = np.column_stack([np.ones(d.n_steps), rung.slope_values])
    for i in (0, 7):
        at = d.person == i
        V = e.sigma[0] ** 2 * np.eye(at.sum()) + Z[at] @ e.covariance()[0] @ Z[at].T
        expected = e.covariance()[0] @ Z[at].T @ np.linalg.solve(V, d.y[at] - d.X[at] @ e.beta[0])
        np.testing.assert_allclose(effects[i], expected, rtol=1e-8, atol=1e-12)


def test_bootstrap_at_the_variances_of_all_people_gives_the_same_limits(monkeypatch):
    many = climb(design(simulate(5, people=80, steps=12, effect=0.5, slope_sd=0.3)), "jump")
    anew = bootstrap(many, "jump", -0.4, seed=2).iloc[0]
    monkeypatch.setattr("lagwise.models.bootstrap.MANY", 50)
    held = bootstrap(many, "jump", -0.4, seed=2).iloc[0]
    assert held["estimate"] == anew["estimate"] and held["std_error"] == anew["std_error"]
    width = anew["high"] - anew["low"]
    assert held["low"] == pytest.approx(anew["low"], abs=0.04 * width)
    assert held["high"] == pytest.approx(anew["high"], abs=0.04 * width)
