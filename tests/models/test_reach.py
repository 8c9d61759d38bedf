"""Practically no difference is said only for a contrast that people show."""

import numpy as np
import pytest
from simulated_panels import simulate, with_analysis

from lagwise.core.effects import LOW_TO_HIGH
from lagwise.models import fit_mixed
from lagwise.models.contrasts import point_contrasts
from lagwise.models.design import design
from lagwise.models.ladder import climb
from lagwise.models.priors import DEFAULT, standardise
from lagwise.models.reach import low_to_high, reach_table, shown
from lagwise.models.rows import column_of, planned_contrast, spread


@pytest.fixture(scope="module")
def panel():
    return simulate(3, effect=1.0, missing=0.05, rest=0.08)


def reach(panel, contrast):
    panel = with_analysis(panel, primary_contrast=contrast)
    column, d = column_of(panel.study.analysis.primary), design(panel)
    rung, size = climb(d, column), planned_contrast(panel.study)[1]
    both = (spread(*rung.contrast(column, s)) for s in (size, 2 * shown(d, column)[1]))
    return reach_table(d, column, panel.study, *both).set_index("contrast")


@pytest.fixture(scope="module")
def planned(panel):
    return fit_mixed(panel).tables["reach"].set_index("contrast")


def test_a_tenth_more_load_is_not_called_practically_nothing_where_load_matters(panel, planned):
    small = reach(panel, 0.1)
    a_tenth = small.loc["+10 %"]
    # 1.0 points per log unit: 0.1 points for a tenth more load, far inside the margin of 0.5 by its size alone.
    assert a_tenth["high"] < 0.5 and a_tenth["reached"] and not a_tenth["may_say"]
    assert not small.loc[LOW_TO_HIGH, "may_say"] and not planned.loc["+50 %", "may_say"]


@pytest.fixture(scope="module")
def null():
    return simulate(20, people=40, steps=30, effect=0.0, feedback=0.0)


def test_null_twin_may_say_it_of_both(null):
    table = reach(null, 0.1)
    assert table["inside"].all() and table["may_say"].all()


def test_a_contrast_that_nobody_shows_decides_nothing(null):
    table = reach(null, 19.0)
    assert table.loc["+1900 %", "share"] == 0 and not table.loc["+1900 %", "may_say"]


def test_share_and_usual_range_by_hand(panel, planned):
    table, d = planned, design(panel)
    trained = d.frame[d.frame["rested"].eq(0) & d.frame["restarted"].eq(0)]
    row, usual = table.loc["+50 %"], table.loc[LOW_TO_HIGH]
    assert row["n_steps"] == len(trained) < d.n_steps
    assert row["share"] == pytest.approx((trained["jump"] >= np.log(1.5)).mean())
    spread = trained.groupby("person")["jump"].std().mean()
    assert usual["size"] == pytest.approx(2 * spread) and usual["to_value"] == pytest.approx(spread)
    assert usual["estimate"] / row["estimate"] == pytest.approx(2 * spread / np.log(1.5))


def test_fewer_of_an_exposure_counts_downwards(panel):
    table = reach(with_analysis(panel, primary="sleep_hours"), -1.0)
    within = design(panel).frame["sleep_hours_within"]
    assert table.loc["-1", "share"] == pytest.approx((within <= -1).mean())


@pytest.mark.parametrize("primary", ["jump", "stress"])
def test_the_bayesian_contrast_is_the_same_range(panel, primary):
    panel = with_analysis(panel, primary=primary)
    d = design(panel)
    contrasts = point_contrasts(d, standardise(d, DEFAULT), panel.study)
    (usual,) = low_to_high(d, contrasts)
    spread = shown(d, usual.column)[1]
    start = -usual.below if usual.reference is None else usual.reference
    assert (start, usual.compared) == pytest.approx((-spread, spread)) and not usual.primary
    assert low_to_high(d, contrasts[1:]) == []
    given = {"estimate": 0.0, "low": -0.2, "high": 0.2, "p_practically_zero": 0.9, "p_important": 0.0}
    assert reach_table(d, usual.column, panel.study, given, given)["p_practically_zero"].tolist() == [
        0.9,
        0.9,
    ]


@pytest.mark.parametrize(
    ("contrast", "usual", "may"), [(0.1, 0.3, True), (0.1, 2.0, False), (19.0, 0.3, False)]
)
def test_a_contrast_of_no_width_is_none_only_where_it_is_reached_and_the_usual_range_is_none(
    panel, contrast, usual, may
):
    study = with_analysis(panel, primary_contrast=contrast).study
    both = ({"estimate": 0.0, "low": -far, "high": far} for far in (0.1, usual))
    assert reach_table(design(panel), "jump", study, *both)["may_say"].tolist() == [may, usual < 0.5]
