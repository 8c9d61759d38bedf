from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design_from
from lagwise.models.within import fit_within, within_many

REFERENCE = Path(__file__).parents[1] / "reference"
COLUMNS = [
    "jump",
    "log_usual",
    "effort_within",
    "stress_within",
    "sleep_hours_within",
    "worry_within",
    "pain_within",
    "step",
]


@pytest.mark.parametrize("data", ["panel_40x26.csv", "panel_12x20.csv", "panel_7x24.csv"])
def test_agrees_with_clubSandwich(data):
    printed = pd.read_csv(REFERENCE / "within.csv").query("data == @data").set_index("name")
    d = design_from(pd.read_csv(REFERENCE / data), [*COLUMNS, "pain_between"], outcome="pain_next")
    fit = fit_within(d)
    assert set(fit.names) == set(COLUMNS)
    assert ("pain_between", "does not vary within people") in fit.dropped
    for name in COLUMNS:
        estimate, std_error, df = fit.contrast(name)
        np.testing.assert_allclose(estimate, printed.loc[name, "value"], rtol=1e-7)
        np.testing.assert_allclose(std_error, printed.loc[name, "std_error"], rtol=1e-6)
        np.testing.assert_allclose(df, printed.loc[name, "df"], rtol=1e-5)
    many = within_many(CrossProducts.build(d.y, d.X, None, d.person), d.names.index("jump"))
    np.testing.assert_allclose(many.std_error[0], printed.loc["jump", "classical"], rtol=1e-7)


def test_a_contrast_scales():
    d = design_from(pd.read_csv(REFERENCE / "panel_7x24.csv"), COLUMNS, outcome="pain_next")
    one, half = fit_within(d).contrast("jump"), fit_within(d).contrast("jump", np.log(1.5))
    np.testing.assert_allclose(half[:2], np.log(1.5) * np.array(one[:2]))
    assert half[2] == pytest.approx(one[2])
