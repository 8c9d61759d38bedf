"""Narrow and wide priors. A normal likelihood with a normal prior has a posterior in closed form: draws of it test the weights."""

import numpy as np
import pytest
from challenge_panels import one
from proof_caseloads import small_study
from scipy import stats

from lagwise.challenges import prior
from lagwise.challenges.prior import Answered, judged, power_scaling, reweighted
from lagwise.models.priors import DEFAULT


def _posterior(mean: float, sd: float, prior_sd: float, shape=(4, 2000)) -> np.ndarray:
    precision = 1 / sd**2 + 1 / prior_sd**2
    return np.random.default_rng(1).normal(mean / sd**2 / precision, precision**-0.5, shape)


def test_weights_agree_with_chains_sampled_anew_and_stay_where_those_fail(monkeypatch):
    made, bayes = small_study()
    weighed = one("prior", made, bayes=bayes).claim
    monkeypatch.setattr(prior, "USABLE", -1.0)
    anew = one("prior", made, bayes=bayes).claim
    spread = (weighed["half"].high - weighed["half"].low) / 4
    for width in ("half", "twice"):
        for end in ("value", "low", "high"):
            assert getattr(weighed[width], end) == pytest.approx(getattr(anew[width], end), abs=spread / 4)
    monkeypatch.setattr(prior, "DRAWS", 20)
    failed = one("prior", made, bayes=bayes)
    assert "Sampled anew, the" in failed.sentence and failed.verdict == "cannot_tell"


@pytest.mark.parametrize(
    ("narrow", "wide", "sensitivity", "verdict"),
    [
        ((0.1, 0.5, True), (0.1, 0.6, True), 0.01, "holds"),
        ((0.1, 0.5, True), (0.1, 0.6, True), 0.06, "cannot_tell"),
        ((0.1, 0.5, False), (0.1, 0.6, True), 0.01, "cannot_tell"),
        ((-0.1, 0.5, True), (0.1, 0.6, True), 0.01, "does_not_hold"),
        ((0.1, 0.5, True), (-0.1, 0.6, True), 0.01, "does_not_hold"),
        ((-0.1, 0.5, False), (0.1, 0.6, True), 0.01, "cannot_tell"),
    ],
)
def test_the_rule_of_widths(narrow, wide, sensitivity, verdict):
    found = [
        Answered(w, 0.3, low, high, failed="" if good else "chains")
        for w, (low, high, good) in ((0.5, narrow), (2.0, wide))
    ]
    assert judged(Answered(1.0, 0.3, 0.1, 0.5), found, sensitivity) == verdict


def test_power_scaling_is_small_for_strong_data_and_large_for_weak():
    strong, weak = (_posterior(0.4, sd, DEFAULT.load) for sd in (0.03, 0.6))
    logs = [stats.norm.logpdf(draws, scale=DEFAULT.load) for draws in (strong, weak)]
    assert power_scaling(strong, logs[0]) < 0.05 < power_scaling(weak, logs[1])


@pytest.mark.parametrize("width", [0.5, 2.0])
def test_reweighting_gives_the_posterior_of_the_other_prior(width):
    draws = _posterior(0.4, 0.15, 0.35, (4, 10000))
    found = reweighted(draws, stats.norm.logpdf(draws, scale=0.35), width)
    precision = 1 / 0.15**2 + 1 / (0.35 * width) ** 2
    centre, sd = 0.4 / 0.15**2 / precision, precision**-0.5
    assert found.k < 0.7
    assert found.estimate == pytest.approx(centre, abs=0.01)
    assert (found.low, found.high) == (
        pytest.approx(centre - 1.96 * sd, abs=0.03),
        pytest.approx(centre + 1.96 * sd, abs=0.03),
    )
