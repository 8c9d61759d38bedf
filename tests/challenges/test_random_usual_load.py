import numpy as np
import pytest
from challenge_panels import laid, no_effect, one, simple, value

from lagwise.challenges.random_usual_load import around, judged, lent, strangers


def test_nothing_is_claimed_where_load_has_no_part():
    assert one("random_usual_load", no_effect()).verdict == "cannot_tell"


@pytest.mark.parametrize("moving", [True, False])
def test_only_a_usual_load_that_moves_holds(moving):
    """Pain follows load against the usual load of four weeks, or against a base of the person's own that never moves; bases differ widely between people."""
    rng = np.random.default_rng(1)
    made = simple(people=40, steps=26)
    drift = np.cumsum(rng.normal(0, 0.1, made["load"].shape), axis=1)
    load = np.exp(
        rng.normal(3.4, 0.5, (40, 1))
        + drift
        - drift.mean(axis=1, keepdims=True)
        + rng.normal(0, 0.2, drift.shape)
    )
    usual = np.column_stack([load[:, max(0, t - 4) : max(1, t)].mean(axis=1) for t in range(26)])
    base = usual if moving else np.exp(np.log(load).mean(axis=1, keepdims=True))
    pain = made["pain"].copy()
    pain[:, 1:] = np.clip(pain[:, 1:] + 1.2 * np.log(load / base)[:, :-1], 0, 10)
    found = one("random_usual_load", laid(pain, load, stress=made["stress"]))
    assert found.verdict == ("holds" if moving else "does_not_hold")
    assert (value(found, "better fit with own usual load than with a constant") > 0) == moving


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
