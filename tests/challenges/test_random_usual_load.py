import numpy as np
import pytest

from lagwise.challenges.random_usual_load import around, judged, lent, strangers


def test_a_base_that_does_not_move_counts_for_nothing():
    person = np.repeat([0, 1], [3, 2])
    values = np.array([[1.0, 2, 6, 4, 8]])
    assert np.allclose(around(values, person), [[-2, -1, 3, -2, 2]])
    assert np.allclose(around(values + np.where(person == 0, 5, -3), person), around(values, person))


def test_strangers_are_never_oneself_and_keep_their_order():
    person = np.repeat([0, 1, 2], [3, 2, 4])
    usual = np.arange(9.0)
    drawn = lent(usual, person, strangers(3, 500, np.random.default_rng(1)))
    assert (person[drawn.astype(int)] != person).all()
    assert {tuple(r) for r in drawn[:, :3]} == {(3.0, 4.0, 3.0), (5.0, 6.0, 7.0)}


@pytest.mark.parametrize(
    ("own", "p", "gain", "verdict"),
    [(1, 0.01, 5.0, "holds"), (0, 0.01, 5.0, "cannot_tell"), (1, 0.01, 3.0, "cannot_tell"), (1, 0.2, 5.0, "cannot_tell"), (1, 0.01, -1.0, "cannot_tell"),
     (1, 0.01, -5.0, "does_not_hold"), (-1, 0.6, -1.0, "does_not_hold"), (-1, 0.6, 1.0, "cannot_tell"), (0, 0.6, -5.0, "cannot_tell")],
)  # fmt: skip
def test_the_rule_of_placebos(own, p, gain, verdict):
    assert judged(own, p, gain) == verdict
