"""Estimates without each person, worked out together, are those of the record without that person."""

import numpy as np
import pytest
from followed_worlds import KIND, World, panel

from lagwise.events import compare as room
from lagwise.events.compare import compare
from lagwise.events.history import steps_at_risk


@pytest.mark.parametrize("cells", [1, 10**9], ids=["one at a time", "all at once"])
def test_each_row_is_the_estimate_without_that_person(cells, monkeypatch):
    monkeypatch.setattr(room, "CELLS", cells)
    steps = steps_at_risk(panel(World(24, 18, missing=0.1), 3), KIND, "pain")
    found = compare(steps)
    people = np.unique(steps.person)
    group = room._groups(steps, found.events, room.GROUPS)
    assert len(found.left_out) == len(people)
    for who in people:
        left = steps.person != who
        alone = compare(steps.take(left), only=found.events[left], jackknife=False)
        kept = alone.events.sum() == (found.events & left).sum()
        row = found.left_out[group[~left][0]]
        if kept:  # without this person an event may have no comparable steps any more
            np.testing.assert_allclose(row, alone.values, atol=1e-9)
    assert kept
    spread = found.left_out.std(axis=0, ddof=0) * np.sqrt(len(people) - 1)
    np.testing.assert_allclose(found.std_error, spread)
