"""A normal likelihood with a normal prior has a posterior in closed form: draws of it stand in for a long chain."""

from __future__ import annotations

from dataclasses import asdict

import arviz as az
import numpy as np
import pytest
from challenge_panels import clinic, one, value

from lagwise.challenges.prior import reweighted
from lagwise.core.effects import effects_frame
from lagwise.core.results import Fit
from lagwise.models.gates import gate_frame
from lagwise.models.priors import DEFAULT


def _posterior(mean: float, sd: float, prior_sd: float, shape=(4, 2000)) -> np.ndarray:
    precision = 1 / sd**2 + 1 / prior_sd**2
    return np.random.default_rng(1).normal(mean / sd**2 / precision, precision**-0.5, shape)


def _fit(mean: float, sd: float) -> Fit:
    """A fit whose data say that the standardised coefficient of jump is mean +/- sd; points are half the coefficient."""
    beta = _posterior(mean, sd, DEFAULT.load)
    posterior = {"beta": beta[..., None], "difference": 0.5 * beta[..., None]}
    tree = az.from_dict(
        {"posterior": posterior}, coords={"column": ["jump"], "contrast": ["jump +50 %"]},
        dims={"beta": ["column"], "difference": ["contrast"]},
    )  # fmt: skip
    return Fit(
        "ordinal", "pain_next", effects_frame([]), gate_frame([]), usable=True, rung="ordinal",
        n_people=40, n_steps=700, settings={"priors": asdict(DEFAULT)}, posterior=tree,
    )  # fmt: skip


@pytest.mark.parametrize("sign", [1, -1])
def test_strong_data_hold(sign):
    found = one("prior", clinic(), bayes=_fit(sign * 0.4, 0.05))
    assert found.verdict == "holds"
    assert value(found, "power-scaling sensitivity to the priors") < 0.05


@pytest.mark.parametrize("sign", [1, -1])
def test_a_reading_that_hangs_on_the_width_does_not_hold(sign):
    found = one("prior", clinic(), bayes=_fit(sign * 0.55, 0.25))
    assert found.verdict == "does_not_hold"
    assert value(found, "power-scaling sensitivity to the priors") > 0.05


def test_data_weaker_than_the_prior_cannot_be_said_to_hold():
    assert one("prior", clinic(), bayes=_fit(0.05, 0.6)).verdict != "holds"


@pytest.mark.parametrize("width", [0.5, 2.0])
def test_reweighting_gives_the_posterior_of_the_other_prior(width):
    draws = _posterior(0.4, 0.15, 0.35, (4, 10000))
    mean, low, high, k = reweighted(draws, draws, 0.35, width)
    precision = 1 / 0.15**2 + 1 / (0.35 * width) ** 2
    centre, sd = 0.4 / 0.15**2 / precision, precision**-0.5
    assert k < 0.7
    assert mean == pytest.approx(centre, abs=0.01)
    assert (low, high) == (pytest.approx(centre - 1.96 * sd, abs=0.03), pytest.approx(centre + 1.96 * sd, abs=0.03))


def test_without_a_bayesian_fit_it_says_why():
    found = one("prior", clinic())
    assert found.verdict == "cannot_tell"
    assert "no usable Bayesian fit" in found.problem
