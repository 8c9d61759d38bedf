"""Distributed lags of jump: what was put in comes out; refusals in words."""

from __future__ import annotations

import numpy as np
import pytest
from simulated_panels import changed, simulate

from lagwise.core.errors import ModelError
from lagwise.models.lags import fit_lags


def delayed(effect: float, seed: int = 1):
    """A panel in which jump of two steps ago adds `effect` points and no other lag does."""
    panel = simulate(seed, people=60, steps=40, carry=0.0, feedback=0.0)
    late = panel.frame.groupby("person")["jump"].shift(2).fillna(0.0)
    return changed(panel, pain_next=panel.frame["pain_next"] + effect * late)


def test_a_delayed_difference_is_seen_where_it_is():
    fit = fit_lags(delayed(1.5))
    assert fit.usable and fit.engine == "lags" and fit.effects.empty
    rough = fit.tables["unsmoothed"].set_index("lag")
    assert rough.loc[2, "low"] < 1.5 < rough.loc[2, "high"] and rough.loc[2, "low"] > 0.5
    assert fit.tables["curve"]["estimate"].idxmax() == 2
    assert (rough.loc[[0, 1, 3], "low"] < 0).all() and (rough.loc[[0, 1, 3], "high"] > 0).all()


def test_null_twin_is_flat():
    curve = fit_lags(delayed(0.0)).tables["curve"]
    assert ((curve["low"] < 0) & (curve["high"] > 0)).all()
    assert (curve["cumulative_low"].iloc[-1] < 0) and (curve["cumulative_high"].iloc[-1] > 0)


def test_cumulative_is_the_running_sum_and_smoothing_narrows():
    fit = fit_lags(delayed(0.0))
    curve, rough = fit.tables["curve"], fit.tables["unsmoothed"]
    np.testing.assert_allclose(curve["cumulative"], curve["estimate"].cumsum())
    assert curve["lag"].tolist() == [0, 1, 2, 3]
    assert (curve["std_error"].iloc[1:3] < rough["std_error"].iloc[1:3]).all()


def test_more_lags_need_longer_records():
    panel = simulate(1, people=12, steps=20)
    four, six = fit_lags(panel, 4), fit_lags(panel, 6)
    assert six.n_steps == four.n_steps - 2 * 12


def test_refusals_in_words():
    with pytest.raises(ModelError, match="Ask for 3 to 8"):
        fit_lags(simulate(1), lags=2)
    assert "at least 10 people" in fit_lags(simulate(1, people=6)).why_not
    panel = simulate(1)
    bare = changed(panel, jump=np.nan, log_usual=np.nan, rested=np.nan, restarted=np.nan)
    assert "no load jump varies" in fit_lags(bare).why_not
    short = simulate(1, steps=7)
    assert not fit_lags(short, lags=6).usable and "known loads 5 steps back" in fit_lags(short, lags=6).why_not
