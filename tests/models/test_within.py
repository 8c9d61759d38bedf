from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from simulated_panels import simulate

from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design, design_from
from lagwise.models.kernel import fit
from lagwise.models.within import few, fit_fixed, fit_within, fixed_many, within_variants

REFERENCE = Path(__file__).parents[1] / "reference"
COLUMNS = [
    "jump", "log_usual", "effort_within", "stress_within", "sleep_hours_within", "worry_within",
    "pain_within", "step",
]  # fmt: skip


@pytest.mark.parametrize("data", ["panel_40x26.csv", "panel_12x20.csv", "panel_7x24.csv"])
@pytest.mark.parametrize(("estimator", "fitted"), [("within", fit_within), ("fixed", fit_fixed)])
def test_agrees_with_clubSandwich(data, estimator, fitted):
    printed = (
        pd.read_csv(REFERENCE / "within.csv")
        .query("data == @data and estimator == @estimator")
        .set_index("name")
    )
    d = design_from(
        pd.read_csv(REFERENCE / data), [*COLUMNS, "stress_between", "pain_between"], outcome="pain_next"
    )
    found = fitted(d)
    assert set(COLUMNS) == set(found.names) - {"intercept", "pain_between"}
    assert ("pain_between" in found.names) == (estimator == "within")
    assert "stress_between" in dict(found.dropped)
    for name in COLUMNS:
        estimate, std_error, df = found.contrast(name)
        np.testing.assert_allclose(estimate, printed.loc[name, "value"], rtol=1e-7)
        np.testing.assert_allclose(std_error, printed.loc[name, "std_error"], rtol=1e-6)
        np.testing.assert_allclose(df, printed.loc[name, "df"], rtol=1e-5)
    own = few(d) if estimator == "within" else d
    cross, at = CrossProducts.build(own.y, own.X, None, own.person), own.names.index("jump")
    batch = fit(cross).contrast(np.eye(cross.p)[at]) if estimator == "within" else fixed_many(cross, at)
    np.testing.assert_allclose(batch.std_error[0], printed.loc["jump", "classical"], rtol=1e-7)


def test_many_variants_give_what_each_gives_by_itself():
    """Estimate, CR2 error and df of exchanged columns and responses from cross-products, against the rows themselves."""
    d, rng = few(design(simulate(3, people=7, missing=0.1))), np.random.default_rng(2)
    at = [d.names.index("jump"), len(d.names)]
    values = np.stack(
        [np.column_stack([d.X, d.y])[:, at] + rng.normal(0, s, (d.n_steps, 2)) for s in (0, 0.1, 0.4)]
    )
    many = within_variants(d, at, values, at[0])
    for b, (jump, y) in enumerate(values.swapaxes(1, 2)):
        X = d.X.copy()
        X[:, at[0]] = jump
        one = fit_within(replace(d, X=X, y=y)).contrast("jump")
        np.testing.assert_allclose([many.estimate[b], many.std_error[b], many.df[b]], one, rtol=1e-6)


def test_levels_that_mean_pain_does_not_tell_weigh_the_rows():
    """Without pain in the model people's levels are a random intercept: generalised least squares with the whole covariance written out."""
    d = few(design(simulate(1, people=6, missing=0.1), pain_adjusted="none"))
    theta = fit(CrossProducts.build(d.y, d.X, None, d.person)).theta[0, 0]
    assert theta > 0.5
    V = np.linalg.inv(np.eye(d.n_steps) + theta**2 * (d.person[:, None] == d.person))
    beta = np.linalg.solve(d.X.T @ V @ d.X, d.X.T @ V @ d.y)
    np.testing.assert_allclose(fit_within(d).beta, beta, rtol=1e-6, atol=1e-9)


def test_load_jump_is_not_taken_from_a_mean_that_holds_later_loads():
    """9 people, 12 weeks, load cut by 25 % a point of pain: recovery, its null twin, and what centring on the whole record would add."""
    for effect in (0.0, 0.8):
        both = []
        for seed in range(40):
            d = design(
                simulate(seed, people=9, steps=12, effect=effect, feedback=0.25, exposures=("jump", "stress"))
            )
            both.append((fit_within(d).contrast("jump")[0], fit_fixed(d).contrast("jump")[0]))
        own, centred = np.array(both).T
        assert abs(own.mean() - effect) < 3 * own.std() / np.sqrt(40)
        assert (centred - own).mean() > 0.06
