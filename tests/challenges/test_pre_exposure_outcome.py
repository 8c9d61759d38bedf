from __future__ import annotations

import numpy as np
from challenge_panels import clinic, laid, no_effect, one, simple, value


def _planned_on_last_week(feedback: float, **size: int):
    made = simple(noise=1.0, **size)
    before = np.column_stack([made["pain"][:, :1], made["pain"][:, :-1]])
    load = made["load"] * np.exp(-feedback * (before - before.mean(axis=1, keepdims=True)))
    return laid(made["pain"], load, stress=made["stress"])


def test_holds_where_load_answers_only_the_pain_adjusted_for():
    for made in (clinic(), no_effect()):
        assert one("pre_exposure_outcome", made).verdict == "holds"


def test_load_planned_on_last_week_s_pain_is_found_out():
    found = one("pre_exposure_outcome", _planned_on_last_week(0.25))
    assert found.verdict == "does_not_hold"
    assert found.numbers.iloc[0]["high"] < 0
    assert value(found, "week after (primary)") > value(found, "week before (must be 0)")


def test_load_raised_after_pain_is_found_out_on_the_other_side():
    found = one("pre_exposure_outcome", _planned_on_last_week(-0.25))
    assert found.verdict == "does_not_hold"
    assert found.numbers.iloc[0]["low"] > 0


def test_a_small_caseload_cannot_tell():
    assert one("pre_exposure_outcome", _planned_on_last_week(0.0, people=6, steps=9)).verdict == "cannot_tell"
