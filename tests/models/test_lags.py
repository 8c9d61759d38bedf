"""Distributed lags of jump: what was put in comes out; refusals in words."""

import numpy as np
import pytest
from simulated_panels import changed, simulate

from lagwise.core.errors import ModelError
from lagwise.models.lags import fit_lags


def delayed(effect: float, seed: int = 1, *, people: int = 60, steps: int = 40, slope_sd: float = 0.0):
    """A panel in which load of two steps ago adds `effect` points per log unit (people's own differing by `slope_sd`) and no other lag does."""
    panel = simulate(seed, people=people, steps=steps, carry=0.0, feedback=0.0)
    late = np.log(panel.frame["load"]).groupby(panel.frame["person"]).shift(2)
    late = (late - late.groupby(panel.frame["person"]).transform("mean")).fillna(0.0)
    own = effect + slope_sd * np.repeat(np.random.default_rng(seed).standard_normal(people), steps)
    return changed(panel, pain_next=panel.frame["pain_next"] + own * late)


def test_errors_carry_that_people_differ():
    """Over many records the standard error at lag 2 is the scatter of the estimates, where people differ and where they do not."""
    for slope_sd in (1.5, 0.0):
        found = [
            fit_lags(delayed(0.0, seed, people=14, steps=30, slope_sd=slope_sd)).tables["unsmoothed"].loc[2]
            for seed in range(12)
        ]
        scatter = np.std([f["estimate"] for f in found], ddof=1)
        assert np.sqrt(np.mean([f["std_error"] ** 2 for f in found])) == pytest.approx(scatter, rel=0.4)
        assert np.mean([f["low"] <= 0 <= f["high"] for f in found]) >= 0.8


def test_a_rise_that_lasts_adds_up_to_what_it_does():
    """A step's pain rises with the load of that step and the one before: the sum of lags 0 and 1 is both, and usual load takes nothing away."""
    panel = simulate(2, people=60, steps=40, carry=0.0, feedback=0.0)
    load = np.log(panel.frame["load"])
    load = load - load.groupby(panel.frame["person"]).transform("mean")
    both = load + load.groupby(panel.frame["person"]).shift(1).fillna(0.0)
    curve = fit_lags(changed(panel, pain_next=panel.frame["pain_next"] + both)).tables["curve"]
    assert curve.loc[1, "cumulative_low"] < 2.0 < curve.loc[1, "cumulative_high"]
    assert curve.loc[1, "cumulative_low"] > 1.0


@pytest.fixture(scope="module")
def null():
    return fit_lags(delayed(0.0))


def test_a_delayed_difference_is_seen_where_it_is():
    fit = fit_lags(delayed(1.5))
    assert fit.usable and fit.engine == "lags" and fit.effects.empty
    rough = fit.tables["unsmoothed"].set_index("lag")
    assert rough.loc[2, "low"] < 1.5 < rough.loc[2, "high"] and rough.loc[2, "low"] > 0.5
    assert fit.tables["curve"]["estimate"].idxmax() == 2
    assert (rough.loc[[0, 1, 3], "low"] < 0).all() and (rough.loc[[0, 1, 3], "high"] > 0).all()


def test_null_twin_is_flat(null):
    curve = null.tables["curve"]
    assert ((curve["low"] < 0) & (curve["high"] > 0)).all()
    assert (curve["cumulative_low"].iloc[-1] < 0) and (curve["cumulative_high"].iloc[-1] > 0)


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
    assert "no load jump varies in the usable weeks" in fit_lags(bare).why_not
    refused = fit_lags(simulate(1, steps=7), lags=6)
    assert not refused.usable and "known loads 5 weeks back" in refused.why_not and refused.step == "week"
