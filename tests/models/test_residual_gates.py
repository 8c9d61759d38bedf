"""The gates of residual shape, just within their thresholds and beyond them, in the mixed and the within-person model."""

import numpy as np
import pytest
from scipy.stats import gamma
from simulated_panels import changed, simulate

from lagwise.core.results import Panel
from lagwise.models import fit_mixed
from lagwise.models.design import design
from lagwise.models.gates import failed, mixed_gates, within_gates
from lagwise.models.ladder import climb
from lagwise.models.second import Agreement
from lagwise.models.within import fit_within

SKEWNESS, KURTOSIS = "failed: residual skewness", "failed: residual kurtosis"


def of_shape(people: int, shape: float, *, symmetric: bool) -> Panel:
    """A panel of outcomes that are the quantiles of a gamma distribution, in random order: skewness 2 / sqrt(shape), excess kurtosis 6 / shape.

    `symmetric` gives every other one the other sign: skewness 0, excess kurtosis (shape + 2) (shape + 3) / (shape (shape + 1)) - 3.
    """
    panel = simulate(1, people=people, steps=30, feedback=0.0, exposures=("jump",))
    n = len(panel.frame)
    values = gamma.ppf((np.arange(n) + 0.5) / n, shape)
    values *= (-1.0) ** np.arange(n) if symmetric else 1.0
    outcome = np.random.default_rng(1).permutation(values)
    return changed(panel, pain_next=np.where(panel.frame["pain_next"].isna(), np.nan, outcome))


@pytest.mark.parametrize(
    ("people", "shape", "symmetric", "lost"),
    [(9, 0.5, False, {SKEWNESS, KURTOSIS}), (9, 1.15, False, set()), (20, 0.4, True, {KURTOSIS}), (20, 0.8, True, set())],
)  # fmt: skip
def test_residuals_of_a_shape_no_linear_model_is_for_are_no_result(people, shape, symmetric, lost):
    d = design(of_shape(people, shape, symmetric=symmetric))
    few = people < 10
    gates = within_gates(fit_within(d)) if few else mixed_gates(climb(d, "jump"), Agreement(None))
    value = gates.set_index("gate")["value"]
    # Nearer to the threshold than a factor of two, on either side.
    assert (1 < abs(value["residual_skewness"]) < 4 or symmetric) and 3.5 < value["residual_kurtosis"] < 14, (
        value.to_dict()
    )
    assert set(failed(gates).split("; ")) - {""} == lost


def test_such_a_fit_is_not_usable_and_says_so():
    fit = fit_mixed(of_shape(9, 0.4, symmetric=True))
    assert not fit.usable and fit.why_not == KURTOSIS
