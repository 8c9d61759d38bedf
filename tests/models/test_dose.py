"""Dose-response spline of jump: bends where there is one, straight where there is none."""

import numpy as np
import pytest
from simulated_panels import changed, simulate

from lagwise.models.dose import fit_dose, natural_spline


def bent(size: float):
    """Jump adds size x jump^2 points on top of a straight line."""
    panel = simulate(2, people=60, steps=40, carry=0.0, feedback=0.0)
    jump = panel.frame["jump"].fillna(0.0)
    return changed(panel, pain_next=panel.frame["pain_next"] + 0.5 * jump + size * jump**2)


@pytest.fixture(scope="module")
def curved():
    return fit_dose(bent(3.0))


def test_a_bend_is_found_and_a_straight_line_is_not_bent(curved):
    straight = fit_dose(bent(0.0))
    assert curved.usable and straight.usable
    assert curved.tables["nonlinearity"]["p"].iloc[0] < 0.001
    assert straight.tables["nonlinearity"]["p"].iloc[0] > 0.01
    curve = straight.tables["curve"]
    assert ((curve["low"] <= 0.5 * curve["jump"]) & (0.5 * curve["jump"] <= curve["high"])).mean() > 0.9
    curve = curved.tables["curve"]
    truth = 0.5 * curve["jump"] + 3.0 * curve["jump"] ** 2
    assert ((curve["low"] <= truth) & (truth <= curve["high"])).mean() > 0.9


def test_curve_is_zero_at_usual_load_and_stays_inside_the_data(curved):
    curve, rug = curved.tables["curve"], curved.tables["rug"]["jump"]
    assert curve["jump"].min() == pytest.approx(rug.quantile(0.05)) and curve["jump"].max() == pytest.approx(
        rug.quantile(0.95)
    )
    assert np.interp(0.0, curve["jump"], curve["estimate"]) == pytest.approx(0.0, abs=1e-3)
    np.testing.assert_allclose(curve["percent"], 100 * (np.exp(curve["jump"]) - 1))


def test_spline_is_straight_outside_and_smooth_at_the_knots():
    knots = np.array([-1.0, -0.4, 0.1, 0.5, 1.2])
    x = np.linspace(-3, 4, 7001)
    second = np.diff(natural_spline(x, knots), n=2, axis=0) / (x[1] - x[0]) ** 2
    outside = (x[1:-1] < -1.001) | (x[1:-1] > 1.201)
    np.testing.assert_allclose(second[outside], 0, atol=1e-4)
    assert np.abs(second[~outside]).max() > 0.1
    assert np.abs(np.diff(second, axis=0)).max() < 0.05


def test_refusals_in_words():
    assert "at least 10 people" in fit_dose(simulate(1, people=6)).why_not
    panel = simulate(1)
    coarse = changed(panel, jump=np.sign(panel.frame["jump"]) * 0.3)
    assert "too few different values" in fit_dose(coarse).why_not
    bare = changed(panel, jump=np.nan, log_usual=np.nan, rested=np.nan, restarted=np.nan)
    assert "no load jump varies" in fit_dose(bare).why_not
