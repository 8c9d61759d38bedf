from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from challenge_panels import PLAN, clinic, laid, one, simple, value

GROUPED = replace(PLAN, groups={"knee": ("step-up",), "elbow": ("hammer curl",)})


def _made(of_own: float, of_other: float):
    """Half hurt at the knee, half at the elbow; later pain follows the load of the own or of the other region, in log units."""
    made = simple(people=40, steps=24)
    rng = np.random.default_rng(1)
    knee, elbow = (15 * np.exp(rng.normal(0, 0.35, (40, 24))) for _ in range(2))
    at_knee = np.arange(40) % 2 == 0
    own, other = (np.where(at_knee[:, None], a, b) for a, b in ((knee, elbow), (elbow, knee)))
    move = of_own * np.log(own / 15) + of_other * np.log(other / 15)
    pain = np.clip(made["pain"] + np.column_stack([np.zeros(40), move[:, :-1]]), 0, 10)
    people = pd.DataFrame({"person": [f"P{i:03d}" for i in range(40)], "region": np.where(at_knee, "Knee", "elbow")})
    extra = {"load_sets__knee": knee, "load_sets__elbow": elbow}
    return laid(pain, knee + elbow, GROUPED, stress=made["stress"], extra=extra), people


@pytest.mark.parametrize("sign", [1, -1])
def test_a_difference_of_the_own_region_holds(sign):
    made, people = _made(sign * 0.8, 0.0)
    found = one("unrelated_load", made, people=people)
    assert found.verdict == "holds"
    assert np.sign(value(found, "own region")) == sign


@pytest.mark.parametrize("sign", [1, -1])
def test_a_difference_of_other_regions_does_not_hold(sign):
    made, people = _made(0.0, sign * 0.8)
    found = one("unrelated_load", made, people=people)
    assert found.verdict == "does_not_hold"
    assert np.sign(value(found, "other regions")) == sign


def test_no_difference_cannot_tell():
    made, people = _made(0.0, 0.0)
    assert one("unrelated_load", made, people=people).verdict == "cannot_tell"


def test_without_regions_groups_are_shown_side_by_side():
    made, people = _made(0.8, 0.0)
    found = one("unrelated_load", made)
    assert found.verdict == "informative"
    assert {"knee", "elbow"} <= set(found.numbers["quantity"])
    assert found.numbers.equals(one("unrelated_load", made, people=people.assign(region=np.nan)).numbers)


def test_without_groups_it_says_why():
    assert "no exercise groups" in one("unrelated_load", clinic()).problem
