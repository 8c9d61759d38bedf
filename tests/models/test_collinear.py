"""Exposures that go together: the pair is named with what it costs; its twin of unrelated exposures passes."""

import numpy as np
import pytest
from simulated_panels import changed, simulate
from statsmodels.stats.outliers_influence import variance_inflation_factor

from lagwise.models import fit_mixed
from lagwise.models.collinear import collinearity
from lagwise.models.design import design


def together(r: float, seed: int = 1, people: int = 20):
    """Effort made from the load jump, with about this correlation within people."""
    panel = simulate(seed, people=people, steps=24)
    f = panel.frame
    spread = f["jump"].std()
    noise = spread * np.sqrt(1 / r**2 - 1) if r else 1.0
    effort = f["jump"] * bool(r) + np.random.default_rng(seed).normal(0, noise, len(f)) + 6
    effort = effort.where(f["jump"].notna())
    own = effort.groupby(f["person"]).transform("mean")
    return changed(panel, effort=effort, effort_within=effort - own, effort_between=own - own.mean())


@pytest.mark.parametrize("people", [20, 7])
def test_a_near_collinear_pair_is_named_and_its_twin_is_not(people):
    near, apart = (
        fit_mixed(together(r, people=people)).diagnostics.set_index("gate").loc["near_collinear"]
        for r in (0.85, 0.0)
    )
    assert near["value"] == pytest.approx(0.85, abs=0.06) and near["passed"] is None
    assert (
        "load jump and effort" in near["meaning"] and "times that of an exposure unrelated" in near["meaning"]
    )
    assert apart["passed"] is True and abs(apart["value"]) < 0.7


def test_variance_inflation_is_that_of_the_columns_less_their_persons_mean():
    d = design(together(0.85))
    table = collinearity(d).set_index("column")
    names = [n for n in d.names[1:] if not n.endswith("_between")]
    X = d.X[:, [d.names.index(n) for n in names]]
    X = np.stack(
        [v - (np.bincount(d.person, weights=v) / np.bincount(d.person))[d.person] for v in X.T], axis=1
    )
    X = X[:, np.linalg.norm(X, axis=0) > 1e-9]
    names = [n for n in names if n not in ("rested", "restarted")]
    for name in table.index:
        assert table.loc[name, "vif"] == pytest.approx(variance_inflation_factor(X, names.index(name)))
        assert table.loc[name, "error_times"] ** 2 == pytest.approx(table.loc[name, "vif"])
    assert table.loc["effort_within", "with_term"] == "jump" and table.loc["effort_within", "near"]
