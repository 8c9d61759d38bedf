"""Steps at risk and what was known before them, worked by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from followed_worlds import KIND, recorded
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from lagwise.events.history import steps_at_risk

NAN = np.nan
PAIN = {
    "a": [4, 6, 5, 3, 2, 2, 2], "b": [5, NAN, 4, 3, NAN, NAN, 6, 7], "c": [3, 3, 3, 3, 3],
    "d": [2, 4, 6, 4, 2, 4, 6], "e": [1, 2, 3, 4, 5], "f": [9, 8, 7, 6, 5], "g": [5, 5, 5, 5],
}  # fmt: skip
EVENTS = [
    ("a", 2, KIND), ("c", -3, KIND), ("d", 3, KIND), ("d", 3.3, KIND), ("d", 5, KIND), ("d", 5, "education"),
    ("e", 20, KIND), ("f", 1, KIND), ("g", -1, KIND),
]  # fmt: skip


@pytest.fixture(scope="module")
def steps():
    return steps_at_risk(recorded(PAIN, EVENTS), KIND, "pain", horizon=4)


def test_at_risk_is_who_has_three_ratings_one_of_them_lately_and_no_event_yet(steps):
    at = [(steps.people[p], int(s)) for p, s in zip(steps.person, steps.step, strict=True)]
    assert at == [("a", 2), ("b", 3), ("b", 4), ("b", 6), ("d", 2), ("d", 3), ("e", 2), ("e", 3)]
    assert steps.had.tolist() == [True, *[False] * 4, True, False, False]
    assert steps.later.tolist() == [-1, 2, -1, -1, 5, -1, 7, -1]
    assert steps.at.tolist() == [2, 3, 4, 6, 2, 3, 2, 3]


def test_what_was_known_before_and_what_came_after(steps):
    assert steps.last.tolist() == [5, 3, 3, 6, 6, 4, 3, 4]
    np.testing.assert_allclose(steps.before, [5, 4, 4, 13 / 3, 4, 14 / 3, 2, 3])
    after = [[3, 2, 2, 2], [NAN, NAN, 6, 7], [NAN, 6, 7, NAN], [7, NAN, NAN, NAN], [4, 2, 4, 6], [2, 4, 6, NAN],
             [4, 5, NAN, NAN], [5, NAN, NAN, NAN]]  # fmt: skip
    np.testing.assert_array_equal(steps.Y, after)
    mean = np.array([5, 4, 4, 4.5, 4, 4, 2, 2.5])
    known = np.array([3, 3, 3, 4, 3, 4, 3, 4])
    away = mean - mean.mean()
    told = {"pain_1_back": steps.last, "own_mean": mean, "own_mean_shrunk": away * known / (known + 3)}
    for name, values in told.items():
        got = steps.X[:, 1 + steps.names.index(name)]
        np.testing.assert_allclose(got, (values - values.mean()) / values.std(), atol=1e-12)


def test_every_event_is_counted_once(steps):
    assert steps.left == {"undated": 0, "before": 1, "after": 1, "again": 2, "short": 2}
    assert steps.other.tolist() == [0, 0, 0, 0, 0, 3, 0, 0]
    panel = recorded(PAIN, EVENTS)
    without = panel.events.assign(step=panel.events["step"].where(panel.events["person"] != "a"))
    undated = steps_at_risk(replace(panel, events=without), KIND, "pain")
    assert undated.left == steps.left | {"undated": 1} and undated.had.sum() == 1


@settings(max_examples=8, deadline=None, phases=[Phase.generate])
@given(
    st.lists(st.tuples(st.sampled_from("abdeg"), st.integers(-4, 12)), min_size=1, max_size=20, unique=True)
)
def test_events_at_risk_and_those_left_out_are_all_there_are(placed):
    panel = recorded(PAIN, [(p, w, KIND) for p, w in placed])
    found = steps_at_risk(panel, KIND, "pain")
    assert found.had.sum() + sum(found.left.values()) == len(placed)
    assert pd.Series(found.person[found.had]).is_unique
