from dataclasses import replace

import numpy as np
import pytest
from challenge_panels import PLAN, laid, one
from proof_caseloads import planned_on_last_week

from lagwise.challenges.estimate import Answer
from lagwise.challenges.pre_exposure_outcome import judged, net
from lagwise.models.rows import limits


def test_load_raised_after_pain_is_found_out_on_the_other_side():
    found = one("pre_exposure_outcome", planned_on_last_week(-0.25))
    assert found.verdict == "does_not_hold"
    assert found.numbers.iloc[0]["low"] > 0


def test_ratings_on_a_coarse_scale_are_not_taken_for_one_rating():
    """Most of them equal the one before, whatever is held equal; only the same rating leaves nothing to ask."""
    made = planned_on_last_week(0.0)
    frame, plan = made[0].frame, made[0].study
    pain = (frame["pain"] / 4).round().to_numpy().reshape(-1, frame["step"].max() + 1)
    load = frame["load"].to_numpy().reshape(pain.shape)
    found = one("pre_exposure_outcome", laid(pain, load, replace(plan, analysis=PLAN.analysis)))
    assert (np.diff(pain) == 0).mean() > 0.5 and not found.problem
    before = replace(plan, analysis=PLAN.analysis, pain=replace(plan.pain, rated="start"))
    assert (
        "the very rating of the week before" in one("pre_exposure_outcome", laid(pain, load, before)).problem
    )


def test_a_small_caseload_cannot_tell():
    assert one("pre_exposure_outcome", planned_on_last_week(0.0, people=6, steps=9)).verdict == "cannot_tell"


def _answer(estimate: float, error: float) -> Answer:
    return Answer(estimate, error, 100.0, *limits(estimate, error, 100.0), 40, 900)


@pytest.mark.parametrize(
    ("after", "before", "verdict"),
    [
        ((-0.07, 0.03), (-0.07, 0.03), "does_not_hold"),  # certain, and all there is of the claim
        (
            (-0.60, 0.03),
            (-0.30, 0.03),
            "does_not_hold",
        ),  # a larger estimate does not make room for a larger difference
        ((0.30, 0.04), (-0.09, 0.03), "cannot_tell"),  # certain but small, and the reading stays
        ((0.30, 0.04), (-0.02, 0.04), "holds"),
        ((0.00, 0.04), (-0.02, 0.04), "holds"),
        ((-0.07, 0.03), (-0.05, 0.03), "cannot_tell"),  # not certain, yet enough to account for the claim
        ((0.30, 0.20), (0.00, 0.20), "cannot_tell"),  # too wide to say
    ],
)
def test_the_rule_goes_by_a_margin_that_the_estimate_does_not_move(after, before, verdict):
    primary, found = _answer(*after), _answer(*before)
    assert judged(primary.side, found, net(primary, found).side, 0.25) == verdict


def test_net_of_the_difference_before_carries_both_errors():
    left = net(_answer(0.5, 0.3), _answer(0.1, 0.4))
    assert (left.estimate, left.std_error) == (pytest.approx(0.4), pytest.approx(0.5))
    assert left.high - left.estimate == pytest.approx(left.estimate - left.low)
