from __future__ import annotations

from challenge_panels import clinic, no_effect, one, value
from proof_caseloads import planned_on_last_week


def test_holds_where_load_answers_only_the_pain_adjusted_for():
    for made in (clinic(), no_effect()):
        assert one("pre_exposure_outcome", made).verdict == "holds"


def test_loadplanned_on_last_week_s_pain_is_found_out():
    found = one("pre_exposure_outcome", planned_on_last_week(0.25))
    assert found.verdict == "does_not_hold"
    assert found.numbers.iloc[0]["high"] < 0
    assert value(found, "week after (primary)") > value(found, "week before (must be 0)")


def test_load_raised_after_pain_is_found_out_on_the_other_side():
    found = one("pre_exposure_outcome", planned_on_last_week(-0.25))
    assert found.verdict == "does_not_hold"
    assert found.numbers.iloc[0]["low"] > 0


def test_a_small_caseload_cannot_tell():
    assert one("pre_exposure_outcome", planned_on_last_week(0.0, people=6, steps=9)).verdict == "cannot_tell"
