import numpy as np
import pytest
from challenge_panels import clinic, one, value
from proof_caseloads import two_regions

from lagwise.challenges.context import Context
from lagwise.challenges.estimate import Answer
from lagwise.challenges.unrelated_load import OTHERS, OWN, groups, judged, regions, with_part
from lagwise.core.errors import ModelError


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


def test_own_and_other_regions_add_up_to_all_load_and_their_parts_to_the_jump():
    (panel, fit), people = two_regions(0.8, 0.0)
    where = dict(zip(people["person"], people["region"], strict=True))
    both = regions(panel, where)
    known = panel.frame["load"].notna().to_numpy()
    assert np.allclose((both[OWN] + both[OTHERS])[known], panel.frame["load"][known])
    own, other = (with_part(Context(panel, fit), both[name]).frame for name in both)
    assert np.allclose(own["part"] + other["part"], own["jump"])
    assert np.allclose(own["part"], other["remainder"])


def test_a_group_known_on_few_steps_is_not_asked_about():
    (panel, fit), _ = two_regions(0.8, 0.0)
    load = groups(panel)["knee"].copy()
    load[np.random.default_rng(1).random(len(load)) < 0.9] = np.nan
    with pytest.raises(ModelError, match="too few steps"):
        with_part(Context(panel, fit), load)


@pytest.mark.parametrize(
    ("primary", "own", "other", "apart", "verdict"),
    [(1, 1, 0, 1, "holds"), (-1, -1, 0, -1, "holds"), (1, 0, 1, -1, "does_not_hold"), (0, 1, 0, 1, "does_not_hold"), (0, 1, 0, 0, "cannot_tell"),
     (0, 0, 1, 0, "cannot_tell"), (1, 1, 0, 0, "cannot_tell"), (1, 1, 1, 0, "cannot_tell")],
)  # fmt: skip
def test_the_rule_of_regions(primary, own, other, apart, verdict):
    own, other, apart = (Answer(s, 0.1, 50, s - 0.5, s + 0.5, 20, 300) for s in (own, other, apart))
    assert judged({OWN: own, OTHERS: other}, primary, apart)[0] == verdict
