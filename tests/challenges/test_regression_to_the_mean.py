import numpy as np
import pytest
from challenge_panels import laid, one, simple, value
from proof_caseloads import after_bad_weeks

from lagwise.challenges.regression_to_the_mean import changes, judged, per_person


def test_a_return_that_is_out_of_the_ordinary_does_not_hold_on_the_other_side():
    found = one("regression_to_the_mean", after_bad_weeks(1.2))
    assert found.verdict == "does_not_hold" and value(found, "observed minus expected from the way in") > 0


def test_bad_stretches_that_come_and_go_over_several_days_are_ordinary():
    """Large deviations last, small ones scatter: a straight carry-over alone would take the first for a slow return."""
    rng = np.random.default_rng(1)
    stretch = np.repeat(rng.random((30, 20)) < 0.1, 5, axis=1)
    pain = np.clip(4 + 2.5 * stretch + rng.normal(0, 0.8, stretch.shape), 0, 10)
    found = one(
        "regression_to_the_mean",
        laid(pain, rng.uniform(20, 40, pain.shape), stress=rng.normal(4, 1, pain.shape)),
    )
    gap = found.numbers.set_index("quantity").loc["observed minus expected from the carry-over"]
    assert gap["low"] > 0
    assert found.verdict == "holds"


@pytest.mark.parametrize(
    ("around", "verdict"),
    [
        ([(0.1, 0.5), (0.2, 0.6)], "does_not_hold"), ([(-0.5, -0.1), (-0.6, -0.2)], "does_not_hold"),
        ([(0.1, 0.5), (-0.6, -0.2)], "holds"), ([(0.1, 0.5), (-0.2, 0.2)], "holds"),
        ([(0.1, 0.5), (-1.2, 0.2)], "cannot_tell"), ([(-2.0, 2.0), (-0.2, 1.2)], "cannot_tell")],
)  # fmt: skip
def test_the_rule_of_returns(around, verdict):
    assert judged(around, 1.0) == verdict


def test_too_few_bad_weeks_say_why():
    made = simple(people=8, steps=10, noise=0.3)
    assert (
        "bad week"
        in one("regression_to_the_mean", laid(made["pain"], made["load"], stress=made["stress"])).problem
    )


def test_the_carry_over_is_that_of_the_other_weeks_alone():
    """After bad weeks everything stays; after others nothing does."""
    x = np.array([-1.0, 1.0, -1.0, 1.0, 3.0, 4.0])
    rows = np.column_stack([x, np.array([0.0, 0.0, 0.0, 0.0, 3.0, 4.0]), np.zeros(6)])
    sums = per_person(rows, x > 2, np.zeros(6, dtype=int), 1)
    found = changes(sums, np.ones((1, 1)))
    assert found["slope"][0] == 0
    assert found["carry-over"][0] == -3.5
    assert found["observed"][0] == 0
    assert found["way in"][0] == -3.5
