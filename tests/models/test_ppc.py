"""Predictive checks on ratings counted by hand."""

import numpy as np
from scipy.special import expit

from lagwise.models.ppc import check_table, checks, draw_ratings, statistics


def test_statistics_by_hand():
    y = np.array([0, 0, 5, 5, 5, 6])
    now = np.array([0.0, 1.0, np.nan, 4.0, 5.0, 6.0])
    found = dict(zip(checks(), statistics(y, now, np.array([0, 0, 0, 1, 1, 1])), strict=True))
    assert found["share_at_0"] == 2 / 6 and found["share_at_7_or_more"] == 0
    assert found["heaping"] == 3 / 6 - (0 + 1 / 6) / 2
    np.testing.assert_allclose(found["change_sd"], np.std([0, -1, 1, 0, 0]))
    np.testing.assert_allclose(found["person_mean_sd"], np.std([5 / 3, 16 / 3]))
    assert statistics(np.stack([y, y]), now, np.array([0, 0, 0, 1, 1, 1])).shape == (2, 5)


def test_drawn_ratings_follow_the_cutpoints():
    cut = np.linspace(-3, 3, 10)[None]
    y = draw_ratings(np.full((1, 200_000), 0.7), cut, np.random.default_rng(5))
    share = np.bincount(y[0], minlength=11) / y.size
    np.testing.assert_allclose(share, np.diff(np.concatenate([[0], expit(cut[0] - 0.7), [1]])), atol=0.004)


def test_table_says_what_lies_outside():
    predicted = np.tile(np.linspace(0, 1, 101)[:, None], 5)
    table = check_table(np.array([0.5, 0.0, 1.0, 0.03, 0.9]), predicted)
    assert table["within"].tolist() == [True, False, False, True, True]
    assert table["check"].tolist() == list(checks())
