"""One person's record cut at what changed."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from lagwise.events.overlap import overlap
from lagwise.events.phased import Event, changes, cut, phases
from lagwise.events.single import phase_changes

RATED = [5.0, 6.0, 4.0, None, 5.0, 3.0, 2.0, 3.0, 4.0, 2.0, None, 1.0, 2.0, 1.0, 2.0]


def test_phases_begin_with_events_and_after_the_last_step_of_what_ends():
    found = phases(RATED, [Event("education", 5), Event("load_reduced", 0, 3), Event("illness", 9, 11)])
    assert found[["first", "last", "n"]].to_numpy().tolist() == [[0, 3, 3], [5, 8, 4], [12, 14, 3]]
    assert found["mean"].tolist() == pytest.approx([5.0, 3.0, 5 / 3])


def test_each_change_is_the_later_phase_against_the_one_before():
    found = changes(RATED, [Event("education", 5, because="planned")])
    row = found.iloc[0]
    step = np.arange(len(RATED))
    value = [np.nan if v is None else v for v in RATED]
    expected, beside = phase_changes(step, value, [5]).rows.iloc[0], overlap(step, value, [5]).iloc[0]
    assert row[["kind", "because", "reason", "n_before", "n_after"]].tolist() == [
        "education", "planned", "compared", 4, 9,
    ]  # fmt: skip
    for name in ("estimate", "low", "high", "df"):
        assert row[name] == pytest.approx(expected[name])
    for name in ("pairs", "nap", "tau", "tau_u", "tau_corrected"):
        assert row[name] == pytest.approx(beside[name])


def test_what_began_close_together_is_one_change_and_the_steps_between_are_in_neither_phase():
    found = changes(RATED, [Event("illness", 5, 6), Event("education", 7)])
    assert found[["kind", "start", "after", "n_before", "n_after"]].to_numpy().tolist() == [
        ["illness + education", 5, 7, 4, 7]
    ]
    rated = [v for v in RATED[7:] if v is not None]
    assert found["mean_after"].iloc[0] == pytest.approx(np.mean(rated))


@pytest.mark.parametrize(
    ("start", "reason"), [(0, "outside"), (-3, "outside"), (15, "outside"), (2, "few"), (13, "few")]
)
def test_why_a_change_is_not_compared(start, reason):
    found = changes(RATED, [Event("education", start)])
    assert found["reason"].tolist() == [reason] and found["estimate"].isna().all()


def test_a_rating_that_never_varies_and_one_that_is_never_made():
    assert changes([3.0] * 12, [Event("education", 6)])["reason"].tolist() == ["flat"]
    assert changes([None] * 12, [Event("education", 6)])["reason"].tolist() == ["few"]
    assert phases([None] * 12, [Event("education", 6)]).empty


def test_the_order_of_events_does_not_matter_and_every_event_is_in_one_change():
    events = [Event("a", 4), Event("b", 9, 10), Event("a", 5), Event("c", 40), Event("d", 0)]
    there = cut(RATED, events)[1]
    assert sorted(e for c in there for e in c.events) == sorted(events)
    pd.testing.assert_frame_equal(
        changes(RATED, events), changes(RATED, events[::-1])[list(changes(RATED, events))]
    )
