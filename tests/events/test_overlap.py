import numpy as np
import pytest

from lagwise.core.errors import ModelError
from lagwise.events.overlap import overlap


def row(before, after, step=None):
    step = range(len(before) + len(after)) if step is None else step
    return overlap(step, [*before, *after], [step[len(before)]]).iloc[0]


def test_published_values_come_out():
    found = row([20, 20, 26, 25, 22, 23], [28, 25, 24, 27, 30, 30, 29])
    assert (found["nap"] * 42, found["tau"] * 42) == pytest.approx((38.5, 35))
    found = row([3, 3, 4, 5], [4, 5, 6, 7, 7])
    assert (found["tau"] * 20, found["tau_u"] * 20) == pytest.approx((16, 11))
    found = row([1, 2, 3, 4, 5], [6, 7, 8, 9, 10])
    assert (found["tau"], found["slope"], found["tau_corrected"]) == pytest.approx((1, 1, 0))


def test_turned_values_turn_the_signs():
    before, after = [3.0, 3.0, 4.0, 5.0], [4.0, 5.0, 6.0, 7.0, 7.0]
    up, down = row(before, after), row([-v for v in before], [-v for v in after])
    assert down["nap"] == pytest.approx(1 - up["nap"])
    names = ["tau", "tau_u", "slope", "tau_corrected"]
    np.testing.assert_allclose(down[names].to_numpy(float), -up[names].to_numpy(float))


def test_rounding_makes_no_difference_of_a_tie():
    before, after = [0.1, 0.2, 0.3, 0.4], [0.1 * k for k in range(5, 9)]
    assert row(before, after)["tau_corrected"] == 0
    assert row([0.1 + 0.2] * 3, [0.3] * 4 + [0.4])["nap"] == pytest.approx((12 / 2 + 3) / 15)


def test_trend_runs_over_true_steps_and_phases_follow_one_another():
    assert row([2, 4, 10], [11, 12, 13], step=[0, 1, 4, 5, 6, 7])["slope"] == pytest.approx(2)
    found = overlap(range(9), [1, 2, 1, 5, 6, 5, 1, 2, 1], [3, 6])
    assert found["tau"].tolist() == [1, -1] and found["start"].tolist() == [3, 6]


def test_a_phase_too_short_is_said():
    with pytest.raises(ModelError, match="phase 2 of 2 has 2 steps"):
        row([1, 2, 3], [4, 5])
