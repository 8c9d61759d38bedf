from dataclasses import replace

import numpy as np
import pytest
from simulated_panels import changed, simulate

from lagwise.core.errors import ModelError
from lagwise.core.gate import gate_for
from lagwise.core.numbers import whole
from lagwise.models import fit_mixed
from lagwise.models.crossproducts import CrossProducts, stacked
from lagwise.models.design import design_from
from lagwise.models.ladder import climb, climb_many
from lagwise.models.second import second_opinion


def panel_design(covariance, seed=1, people=30, steps=25):
    """Outcomes with person intercepts and slopes of a known covariance, no between-person columns."""
    rng = np.random.default_rng(seed)
    f = simulate(seed, people=people, steps=steps).frame
    x = f["jump"].fillna(0) * 3
    code = f["person"].astype("category").cat.codes.to_numpy()
    b = rng.multivariate_normal([0, 0], covariance, people)
    y = 4 + 0.5 * x + b[code, 0] + b[code, 1] * x + rng.normal(0, 1, len(f))
    return design_from(f.assign(x=x, y=y), ["x", "step"], outcome="y")


def test_the_top_rung_holds_when_both_variances_and_the_correlation_are_there():
    rung = climb(panel_design([[1.0, 0.4], [0.4, 0.8]]), "x")
    assert rung.estimates.structure == "correlated" and not rung.reasons
    assert rung.words == "mixed model, person intercepts and x slopes, correlated"


def test_a_correlation_of_one_goes_to_the_uncorrelated_rung():
    rung = climb(panel_design([[1.0, 0.5], [0.5, 0.25]], seed=5), "x")
    assert rung.estimates.structure == "uncorrelated"
    assert "correlation of slopes and intercepts runs to +1" in rung.reason


def test_slopes_without_variance_go_to_the_last_rung():
    reached = [climb(panel_design([[1.0, 0.0], [0.0, 0.0]], seed=seed), "x") for seed in range(8)]
    last = [r for r in reached if r.estimates.structure == "intercept"]
    assert len(last) >= 2  # the estimate of a zero variance is exactly 0 about half of the time
    for rung in last:
        assert rung.reasons[-1] == "uncorrelated slopes left: the variance of slopes runs to 0"
        assert not rung.slope


def test_a_slope_column_that_was_left_out_is_said():
    d = panel_design([[1.0, 0.0], [0.0, 0.5]])
    rung = climb(d, "rested")
    assert rung.estimates.structure == "intercept" and rung.reason == "no person slopes: rested does not vary"


@pytest.mark.parametrize(
    "covariance", [[[1.0, 0.4], [0.4, 0.8]], [[1.0, 0.0], [0.0, 0.0]], [[0.0, 0.0], [0.0, 0.8]]]
)
def test_statsmodels_comes_to_the_same_estimate(covariance):
    rung = climb(panel_design(covariance), "x")
    agreement = second_opinion(rung, "x")
    assert agreement.difference is not None and agreement.difference < 1e-4


def test_of_a_large_record_both_are_fitted_to_some_people_and_it_says_so():
    rung = climb(panel_design([[1.0, 0.4], [0.4, 0.8]], people=150), "x")
    agreement = second_opinion(rung, "x")
    assert agreement.difference < 1e-4
    assert agreement.reason == "both fitted to 120 of the 150 people"
    from_whole = replace(rung, estimates=replace(rung.estimates, beta=rung.estimates.beta + 1))
    assert second_opinion(from_whole, "x") == agreement  # the sample stands beside its own fit
    d = rung.design
    means = np.bincount(d.person, d.y) / np.bincount(d.person)
    alike = climb(replace(d, y=d.y - means[d.person]), "x")
    assert second_opinion(alike, "x").reason == (
        "both fitted to 120 of the 150 people; with the variance of intercepts held at 0"
    )


def test_many_data_sets_at_once_reach_the_rungs_that_each_reaches_alone():
    """Other people, other sizes and all three rungs in one batch."""
    kinds = ([[1.0, 0.4], [0.4, 0.8]], [[1.0, 0.5], [0.5, 0.25]], [[1.0, 0.0], [0.0, 0.0]])
    designs = [
        panel_design(kinds[s % 3], seed=s, people=(30, 12, 20)[s // 3 % 3], steps=(25, 12)[s % 2])
        for s in range(18)
    ]
    alone = [climb(d, "x") for d in designs]
    crosses = [
        CrossProducts.build(d.y, d.X, np.column_stack([np.ones(d.n_steps), d.X[:, 1]]), d.person)
        for d in designs
    ]
    assert {rung.estimates.structure for rung in alone} == {"correlated", "uncorrelated", "intercept"}
    for rung, one in zip(alone, climb_many(crosses), strict=True):
        assert one.structure == rung.estimates.structure
        np.testing.assert_allclose(one.beta, rung.estimates.beta, rtol=1e-6)
        weights = rung.weights("x")
        for name in ("estimate", "std_error", "df"):
            np.testing.assert_allclose(
                getattr(one.contrast(weights), name),
                getattr(rung.estimates.contrast(weights), name),
                rtol=1e-4,
            )


def test_data_sets_of_other_columns_stand_in_no_batch():
    one, other = (
        CrossProducts.build(d.y, X, None, d.person)
        for d in [panel_design([[1, 0], [0, 0]])]
        for X in (d.X, d.X[:, :2])
    )
    with pytest.raises(ModelError, match="other columns"):
        stacked([one, other])
    assert climb_many([]) == []


@pytest.mark.parametrize("people", [7, 12])
def test_an_outcome_that_is_one_number_for_each_person_is_not_fitted(people):
    panel = simulate(1, people=people, steps=12)
    own = panel.frame.groupby("person")["pain"].transform("first") / 3
    panel = changed(panel, pain_next=own.where(panel.frame["pain_next"].notna()))
    with pytest.raises(ModelError, match=r"^pain does not vary within anybody, so there"):
        fit_mixed(panel, exposures=["jump"])


def test_counts_of_people_are_set_apart_as_elsewhere():
    assert (
        gate_for(1997).sentence.startswith(f"{whole(1997)} people have")
        and "1997" not in gate_for(1997).sentence
    )
