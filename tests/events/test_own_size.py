"""Simulated records of a record's own size: they are like the one they are drawn after, and their truth is known."""

import numpy as np
import pytest
from followed_worlds import KIND, World, panel

from lagwise.events.attempts import truth_at_this_size
from lagwise.events.change import Change
from lagwise.events.own_size import _World


def change(world: World, seed: int) -> Change:
    return Change(panel(world, seed), KIND, "pain", quick=True)


def test_carry_over_error_and_levels_are_those_that_made_the_record():
    world = _World(change(World(150, 40, carry=0.6, error=0.7), 3))
    rounded = np.hypot(0.7, np.sqrt(1 / 12))
    found = (world.phi, world.error, world.lasting, world.between)
    assert found == pytest.approx((0.6, rounded, 1, 1), abs=0.15)
    assert world.slope[True] == pytest.approx(0.8, abs=0.15) and world.slope[False] > world.slope[True]


def test_what_is_found_at_a_known_truth():
    asked = change(World(36, 18), 21)
    found = truth_at_this_size(asked)
    for name in ("logged_0", "logged_important"):
        assert found[name].low - 0.1 < 0 < found[name].high + 0.1
    assert found["unlogged_0"].value > found["logged_0"].value
    world = _World(asked)
    drawn = [np.isfinite(world._draw(0.0, True, world.base[True])[1]).sum() for _ in range(10)]
    assert np.mean(drawn) == pytest.approx(asked.steps.had.sum(), rel=0.25)
    ratings, after = world._draw(-0.5, True, world.base[True])
    assert set(np.unique(ratings)) <= set(range(11)) and len(after) == 36
