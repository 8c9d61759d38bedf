"""Moments of ratings: carry-over, error, reliability and load's answer are found, short records included, and nothing is invented."""

import numpy as np
import pytest

from lagwise.core.errors import ModelError
from lagwise.core.results import Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.models.rating_noise import PRIOR_PHI, fieller, fitted, rating_noise, variogram
from lagwise.panel import panel_from_blocks
from lagwise.synthetic import CLINIC, simulate_panel


def _felt(people: int, steps: int, phi: float, rng: np.random.Generator) -> np.ndarray:
    felt = np.empty((people, steps))
    felt[:, 0] = rng.normal(0, 1, people)
    for t in range(steps - 1):
        felt[:, t + 1] = phi * felt[:, t] + rng.normal(0, np.sqrt(1 - phi**2), people)
    return felt


@pytest.mark.parametrize(("phi", "error"), [(0.5, 0.6), (0.5, 0.15), (0.7, 0.6)])
def test_carry_over_and_error_are_found_whatever_the_levels(phi, error):
    """Over 40 caseloads of 100 people x 30 steps: means near the truth as far as the weak priors let them, nine of ten intervals around it."""
    rng = np.random.default_rng(1)
    person = np.repeat(np.arange(100), 30)
    found = []
    for _ in range(40):
        ratings = rng.normal(5, 3, (100, 1)) + _felt(100, 30, phi, rng) + rng.normal(0, error, (100, 30))
        found.append(fitted(*variogram(ratings.ravel(), person), 0.0)[:3])
    for k, (truth, pulled) in enumerate(((phi, 0.08), (error, 0.13), (1 / (1 + error**2), 0.08))):
        spans = [spans[k] for spans in found]
        assert np.mean([s.value for s in spans]) == pytest.approx(truth, abs=pulled)
        assert np.mean([s.low - 0.026 <= truth <= s.high + 0.026 for s in spans]) >= 0.85


def test_a_record_that_tells_nothing_keeps_to_the_weak_priors_and_says_so():
    rng = np.random.default_rng(1)
    ratings = 5 + _felt(6, 6, 0.4, rng) + rng.normal(0, 0.5, (6, 6))
    phi, _, reliability, _ = fitted(*variogram(ratings.ravel(), np.repeat(np.arange(6), 6)), 0.0)
    assert abs(phi.value - PRIOR_PHI[0]) < PRIOR_PHI[1]
    assert reliability.high - reliability.low > 0.5


def test_the_clinic_s_answer_is_found_and_its_days_told_apart():
    noise = rating_noise(simulate_panel(CLINIC, np.random.default_rng(1)))
    assert noise.answer.low < np.log(1 - 0.1) < noise.answer.high
    assert (
        abs(noise.answer_as_rated.value)
        < abs(noise.answer.value)
        < abs(noise.answer_by_instrument.value) + 0.05
    )
    assert 0.55 < noise.day_sd < 0.85
    assert 0.3 < noise.error_sd.value < 0.8
    assert noise.n_people == CLINIC.n_people


def test_four_people_are_too_few():
    panel = simulate_panel(CLINIC, np.random.default_rng(1), n_people=4)
    with pytest.raises(ModelError, match="too few to tell their error"):
        rating_noise(panel)


def test_without_load_the_answer_is_unknown_and_not_zero():
    panel = simulate_panel(CLINIC, np.random.default_rng(1))
    bare = panel_from_blocks(
        panel.blocks.assign(load_sets=np.nan),
        Study("S", analysis=AnalysisPlan(exposures=("stress",), primary="stress")),
    )
    noise = rating_noise(bare)
    assert isinstance(bare, Panel) and not noise.answer.known and noise.reliability.known


def test_fieller_s_limits_are_those_at_which_the_sum_is_t_errors_from_zero():
    rng = np.random.default_rng(1)
    below = rng.normal(1, 0.3, 12)
    above = 0.4 * below + rng.normal(0, 0.1, 12)
    found = fieller(above, below)
    assert found.value == pytest.approx(above.sum() / below.sum())
    for r in (found.low, found.high):
        left = above - r * below
        assert abs(left.mean()) / (left.std(ddof=1) / np.sqrt(12)) == pytest.approx(2.201, abs=0.001)
    assert fieller(above, below - below.mean() + 0.01).high == np.inf
