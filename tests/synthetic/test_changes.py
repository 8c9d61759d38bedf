"""Events with a documented truth: what sets them off, what truly follows, and twins after which nothing does."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lagwise.synthetic import CHANGES, CHANGES_HALL, UNCHANGED
from lagwise.synthetic.changes import ADDED, FIRST, STEPS, recorded, set_off
from lagwise.synthetic.followed import followed
from lagwise.synthetic.observe import observe
from lagwise.synthetic.process import run

DATA = Path(__file__).parents[2] / "data_synthetic"
MANY = replace(CHANGES_HALL, n_people=3000)
KINDS = [change.kind for change in CHANGES]


@pytest.fixture(scope="module")
def hall():
    rng = np.random.default_rng(31)
    weeks = run(MANY, rng)
    return weeks, observe(weeks, MANY, rng)


def drawn(hall, changes):
    return set_off(*hall, changes, np.random.default_rng(7))


def firsts(changed, k):
    """Person and week of everybody's first event of a kind."""
    mine = changed.kind == k
    first = pd.Series(changed.week[mine]).groupby(changed.person[mine]).min()
    return first.index.to_numpy(), first.to_numpy()


@pytest.mark.parametrize("k", range(len(CHANGES)), ids=KINDS)
def test_the_truth_comes_out_by_common_random_numbers(hall, k):
    change = CHANGES[k]
    without = tuple(UNCHANGED[k] if j == k else c for j, c in enumerate(CHANGES))
    one, other = drawn(hall, CHANGES), drawn(hall, without)
    i, t = firsts(one, k)
    np.testing.assert_array_equal((i, t), firsts(other, k))
    after = t[:, None] + np.arange(STEPS)
    told = followed(CHANGES_HALL, CHANGES)
    for name in ("pain", "worry", "confidence") if change.set_off == "rated" else ("pain",):
        gap = one.ratings.whole(name)[i[:, None], after] - other.ratings.whole(name)[i[:, None], after]
        error = gap.mean(axis=1).std() / np.sqrt(len(i))
        true = told[change.kind, name]
        assert gap.mean() == pytest.approx(true["difference"], abs=4 * error + 0.002)
        assert true["difference"] == pytest.approx(getattr(change, name), abs=0.006)
        assert true["added"] == getattr(change, name)


def test_what_is_added_stays_to_the_end_and_comes_on_top(hall):
    changed = drawn(hall, CHANGES)
    for name in ADDED:
        expected = np.zeros_like(changed.ratings.added[name])
        for at, i, t in zip(changed.kind, changed.person, changed.week, strict=True):
            expected[i, t:] += getattr(CHANGES[at], name)
        np.testing.assert_allclose(changed.ratings.added[name], expected)


def test_the_twin_is_rated_as_if_nothing_had_happened(hall):
    weeks, records = hall
    changed = drawn(hall, UNCHANGED)
    _, kept = recorded(weeks, records, UNCHANGED, changed)
    np.testing.assert_array_equal(kept.pain[:, :, -1], records.pain[:, :, -1])
    np.testing.assert_array_equal(kept.worry[:, :, -1], np.minimum(records.worry[:, :, -1] + 2, 10))
    told = followed(CHANGES_HALL, UNCHANGED)
    assert {(v["added"], v["difference"], v["mc_error"]) for v in told.values()} == {(0, 0, 0)}
    for kind in ("education", "technique_change"):
        assert told[kind, "pain"]["before_after"] < -0.12


def odds_ratio(had, x, *held):
    """Logistic slope of x with other columns held equal, by Newton's method."""
    X = np.column_stack([np.ones(len(x)), x, *held])
    beta = np.zeros(X.shape[1])
    for _ in range(12):
        p = 1 / (1 + np.exp(-X @ beta))
        beta += np.linalg.solve((X * (p * (1 - p))[:, None]).T @ X, X.T @ (had - p))
    return beta, np.sqrt(np.diag(np.linalg.inv((X * (p * (1 - p))[:, None]).T @ X)))


def test_each_kind_is_set_off_as_it_says(hall):
    weeks, records = hall
    changed = drawn(hall, CHANGES)
    made = records.made[:, :, -1]
    pain, worry = changed.ratings.whole("pain"), changed.ratings.whole("worry")
    felt = weeks.pain - weeks.level[:, None]
    found = {}
    for k, change in enumerate(CHANGES):
        had = np.zeros(pain.shape, dtype=bool)
        had[changed.person[changed.kind == k], changed.week[changed.kind == k]] = True
        recent = np.cumsum(had, axis=1) - had
        at = np.zeros_like(had)
        at[:, FIRST : pain.shape[1] - STEPS + 1] = True
        at &= records.present & (recent == 0)
        at[:, 1:] &= made[:, :-1]
        i, t = np.nonzero(at)
        found[change.kind] = odds_ratio(had[i, t], pain[i, t - 1] - 5, worry[i, t - 1] - 5, felt[i, t - 1])
        assert not had[:, :FIRST].any()
        assert not had[:, pain.shape[1] - STEPS + 1 :].any()
        if change.set_off == "rated":
            unrated = ~np.column_stack([made[:, :1], made[:, :-1]])
            assert not (had & unrated).any()
    wanted = {
        "education": (-4.62, 0.7, 0.4, 0.0),
        "technique_change": (-4.6, 0.0, 0.0, 1.2),
        "load_reduced": (-3.85, 0.0, 0.0, 0.0),
    }
    for kind, (estimate, error) in found.items():
        assert (np.abs(estimate - wanted[kind]) < 4 * error).all(), kind
