"""Same and next step: slopes against independent least squares, and the turn of the sign where it must and must not be."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from lagwise.core.results import Panel
from lagwise.describe import same_and_next, same_and_next_picture, turned_back
from lagwise.synthetic import CLINIC, NO_EFFECT, simulate_panel


def panel(spec):
    return simulate_panel(replace(spec, n_people=60), np.random.default_rng(4))


@pytest.fixture(scope="module")
def clinic():
    return panel(CLINIC)


@pytest.fixture(scope="module")
def twin():
    return panel(NO_EFFECT)


def dummies(panel, outcome, *held):
    """Least squares with one dummy per person and statsmodels' cluster variance, the long way round."""
    frame = panel.frame.query("rested != 1 and restarted != 1").dropna(subset=["jump", outcome, *held])
    person = frame["person"].astype("category").cat.codes.to_numpy()
    x = np.column_stack([frame[["jump", *held]].to_numpy(float), np.eye(person.max() + 1)[person]])
    fit = sm.OLS(frame[outcome].to_numpy(float), x).fit(
        cov_type="cluster", cov_kwds={"groups": person, "use_correction": False}
    )
    m = person.max() + 1
    return fit.params[0], fit.bse[0] * np.sqrt(m / (m - 1)), len(frame), m


@pytest.mark.parametrize(
    ("at", "outcome", "held"), [(0, "pain", ()), (1, "pain_next", ()), (2, "pain_next", ("pain",))]
)
def test_slopes_are_those_of_person_dummies(clinic, at, outcome, held):
    row = same_and_next(clinic).iloc[at]
    slope, error, steps, people = dummies(clinic, outcome, *held)
    doubled = math.log(2)
    assert row["slope"] == pytest.approx(doubled * slope, rel=1e-9)
    assert (row["high"] - row["low"]) / 2 == pytest.approx(doubled * error * 2.0010, rel=1e-3)
    assert (row["n_steps"], row["n_people"]) == (steps, people)


def test_the_sign_turns_where_load_comes_before_pain(clinic):
    same, following, held = same_and_next(clinic).itertuples()
    assert same.high < 0 < held.low
    assert held.slope > following.slope
    assert same_and_next_picture(clinic).title.startswith("The sign turns")


def test_the_twin_keeps_the_same_week_slope_and_nothing_else(twin):
    same, _, held = same_and_next(twin).itertuples()
    assert same.high < 0
    assert held.low < 0 < held.high
    picture = same_and_next_picture(twin)
    assert picture.title == "Pain and load jump: pain of the same week and of the week after"


def test_the_picture_carries_every_dot_and_number(clinic):
    picture, table = same_and_next_picture(clinic), same_and_next(clinic)
    assert picture.data.groupby("group", sort=False).size().tolist() == table["n_steps"].tolist()
    means = picture.data.groupby("group")[["x", "y"]].mean()
    np.testing.assert_allclose(means, 0, atol=1e-9)
    assert f"{table['slope'][2]:+.2f}" in picture.alt
    assert "points for twice the load" in picture.alt and "log" not in f"{picture.alt}{picture.options}"
    doubled = clinic.frame.query("rested != 1 and restarted != 1").dropna(subset=["jump", "pain"])
    ratio = doubled["load"] / doubled["usual"]
    own = np.log2(ratio) - np.log2(ratio).groupby(doubled["person"]).transform("mean")
    np.testing.assert_allclose(picture.data.query("group == 'same week'")["x"], own, atol=1e-9)
    assert dict(map(reversed, picture.options["ticks"]))["×2"] == 1


def test_another_exposure_has_its_own_unit(clinic):
    study = replace(clinic.study, analysis=replace(clinic.study.analysis, primary="stress"))
    picture = same_and_next_picture(replace(clinic, study=study))
    assert "points per point" in picture.alt and "ticks" not in picture.options
    assert picture.x == "stress, less the person's own mean"


def test_nobody_to_compare_gives_no_slope(clinic):
    one = Panel(clinic.frame[clinic.frame["person"] == clinic.frame["person"].iloc[0]], clinic.study)
    assert same_and_next(one)[["slope", "low", "high"]].isna().all(axis=None)
    picture = same_and_next_picture(one)
    assert "same week: no slope, " in picture.alt and "nan" not in picture.alt
    assert picture.options["subtitle"].startswith("1 person, one dot per person-week")


def test_rises_that_turned_back_are_counted_by_hand(clinic):
    frame = pd.DataFrame({
        "person": ["a"] * 6 + ["b"] * 4,
        "pain": [2.0, 4.0, 3.0, 1.0, 1.5, 1.0, 5.0, 6.0, np.nan, 3.0],
        "pain_next": [4.0, 3.0, 1.0, 1.5, 1.0, np.nan, 6.0, np.nan, 3.0, np.nan],
    })  # fmt: skip
    rise, fall = turned_back(replace(clinic, frame=frame)).itertuples()
    assert (rise.n, rise.turned_back, rise.n_people) == (1, 1, 1), "b's rise has no rating after it"
    assert (fall.n, fall.turned_back, fall.n_people) == (2, 1, 1), "4 to 3 fell further, 3 to 1 turned back"
