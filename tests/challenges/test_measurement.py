from dataclasses import replace

import numpy as np
import pytest
from challenge_panels import clinic, laid, one, simple, value
from proof_caseloads import rated_effort

from lagwise.challenges.context import Context
from lagwise.challenges.measurement import corrected, pieces


def test_a_result_that_stands_in_for_badly_rated_effort_does_not_hold_on_the_other_side():
    found = one("measurement", rated_effort(-0.8, 0.0, 0.25, 0.51))
    plain = found.numbers.iloc[0]
    assert plain["high"] < 0
    assert found.verdict == "does_not_hold"
    assert abs(value(found, "estimate at an error SD of 0.51 points")) < abs(plain["value"])


def test_effort_that_hardly_varies_cannot_tell():
    found = one("measurement", rated_effort(0.3, 0.8, 0.0, 0.1, spread=0.2, people=20))
    assert found.verdict == "cannot_tell"
    assert value(found, "reliability of effort beside the other columns at an error SD of 0.51") == 0


def test_without_effort_it_says_why():
    made = simple()
    assert (
        "effort is not in the model"
        in one("measurement", laid(made["pain"], made["load"], stress=made["stress"])).problem
    )


def test_without_error_it_is_least_squares_with_person_dummies():
    panel, fit = clinic()
    d = Context(panel, fit).design
    got = corrected(pieces(d), 0.0, np.ones((1, d.n_people)), "jump")[0]
    dummies = (d.person[:, None] == np.arange(d.n_people)).astype(float)
    X = np.column_stack([d.X[:, 1:], dummies])
    assert got == pytest.approx(np.linalg.lstsq(X, d.y, rcond=None)[0][d.names.index("jump") - 1], rel=1e-8)


def test_a_step_s_error_shrinks_with_its_sessions():
    panel, fit = clinic()
    d = Context(panel, fit).design
    weights = [pieces(replace(d, frame=d.frame.assign(n_sessions=n))).weight for n in (1, 4)]
    assert np.allclose(weights[0], 4 * weights[1])
