"""What the priors leave room for, by hand: odds ratios and points for one SD and for twice the load."""

import numpy as np
import pytest
from simulated_panels import simulate

from lagwise.models.design import design
from lagwise.models.priors import DEFAULT, prior_of_contrast, prior_table, standardise

DATA = design(simulate(1, people=12, steps=20, rest=0.05))
COLUMNS = standardise(DATA, DEFAULT)


def limits(table, prior, per="SD"):
    return table.set_index(["prior", "per"]).loc[(prior, per), ["low", "high"]].astype(float).tolist()


def within_sd(column):
    known = DATA.frame.groupby("person")[column]
    off = DATA.frame[column] - known.transform("mean")
    return np.sqrt((off**2).sum() / (len(off) - known.ngroups))


def test_odds_ratios_that_95_of_100_draws_of_a_prior_lie_between():
    table, rng = prior_table(DATA, COLUMNS, DEFAULT), np.random.default_rng(1)
    drawn = rng.normal(0.0, 0.35, 400_000)
    by_draws = np.quantile(np.exp(drawn), [0.025, 0.975])
    assert limits(table, "load") == pytest.approx(by_draws, rel=0.01)
    twice = np.exp(drawn * np.log(2) / within_sd("jump"))
    assert limits(table, "load", "twice the load") == pytest.approx(
        np.quantile(twice, [0.025, 0.975]), rel=0.01
    )
    spread = np.quantile(np.exp(np.abs(rng.normal(0.0, 1.5, 400_000))), 0.95)
    assert limits(table, "intercept_sd", "people") == pytest.approx([1.0, spread], rel=0.02)
    assert set(table["scale"]) == {"odds_ratio"}
    assert set(COLUMNS.prior_sd) <= set(table["sd"])


def test_points_of_a_model_in_points():
    table = prior_table(DATA, COLUMNS, DEFAULT, unit=0.6)
    assert limits(table, "pain_within") == pytest.approx([-1.96 * 0.6, 1.96 * 0.6], abs=1e-3)
    assert limits(table, "slope_sd", "people x SD") == pytest.approx([0, 1.96 * 0.6 * 0.35], abs=1e-3)
    assert table.set_index("prior").loc["pain_within", "sd"] == 0.6 and set(table["scale"]) == {"points"}


def test_a_contrast_lies_as_far_either_side_as_95_of_100_draws():
    row = prior_of_contrast("+50 %", np.random.default_rng(2).normal(0.0, 0.2, 100_000))
    assert (row["low"], row["high"]) == pytest.approx((-0.392, 0.392), abs=0.005) and row["low"] == -row[
        "high"
    ]
    assert row["sd"] == pytest.approx(0.2, abs=0.002) and row["per"] == "+50 %"
