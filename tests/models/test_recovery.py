"""Recovery of a known effect with feedback from pain to load, each beside its null twin. The long version is tests/bench/recovery.py."""

import pytest
from recovery import Scenario, estimates, summary

RUNS = range(5000, 5030)
CASELOAD = {"people": 40, "steps": 26, "feedback": 0.12}


@pytest.mark.parametrize("truth", [0.0, 0.8])
def test_the_primary_estimate_recovers_the_truth_and_its_null_twin(truth):
    scenario = Scenario("40 people x 26 weeks with feedback", truth, CASELOAD)
    row = summary(scenario, estimates(scenario, RUNS, corrected=False)).set_index("estimator").loc["plain"]
    assert abs(row["bias"]) <= 0.08 + 2 * row["bias_mc_error"]
    assert 0.91 - 2 * row["coverage_mc_error"] <= row["coverage"]
    if truth == 0:
        assert row["excludes_zero"] <= 0.08 + 2 * row["coverage_mc_error"]
    else:
        assert row["excludes_zero"] > 0.9


def test_adjusting_for_the_pain_before_keeps_the_feedback():
    # The negative control of the control: with ratings made at the end, adjustment A must show the bias it is said to have.
    scenario = Scenario("adjusted for pain before", 0.0, CASELOAD)
    row = (
        summary(scenario, estimates(scenario, range(5000, 5008), pain="before", corrected=False))
        .set_index("estimator")
        .loc["plain"]
    )
    assert row["bias"] < -0.2
