from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lagwise.core.errors import ModelError
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design_from
from lagwise.models.kernel import fit
from lagwise.models.within import fixed_many

REFERENCE = Path(__file__).parents[1] / "reference"
EXACT = [
    "jump", "log_usual", "effort_within", "effort_between", "stress_within", "stress_between",
    "sleep_hours_within", "sleep_hours_between", "worry_within", "worry_between",
]  # fmt: skip
ADJUSTED = {
    "none": [], "during": ["pain_within", "pain_between"], "before": ["pain_before_within", "pain_before_between"],
}  # fmt: skip


def made(rng, people=15, steps=20, correlation=0.3):
    n = people * steps
    person = np.repeat(np.arange(people), steps)
    z = rng.normal(0, 0.4, n)
    X = np.column_stack([np.ones(n), z, rng.normal(5, 2, n), rng.normal(0, 1, people)[person]])
    cov = np.array([[0.8, correlation * 0.6], [correlation * 0.6, 0.7]])
    b = rng.multivariate_normal([0, 0], cov, people)
    y = X @ [4, 0.5, -0.1, 0.3] + b[person, 0] + b[person, 1] * z + rng.normal(0, 1, n)
    return y, X, np.column_stack([np.ones(n), z]), person


def reference_cases():
    table = pd.read_csv(REFERENCE / "mixed.csv")
    return [
        pytest.param(*key, part, id="-".join(key))
        for key, part in table.groupby(["data", "model", "structure", "method"])
    ]


def reference_design(data, model):
    if data == "sleepstudy.csv":
        frame = pd.read_csv(REFERENCE / data)
        frame = frame.assign(person=frame["Subject"].astype(str), step=frame["Days"])
        return design_from(frame, ["Days"], outcome="Reaction"), "Days"
    frame = pd.read_csv(REFERENCE / data)
    return design_from(frame, [*EXACT, *ADJUSTED[model], "step"], outcome="pain_next"), "jump"


@pytest.mark.parametrize(("data", "model", "structure", "method", "printed"), reference_cases())
def test_agrees_with_lme4_and_lmerTest(data, model, structure, method, printed):
    d, slope = reference_design(data, model)
    Z = np.column_stack([np.ones(d.n_steps), d.X[:, d.names.index(slope)]])
    e = fit(CrossProducts.build(d.y, d.X, Z, d.person), structure, method)
    assert e.converged[0]
    numbers = printed[printed["quantity"] == "scalar"].set_index("name")["value"]
    theta = numbers.filter(like="theta").to_numpy()
    if structure == "correlated" and theta[0] == 0:
        # lme4 stops with an intercept variance of 0; with a correlation of +/-1 the deviance is lower still.
        assert numbers["deviance"] - 0.01 < e.deviance[0] < numbers["deviance"]
        return
    np.testing.assert_allclose(e.sigma[0], numbers["sigma"], rtol=1e-6)
    np.testing.assert_allclose(e.deviance[0], numbers["deviance"], rtol=1e-10)
    np.testing.assert_allclose(e.theta[0], theta, rtol=2e-5, atol=2e-6)
    coefficients = printed[printed["quantity"] == "coefficient"].set_index("name")
    for at, name in enumerate(d.names):
        row = coefficients.loc["(Intercept)" if name == "intercept" else name]
        c = e.contrast(np.eye(len(d.names))[at])
        np.testing.assert_allclose(c.estimate[0], row["value"], rtol=1e-6, atol=1e-7)
        np.testing.assert_allclose(c.std_error[0], row["std_error"], rtol=1e-6)
        if theta.min() > 1e-4:
            np.testing.assert_allclose(c.df[0], row["df"], rtol=2e-4)


