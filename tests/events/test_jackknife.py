"""Estimates without each person, worked out together, are those of the record without that person."""

import numpy as np
import pytest

from lagwise.events import compare as room
from lagwise.events.compare import compare
from lagwise.events.history import Ratings, steps_of


def drawn(people=24, weeks=18, seed=3):
    """Ratings that drift back to people's own levels, and an event after a high one."""
    rng = np.random.default_rng(seed)
    y = np.zeros((people, weeks))
    for t in range(1, weeks):
        y[:, t] = 0.6 * y[:, t - 1] + rng.normal(size=people)
    y += rng.normal(size=(people, 1))
    y[rng.random(y.shape) < 0.1] = np.nan
    odds = np.where(np.nan_to_num(y) > 1, 0.2, 0.04) * (np.arange(weeks) > 4)
    came = rng.random(y.shape) < odds
    after = np.where(came.any(axis=1), came.argmax(axis=1), np.inf)
    code, step = np.repeat(np.arange(people), weeks), np.tile(np.arange(weeks), people)
    return steps_of(Ratings(code, step, step.astype(float), y.ravel()), after)


@pytest.mark.parametrize("cells", [1, 10**9], ids=["one at a time", "all at once"])
def test_each_row_is_the_estimate_without_that_person(cells, monkeypatch):
    monkeypatch.setattr(room, "CELLS", cells)
    steps = drawn()
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
