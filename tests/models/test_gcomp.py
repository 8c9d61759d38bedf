"""Averaged predictions against plain arithmetic, and where a flare-sized rise begins."""

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit

from lagwise.models.design import design_from
from lagwise.models.gcomp import Move, Threshold, averages, flare_threshold


def test_averages_are_means_of_predicted_probabilities():
    rng = np.random.default_rng(3)
    draws, n = 4, 9
    eta, cut = rng.normal(size=(draws, n)), np.sort(rng.normal(size=(draws, 10)), axis=1)
    move = Move(rng.normal(size=(draws, 2)), np.array([0, 0, 0, 1, 1, 1, 1, 0, 1]), rng.normal(size=n))
    threshold = Threshold(
        np.array([0, 1, 2, 5, 9, 10, 11, 3, 4]), np.linspace(0, 1, n), np.array([0, 3, 4, 5, 6, 8])
    )
    rows = np.array([0, 2, 3, 5, 6, 8])
    found = averages(eta, move, cut, rows, threshold)
    moved = eta + move.per[:, move.group] * move.amount
    for s in range(draws):
        below = expit(np.column_stack([np.full(n, -np.inf), cut[s] - moved[s][:, None], np.full(n, np.inf)]))
        chance = np.diff(below, axis=1)
        rise = [
            sum(chance[r, k] * ((k > threshold.category[r]) + (k == threshold.category[r]) * threshold.share[r]) for k in range(11))
            for r in (0, 3, 5, 6, 8)
        ]  # fmt: skip
        np.testing.assert_allclose(
            found[s], [(chance[rows] @ np.arange(11)).mean(), chance[rows, 0].mean(), np.mean(rise)]
        )


def test_nobody_at_risk_gives_a_missing_probability():
    threshold = Threshold(np.zeros(2, dtype=np.int64), np.ones(2), np.zeros(0, dtype=np.int64))
    still = Move(np.zeros((1, 1)), np.zeros(2, dtype=np.int64), np.zeros(2))
    assert np.isnan(
        averages(np.zeros((1, 2)), still, np.linspace(-2, 2, 10)[None], np.array([0, 1]), threshold)[0, 2]
    )


@pytest.mark.parametrize(
    ("next_pain", "usual", "category", "share"),
    [([3.0, 5.0], 2.5, 5, 1.0), ([3.0, 5.0], 2.0, 4, 1.0), ([3.2, 5.0], 2.5, 5, 1.0), ([3.2, 5.0], 2.25, 4, 0.25), ([3.0, 5.0], 9.5, 11, 1.0)],
)  # fmt: skip
def test_where_the_rise_begins(next_pain, usual, category, share):
    """Whole ratings count from the first at or above the limit; averaged ratings share the category that holds it."""
    frame = pd.DataFrame(
        {
            "person": ["a", "b"], "step": [3, 3], "pain_next": next_pain, "x": [0.0, 1.0],
            "usual_pain": usual, "at_risk": [1.0, np.nan]},
    )  # fmt: skip
    threshold = flare_threshold(design_from(frame, ["x"], outcome="pain_next"), 2.0)
    assert threshold.rows.tolist() == [0]
    assert (threshold.category[0], threshold.share[0]) == (category, pytest.approx(share))
