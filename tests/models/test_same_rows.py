"""Crude and adjusted on the same rows: against separate fits, and what each exposure left out takes along."""

from dataclasses import replace

import numpy as np
import pytest

import lagwise as lw
from lagwise.core.errors import ModelError
from lagwise.synthetic import CLINIC, simulate_panel


@pytest.fixture(scope="module")
def clinic():
    panel = simulate_panel(replace(CLINIC, n_people=30), np.random.default_rng(2))
    unasked = np.arange(len(panel.frame)) % 11 == 0
    gaps = {name: panel.frame[name].mask(unasked) for name in ("stress", "stress_within")}
    panel = replace(panel, frame=panel.frame.assign(**gaps))
    return panel, lw.fit_mixed(panel)


def test_both_columns_rest_on_the_same_rows_and_differ_by_what_is_left_out(clinic):
    panel, fit = clinic
    table = lw.models.crude_and_adjusted(panel, fit).set_index("term")
    first, others = table.iloc[0], table.iloc[1:]
    assert table.index[0] == "jump" and set(others.index) == {"effort", "stress", "sleep_hours", "worry"}
    assert first["n_all"] > first["n_steps"] == fit.n_steps
    primary = fit.primary().iloc[0]
    assert first[["adjusted", "low", "high"]].tolist() == pytest.approx(
        primary[["estimate", "low", "high"]].tolist()
    )
    known = panel.frame[["effort", "stress", "sleep_hours", "worry"]].notna().all(axis=1)
    rested = panel.frame["rested"].eq(1) & panel.frame[["stress", "sleep_hours", "worry"]].notna().all(axis=1)
    outcome = panel.frame["pain_next"].where(known | rested)
    same = lw.fit_mixed(replace(panel, frame=panel.frame.assign(pain_next=outcome)), exposures=["jump"])
    assert first["crude"] == pytest.approx(same.primary()["estimate"].iloc[0], abs=1e-6)
    assert others["takes"].sum() == pytest.approx(first["crude"] - first["adjusted"], abs=0.01)
    assert others.loc["effort", "correlation"] > 0.3 > 0 > others.loc["stress", "correlation"]


def test_of_few_people_the_parts_add_up_too(clinic):
    panel, _ = clinic
    few = replace(panel, frame=panel.frame[panel.frame["person"].isin(panel.frame["person"].unique()[:7])])
    fit = lw.fit_mixed(few)
    table = lw.models.crude_and_adjusted(few, fit)
    assert fit.engine == "within"
    assert table["takes"].sum() == pytest.approx(table["crude"][0] - table["adjusted"][0], abs=0.02)
    with pytest.raises(ModelError, match="no slopes of people"):
        lw.models.pooling(fit)


def test_pooling_draws_slopes_together(clinic):
    none, partial, full = lw.models.pooling(clinic[1]).itertuples()
    assert none.sd > partial.sd > full.sd == 0
    assert none.lowest < partial.lowest <= partial.middle <= partial.highest < none.highest
    assert full.lowest == full.highest
