"""Pictures of a Bayesian fit, from draws made by hand so that every number is known."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lagwise.core.effects import effects_frame
from lagwise.core.errors import ModelError
from lagwise.core.results import Fit
from lagwise.say import views

OBSERVED = np.array([0, 0, 1, 3])


def fit(drawn, after, rhat=1.0):
    """A fit with ratings `drawn` (draws, steps) and draws `after` (chains, draws) of its first contrast."""
    import arviz_base as az  # here, so that no other worker of pytest loads it

    before = np.linspace(-1, 1, 401)
    groups = {
        "posterior": {"difference": after[..., None]},
        "prior": {"difference": before[None, :, None]},
        "posterior_predictive": {"pain_next": drawn[None]},
        "prior_predictive": {"pain_next": np.tile(np.arange(11), (1, 5, 1))},
        "observed_data": {"pain_next": OBSERVED},
        "constant_data": {"level": np.arange(11)},
    }
    coords = {"contrast": ["jump +50 %"]}
    tree = az.from_dict(groups, coords=coords, dims={"difference": ["contrast"]}, check_conventions=False)
    gates = pd.DataFrame({"gate": ["rhat"], "value": [rhat]})
    return Fit(
        "ordinal", "pain_next", effects_frame([]), gates, True, "r", n_people=2, n_steps=4, posterior=tree
    )


@pytest.fixture
def plain():
    after = np.random.default_rng(1).normal(0.3, 0.05, (4, 400))
    return fit(np.array([[0, 0, 1, 3], [0, 1, 1, 3]]), after)


def test_shares_by_hand(plain):
    table = views.posterior_predictive(plain).data.set_index("x")
    assert table["value"].tolist() == [50, 25, 0, 25] + [0] * 7
    assert table["estimate"][:4].tolist() == [37.5, 37.5, 0, 25]
    assert (table["low"][0], table["high"][0]) == pytest.approx((25 + 25 * 0.025, 50 - 25 * 0.025))


def test_the_title_counts_the_ratings_inside(plain):
    assert "11 of 11" in views.posterior_predictive(fit(np.tile(OBSERVED, (9, 1)), np.zeros((2, 9)))).title
    wrong = np.tile([5, 5, 5, 5], (9, 1))
    assert "7 of 11" in views.posterior_predictive(fit(wrong, np.zeros((2, 9)))).title


def test_prior_ratings_come_from_the_prior(plain):
    table = views.prior_predictive(plain).data
    np.testing.assert_allclose(table["estimate"], 100 / 11)


def test_before_and_after(plain):
    picture = views.prior_and_posterior(plain)
    before, after = picture.data.to_dict("records")
    assert (before["low"], before["high"]) == pytest.approx((-0.95, 0.95))
    assert after["estimate"] == pytest.approx(0.3, abs=0.01)
    assert after["high"] - after["low"] == pytest.approx(4 * 0.98 * 0.05, rel=0.1)
    assert "is 10 times narrower" in picture.title


@pytest.mark.parametrize(
    ("spread", "said"),
    [(0.05, "10 times narrower"), (0.25, "1.9 times narrower"), (0.5, "about as wide as before")],
)
def test_how_narrow_it_became_is_said_in_its_words(spread, said):
    after = np.random.default_rng(1).normal(0.3, spread, (4, 400))
    assert views.prior_and_posterior(fit(np.tile(OBSERVED, (9, 1)), after)).title.endswith(f"is {said}")


def test_the_step_has_its_name(plain):
    daily = replace(plain, step="day")
    assert "of 100 person-days" in views.posterior_predictive(daily).alt
    assert views.prior_and_posterior(daily).x.startswith("difference in pain of the next day")


def test_chains_that_disagree_are_not_called_alike(plain):
    assert views.chains(plain).title.endswith("apart, agree")
    apart = views.chains(fit(np.tile(OBSERVED, (9, 1)), np.zeros((4, 400)), rhat=1.3))
    assert apart.title.endswith("do not agree")
    assert len(views.chains(plain).data) == 1600


def test_the_expected_counts_hold_95_of_100_bins(plain):
    low, high = views.chains(plain).options["expected"]
    counts = np.random.default_rng(2).binomial(400, 1 / views.RANKS, 20_000)
    assert 0.94 < np.mean((counts >= low) & (counts <= high)) < 0.98


def test_a_fit_without_draws_says_why():
    none = Fit(
        "ordinal",
        "pain_next",
        effects_frame([]),
        pd.DataFrame(),
        False,
        "not fitted",
        why_not="too few people",
    )
    with pytest.raises(ModelError, match="too few people"):
        views.chains(none)
