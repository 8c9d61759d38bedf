import math
from itertools import combinations, pairwise

import numpy as np
import pandas as pd
import pytest

from lagwise.caseload.singled_out import DRAWS, singled_out


def random_points(seed: int, people: int, each: int, values: int, places: int) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    n = people * each
    return pd.DataFrame(
        {
            "person": np.repeat([f"p{i}" for i in range(people)], each),
            "value": rng.integers(values, size=n).astype("str"),
            "place": rng.integers(places, size=n),
        }
    ).sample(frac=1, random_state=seed)


def by_hand(points: pd.DataFrame, k: int, *, in_a_row: bool = False) -> float:
    """The definition, one person and one set of points at a time."""
    held = {p: set(zip(g["value"], g["place"], strict=True)) for p, g in points.groupby("person")}
    chances = []
    for person, own in held.items():
        sets = list(combinations(sorted(own, key=lambda one: (one[1], one[0])), k))
        if in_a_row:
            sets = [s for s in sets if all(b[1] - a[1] == 1 for a, b in pairwise(s))]
        alone = [
            not any(
                any(
                    {(v, at + shift) for v, at in known} <= other
                    for shift in {to - known[0][1] for _, to in other}
                )
                for name, other in held.items()
                if name != person
            )
            for known in sets
        ]
        if alone:
            chances.append(np.mean(alone))
    return float(np.mean(chances)) if chances else math.nan


@pytest.mark.parametrize("k", [1, 2, 3])
@pytest.mark.parametrize("places", [1, 9, 200])
def test_all_sets_of_points_as_by_the_definition(k, places):
    points = random_points(places, people=6, each=8, values=4, places=places)
    share = singled_out(points, [k])[0]
    assert share.mean == pytest.approx(by_hand(points, k))
    assert share.error == 0


def test_points_in_a_row_as_by_the_definition():
    rng = np.random.default_rng(5)
    rows = [(f"p{i}", str(rng.integers(3)), w) for i in range(6) for w in range(150) if rng.random() < 0.3]
    points = pd.DataFrame(rows, columns=["person", "value", "place"])
    for k in (1, 2, 3, 4):
        share = singled_out(points, [k], in_a_row=True)[0]
        if math.isnan(expected := by_hand(points, k, in_a_row=True)):
            assert share.people == 0
        else:
            assert (share.mean, share.error) == (pytest.approx(expected), 0)


def test_drawn_sets_are_as_far_off_as_the_error_says():
    points = random_points(3, people=5, each=40, values=6, places=30)
    exact = by_hand(points, 2)
    assert math.comb(40, 2) > DRAWS // 5 // 8
    off = []
    for seed in range(30):
        share = singled_out(points, [3], seed=seed)[0]
        off.append((share.mean, share.error))
    means, errors = np.array(off).T
    assert 0 < errors.mean() < 0.02
    assert 0.5 < means.std(ddof=1) / errors.mean() < 1.6
    assert singled_out(points, [2])[0].mean == pytest.approx(exact, abs=4 * max(errors.max(), 0.005))


def test_twins_hide_each_other_and_a_stranger_does_not():
    one = [("a", str(i % 3), i) for i in range(9)]
    twins = pd.DataFrame(
        [*one, *(("b", v, at + 70) for _, v, at in one)], columns=["person", "value", "place"]
    )
    for k in (1, 2, 5):
        assert singled_out(twins, [k])[0].mean == 0
        assert singled_out(twins, [k])[0].mostly == 0
    strange = pd.concat([twins, pd.DataFrame({"person": "c", "value": ["9"] * 5, "place": range(5)})])
    share = singled_out(strange, [2])[0]
    assert (share.mean, share.mostly, share.people) == (pytest.approx(1 / 3), pytest.approx(1 / 3), 3)


def test_who_has_fewer_points_is_not_counted():
    points = pd.DataFrame({"person": ["a", "a", "b"], "value": ["1", "2", "1"], "place": 0})
    assert singled_out(points, [2])[0].people == 1
    nobody = singled_out(points, [3])[0]
    assert nobody.people == 0
    assert math.isnan(nobody.mean)


def test_the_order_of_rows_and_the_names_of_values_do_not_matter():
    points = random_points(9, people=6, each=8, values=4, places=9)
    share = singled_out(points, [2])[0]
    other = points.assign(value="v" + points["value"]).sample(frac=1, random_state=1)
    assert singled_out(other, [2])[0].mean == share.mean
