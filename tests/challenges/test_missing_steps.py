from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from challenge_panels import clinic, laid, one, simple, value

from lagwise.challenges.imputation import fill, gaps_of, pooled, rebuilt


def _hidden(sign: int, effect: float = 0.3):
    """After weeks above usual load, pain goes unrecorded where it is about to be high (or low): the week after still shows it."""
    made = simple(people=40, steps=30, effect=sign * effect, carry=0.8, noise=0.5)
    pain, load = made["pain"].copy(), made["load"]
    above = np.log(load / load.mean(axis=1, keepdims=True)) > 0.1
    ache = made["pain"] - made["pain"].mean(axis=1, keepdims=True)
    for t in range(28):
        pain[above[:, t] & (sign * ache[:, t + 2] > 0), t + 1] = np.nan
    return laid(pain, load, stress=made["stress"])


def test_few_gaps_hold():
    found = one("missing_steps", clinic(), quick=True)
    assert found.verdict == "holds"
    assert 0 < value(found, "weeks without pain") < 0.1


@pytest.mark.parametrize("sign", [1, -1])
def test_gaps_that_hide_the_difference_do_not_hold(sign):
    found = one("missing_steps", _hidden(sign), quick=True)
    plain, filled = found.numbers.iloc[0], found.numbers.iloc[1]
    assert plain["low"] < 0 < plain["high"]
    assert sign * filled["value"] > sign * plain["value"]
    assert found.verdict == "does_not_hold"


def test_many_gaps_that_could_be_worse_cannot_tell():
    assert one("missing_steps", _hidden(1, effect=0.9), quick=True).verdict == "cannot_tell"


def test_nothing_missing_changes_nothing():
    made = simple()
    found = one("missing_steps", laid(made["pain"], made["load"], stress=made["stress"]), quick=True)
    assert found.verdict == "holds"
    assert value(found, "missing filled in") == pytest.approx(value(found, "recorded alone"))
    assert value(found, "information missing") == pytest.approx(0, abs=1e-9)


def test_what_was_recorded_stays_and_lags_are_built_anew():
    panel, _ = clinic()
    gaps = gaps_of(panel, ("jump", "effort", "stress", "sleep_hours", "worry"))
    filled = fill(gaps, np.random.default_rng(1))
    again = rebuilt(gaps, filled).frame
    known = panel.frame["pain"].notna()
    assert again["pain"].notna().all()
    assert again["load"].notna().all()
    assert np.allclose(again.loc[known, "pain"], panel.frame.loc[known, "pain"])
    inner = again["person"].eq(again["person"].shift(-1))
    assert np.allclose(again.loc[inner, "pain_next"], again["pain"].shift(-1)[inner])
    assert again["pain"].between(0, 10).all()
    worse = rebuilt(gaps, filled, 2.0).frame
    assert np.allclose((worse["pain"] - again["pain"])[known], 0)
    assert ((worse["pain"] - again["pain"])[~known] > 0).all()


def test_filled_values_follow_what_stands_around_them():
    rng = np.random.default_rng(1)
    people, steps = 30, 30
    pain = np.clip(5 + np.cumsum(rng.normal(0, 0.5, (people, steps)), axis=1), 0, 10)
    seen = np.where(rng.random(pain.shape) < 0.2, np.nan, pain)
    panel, _ = laid(seen, rng.uniform(20, 40, pain.shape))
    got = fill(gaps_of(panel, ("jump",)), np.random.default_rng(2))[0][:, 0]
    lost = np.isnan(seen.ravel())
    assert np.corrcoef(got[lost], pain.ravel()[lost])[0, 1] > 0.7
    assert abs((got - pain.ravel())[lost].mean()) < 0.15


def test_rubin_and_barnard_rubin():
    errors = np.full(5, 2.0)
    estimate, error, df = pooled(np.full(5, 3.0), errors, 40.0)
    assert (estimate, error) == (3.0, 2.0)
    assert df == pytest.approx(41 / 43 * 40)
    values = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    estimate, error, df = pooled(values, errors, 1e12)
    total = 4 + 1.2 * 2.5
    assert error == pytest.approx(np.sqrt(total))
    assert df == pytest.approx(4 / (3.0 / total) ** 2, rel=1e-6)


def test_the_same_seed_fills_the_same():
    panel, _ = clinic()
    gaps = gaps_of(panel, ("jump", "stress"))
    a, b, c = (fill(gaps, np.random.default_rng(s))[0] for s in (1, 1, 2))
    pd.testing.assert_frame_equal(pd.DataFrame(a), pd.DataFrame(b))
    assert not np.allclose(np.nan_to_num(a), np.nan_to_num(c))
