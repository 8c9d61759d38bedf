from __future__ import annotations

import numpy as np
import pytest
from challenge_panels import clinic, one, value
from proof_caseloads import two_regions


@pytest.mark.parametrize("sign", [1, -1])
def test_a_difference_of_the_own_region_holds(sign):
    made, people = two_regions(sign * 0.8, 0.0)
    found = one("unrelated_load", made, people=people)
    assert found.verdict == "holds"
    assert np.sign(value(found, "own region")) == sign
    assert "by exercises for the region that hurts alone, pain in the week after was" in found.sentence


@pytest.mark.parametrize("sign", [1, -1])
def test_a_difference_of_other_regions_does_not_hold(sign):
    made, people = two_regions(0.0, sign * 0.8)
    found = one("unrelated_load", made, people=people)
    assert found.verdict == "does_not_hold"
    assert np.sign(value(found, "other regions")) == sign


def test_no_difference_cannot_tell():
    made, people = two_regions(0.0, 0.0)
    assert one("unrelated_load", made, people=people).verdict == "cannot_tell"


def test_without_regions_groups_are_shown_side_by_side():
    made, people = two_regions(0.8, 0.0)
    found = one("unrelated_load", made)
    assert found.verdict == "informative"
    assert {"knee", "elbow"} <= set(found.numbers["quantity"])
    ends = sorted(("knee", "elbow"), key=lambda name: value(found, name))
    assert found.sentence.index(f"({ends[0]})") < found.sentence.index(f"({ends[1]})")
    assert found.numbers.equals(one("unrelated_load", made, people=people.assign(region=np.nan)).numbers)


def test_without_groups_it_says_why():
    assert "no exercise groups" in one("unrelated_load", clinic()).problem