@pytest.mark.parametrize("near", ["moments", "own", "zero"])
@pytest.mark.parametrize("structure", ["intercept", "uncorrelated", "correlated"])
def test_a_batch_equals_single_fits_wherever_the_search_starts(structure, near):
    rng = np.random.default_rng(4)
    y, X, Z, person = made(rng)
    columns = np.stack([rng.permutation(X[:, 1]) for _ in range(5)])
    Zs = np.stack([np.column_stack([np.ones(len(y)), c]) for c in columns])
    cross = CrossProducts.build(y, X, Z, person)
    own = fit(cross, structure).theta[0]
    start = {"moments": None, "own": own, "zero": 0 * own}[near]
    batch = fit(cross.with_columns([1], columns[:, :, None], Z=Zs), structure, near=start)
    for b in range(5):
        Xb = X.copy()
        Xb[:, 1] = columns[b]
        single = fit(CrossProducts.build(y, Xb, Zs[b], person), structure)
        np.testing.assert_allclose(batch.beta[b], single.beta[0], rtol=1e-6)
        np.testing.assert_allclose(batch.deviance[b], single.deviance[0], rtol=1e-10)
        w = np.eye(4)[1]
        np.testing.assert_allclose(batch.contrast(w).std_error[b], single.contrast(w).std_error[0], rtol=1e-5)


def test_a_batch_of_responses_equals_single_fits_in_any_row_order():
    rng = np.random.default_rng(5)
    y, X, Z, person = made(rng)
    shuffled = rng.permutation(len(y))
    Y = np.stack([y, y + rng.normal(0, 1, len(y)), 100 + 10 * y])
    batch = fit(CrossProducts.build(y[shuffled], X[shuffled], Z[shuffled], person[shuffled]).with_responses(Y[:, shuffled]), "correlated")  # fmt: skip
    for b in range(3):
        np.testing.assert_allclose(batch.beta[b], fit(CrossProducts.build(Y[b], X, Z, person), "correlated").beta[0], rtol=1e-6)  # fmt: skip
    np.testing.assert_allclose(batch.beta[2, 1], 10 * batch.beta[0, 1], rtol=1e-6)


def test_a_variance_may_be_exactly_zero():
    rng = np.random.default_rng(6)
    y, X, Z, person = made(rng)
    residual = y - X @ np.linalg.lstsq(X, y, rcond=None)[0]
    flat = X @ [1, 1, 1, 1] + residual - (np.bincount(person, residual) / 20)[person]
    e = fit(CrossProducts.build(flat, X, Z, person), "intercept")
    assert e.theta[0, 0] == 0
    ols = np.linalg.lstsq(X, flat, rcond=None)[0]
    np.testing.assert_allclose(e.beta[0], ols, rtol=1e-9)
    assert e.contrast(np.eye(4)[1]).df[0] == pytest.approx(len(y) - 4)


def test_singular_and_missing_variants_are_blank_and_spare_the_others():
    y, X, Z, person = made(np.random.default_rng(7))
    bad = X[:, 1].copy()
    bad[3] = np.nan
    e = fit(
        CrossProducts.build(y, X, Z, person).with_columns([1], np.stack([X[:, 2], bad, X[:, 1]])[:, :, None])
    )
    assert np.isnan(e.beta[:2]).all()
    np.testing.assert_allclose(e.beta[2], fit(CrossProducts.build(y, X, None, person)).beta[0])


def test_fixed_many_equals_least_squares_with_person_dummies():
    y, X, Z, person = made(np.random.default_rng(8))
    dummies = (person[:, None] == np.arange(15)).astype(float)
    full = np.column_stack([X[:, 1:3], dummies])
    beta, rss, _, _ = np.linalg.lstsq(full, y, rcond=None)
    got = fixed_many(CrossProducts.build(y, X, Z, person).with_responses(np.stack([y, 2 * y])), 1)
    np.testing.assert_allclose(got.estimate, [beta[0], 2 * beta[0]])
    df = len(y) - full.shape[1]
    np.testing.assert_allclose(got.std_error[0], np.sqrt(rss[0] / df * np.linalg.inv(full.T @ full)[0, 0]))
    assert got.df[0] == df
    assert np.isnan(fixed_many(CrossProducts.build(y, X, Z, person), 3).estimate).all()


def test_refuses_what_cannot_be_fitted():
    y, X, Z, person = made(np.random.default_rng(9))
    with pytest.raises(ModelError, match="missing or infinite"):
        CrossProducts.build(np.where(y > 5, np.nan, y), X, Z, person)
    with pytest.raises(ModelError, match="do not fit together"):
        CrossProducts.build(y[:-1], X, Z, person)
    with pytest.raises(ModelError, match="needs 2 columns"):
        fit(CrossProducts.build(y, X, None, person), "correlated")
    with pytest.raises(ModelError, match="cannot carry"):
        fit(CrossProducts.build(y[:5], X[:5], None, person[:5]))
