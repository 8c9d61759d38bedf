import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lagwise.caseload.coarsen import coarse_people, smallest_cell

TELL = st.sampled_from(["a", "b", "c", "d", None])
ROWS = st.lists(
    st.tuples(TELL, TELL, st.sampled_from([1.0, 5.0, 20.0, 300.0, None])), min_size=1, max_size=40
)


def frame(rows) -> pd.DataFrame:
    out = pd.DataFrame(rows, columns=["site", "sex", "months_with_pain"])
    out = out.astype({"site": "str", "sex": "str", "months_with_pain": "float64"})
    return out.assign(person=[f"p{i}" for i in range(len(out))], row=range(2, len(out) + 2))


@given(ROWS, st.integers(1, 6))
@settings(max_examples=8, deadline=None)
def test_every_combination_is_shared_by_k_or_nothing_is_told(rows, k):
    people, emptied = coarse_people(frame(rows), k)
    told = ["site", "sex", "months_with_pain"]
    assert people["person"].tolist() == [f"p{i}" for i in range(len(rows))]
    if people[told].isna().all(axis=None):
        return
    assert smallest_cell(people) >= k
    assert emptied >= 0


def test_what_is_common_is_kept():
    people, emptied = coarse_people(frame([("north", "f", 5.0)] * 6 + [("south", "f", 5.0)] * 6), 5)
    assert people["site"].tolist() == ["S1"] * 6 + ["S2"] * 6
    assert people["months_with_pain"].unique().tolist() == [7.5]
    assert emptied == 0


def test_rare_words_are_merged_and_lone_people_emptied():
    rows = [("n", "f", 5.0)] * 6 + [("n", "m", 5.0)] * 6 + [("n", "x", 5.0)] + [("n", "y", 5.0)] * 4
    people, emptied = coarse_people(frame(rows), 5)
    assert sorted(people["sex"].value_counts().to_dict().items()) == [("f", 6), ("m", 6), ("other", 5)]
    assert emptied == 5
    people, _ = coarse_people(frame([("n", "f", 5.0)] * 6 + [("n", "x", 5.0)]), 5)
    assert smallest_cell(people) == 7
    assert people["sex"].isna().all() or set(people["sex"]) == {"other"}


@pytest.mark.parametrize(
    ("value", "band"), [(0, 1.5), (2.9, 1.5), (3, 7.5), (119, 78.0), (120, 120.0), (1200, 120.0)]
)
def test_bands(value, band):
    people, _ = coarse_people(frame([("n", "f", float(value))] * 5), 5)
    assert people["months_with_pain"].unique().tolist() == [band]


def test_scores_are_banded_within_their_range():
    base = frame([("n", "f", 5.0)] * 5).assign(fear=[0.0, 3.0, 9.0, 2.0, 1.0])
    people, _ = coarse_people(base, 5, {"fear": (0.0, 40.0)})
    assert people["fear"].tolist() == [5.0] * 5


def test_no_people_and_people_who_tell_nothing():
    assert smallest_cell(frame([]).head(0)) == 0
    assert smallest_cell(pd.DataFrame({"person": ["a", "b"]})) == 2
