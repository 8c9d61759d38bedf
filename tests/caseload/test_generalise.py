import numpy as np
import pandas as pd
import pytest

from lagwise.caseload import coarsen
from lagwise.caseload.coarsen import (
    ages_merged,
    best_ways,
    coarse_people,
    edges_merged,
    fewer_ways,
    smallest_cell,
    ways,
)


def texts(*values: str | None) -> pd.Series:
    return pd.Series(values, dtype="str")


def test_age_bands_are_put_together_with_their_neighbours():
    ages = texts(*["20-29"] * 2, *["30-39"] * 3, *["40-49"] * 6, *["50-59"] * 5, "60+", None)
    assert ages_merged(ages, 5).value_counts().to_dict() == {"50+": 6, "40-49": 6, "20-39": 5}
    assert ages_merged(ages, 5).isna().tolist() == ages.isna().tolist()
    assert set(ages_merged(texts("under 18", "18-29", "30-39"), 2)) == {"under 40"}
    assert set(ages_merged(texts(*["young"] * 5, "old", "older"), 2)) == {"young", "other"}


def test_bands_of_numbers_are_put_together_and_every_value_stays_inside():
    edges = np.array([0.0, 3, 12, 36, 120, 1200])
    values = pd.Series([1.0, 2, 5, 6, 7, 8, 40, 50, 200, 300])
    assert edges_merged(values, edges, 4).tolist() == [0, 12, 1200]
    assert edges_merged(values, edges, 100).tolist() == [0, 1200]
    assert edges_merged(values, edges, 1).tolist() == [0, 3, 12, 120, 1200]


def test_a_way_that_says_one_thing_of_everybody_says_nothing():
    same = ways("sex", [texts("f", "m", "f"), texts("other", "other", "other")])
    assert [v.isna().all() for v in same.values] == [False, True]
    assert same.told == (1.0, 0.0)
    assert ways("sex", [texts("f", "f")]).told[0] == 1.0


def test_the_search_keeps_what_single_columns_would_lose():
    rng = np.random.default_rng(5)
    n = 24
    people = pd.DataFrame(
        {
            "person": [f"p{i}" for i in range(n)], "sex": ["f", "m"] * (n // 2),
            "age_band": rng.choice(["20-29", "30-39", "40-49", "50-59"], n),
            "region": [f"r{i % 12}" for i in range(n)], "row": range(n)},
    ).astype({"age_band": "str"})  # fmt: skip
    coarse, _ = coarse_people(people, 5)
    assert smallest_cell(coarse) >= 5
    assert coarse["sex"].notna().all()
    assert coarse["age_band"].notna().mean() > 0.7
    assert set(coarse["age_band"].dropna()) <= {"20-39", "40-59", "20-49", "30-59", "20-29", "50-59", "other"}


@pytest.mark.parametrize("n_scores", [0, 9])
def test_many_columns_do_not_make_the_search_endless(n_scores, monkeypatch):
    monkeypatch.setattr(coarsen, "MOST_NODES", 3000)
    rng = np.random.default_rng(6)
    columns = [
        ways(f"s{i}", [texts(*rng.choice(list("abcdefgh"), 30)), texts(*rng.choice(list("ab"), 30))])
        for i in range(3 + n_scores)
    ]
    tried = fewer_ways(columns)
    assert np.prod([len(c.values) for c in tried]) <= coarsen.MOST_NODES
    chosen = best_ways(tried, 5)
    assert 0 < len(chosen) <= 12
    assert all(len(one) == len(columns) for one in chosen)
