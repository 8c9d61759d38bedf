from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from challenge_panels import clinic, laid, one, simple, value
from proof_caseloads import hidden_weeks, leaving

from lagwise.challenges import missing_steps
from lagwise.challenges.imputation import fill, gaps_of, moved, pooled, rebuilt
from lagwise.challenges.missing_steps import Asked, last_pain, leavers, lengthened, unrecorded


@pytest.fixture(autouse=True)
def few(monkeypatch):
    """A third of the imputations of a quick run: what is built in here is far from the edge of a verdict."""
    monkeypatch.setattr(missing_steps, "QUICK", 3)


def test_gaps_that_hide_a_difference_do_not_hold_on_the_other_side():
    found = one("missing_steps", hidden_weeks(-1), quick=True)
    plain, filled = found.numbers.iloc[0], found.numbers.iloc[1]
    assert plain["low"] < 0 < plain["high"]
    assert filled["value"] < plain["value"]
    assert found.verdict == "does_not_hold"


def test_many_gaps_that_could_be_worse_cannot_tell():
    assert one("missing_steps", hidden_weeks(1, effect=0.9), quick=True).verdict == "cannot_tell"


def test_what_was_recorded_stays_and_lags_are_built_anew():
    panel, _ = clinic()
    gaps = gaps_of(panel, ("jump", "effort", "stress", "sleep_hours", "worry"))
    filled = fill(gaps, np.random.default_rng(1))
    again = rebuilt(gaps, filled).frame
    known = panel.frame["pain"].notna()
    assert again["pain"].notna().all()
    assert again["load"].notna().all()
    assert np.allclose(again.loc[known, "pain"], panel.frame.loc[known, "pain"])
    inner = again["person"].eq(again["person"].shift(-1))
    assert np.allclose(again.loc[inner, "pain_next"], again["pain"].shift(-1)[inner])
    assert again["pain"].between(0, 10).all()
    worse = moved(rebuilt(gaps, filled), gaps, filled, 2.0).frame
    higher = filled[0] + 2.0 * (~known).to_numpy()[:, None] * (np.arange(filled[0].shape[1]) == 0)
    assert worse.equals(rebuilt(gaps, (higher, filled[1])).frame)  # every lag as if built anew
    assert np.allclose((worse["pain"] - again["pain"])[known], 0)
    assert ((worse["pain"] - again["pain"])[~known] > 0).all()


def test_filled_values_follow_what_stands_around_them():
    rng = np.random.default_rng(1)
    people, steps = 30, 30
    pain = np.clip(5 + np.cumsum(rng.normal(0, 0.5, (people, steps)), axis=1), 0, 10)
    seen = np.where(rng.random(pain.shape) < 0.2, np.nan, pain)
    panel, _ = laid(seen, rng.uniform(20, 40, pain.shape))
    got = fill(gaps_of(panel, ("jump",)), np.random.default_rng(2))[0][:, 0]
    lost = np.isnan(seen.ravel())
    assert np.corrcoef(got[lost], pain.ravel()[lost])[0, 1] > 0.7
    assert abs((got - pain.ravel())[lost].mean()) < 0.15


def test_rubin_and_barnard_rubin():
    errors = np.full(5, 2.0)
    estimate, error, df = pooled(np.full(5, 3.0), errors, 40.0)
    assert (estimate, error) == (3.0, 2.0)
    assert df == pytest.approx(41 / 43 * 40)
    values = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    estimate, error, df = pooled(values, errors, 1e12)
    total = 4 + 1.2 * 2.5
    assert error == pytest.approx(np.sqrt(total))
    assert df == pytest.approx(4 / (3.0 / total) ** 2, rel=1e-6)


def test_people_who_leave_in_worse_weeks_are_told_and_cannot_hold():
    found, twin = (one("missing_steps", leaving(worse), quick=True) for worse in (1.5, 0.0))
    assert value(found, "left early") == value(twin, "left early") == 16
    assert found.verdict == "cannot_tell"
    assert "People left in worse weeks" in found.sentence
    assert twin.verdict == "holds"


def test_one_step_of_which_nothing_is_known_follows_the_last_of_those_wholeaving():
    panel, _ = leaving(1.5)
    early = leavers(panel)
    longer = lengthened(panel, early)
    assert len(longer.frame) == len(panel.frame) + 16
    ends = longer.frame.groupby("person").tail(1).set_index("person")
    assert ends.loc[early, ["pain", "load"]].isna().all().all()
    assert (ends.loc[early, "step"] == 13).all()
    shared = longer.frame.merge(panel.frame[["person", "step"]], on=["person", "step"])
    columns = ["person", "step", "load", "usual", "jump", "pain", "pain_before", "stress", "state"]
    pd.testing.assert_frame_equal(shared[columns], panel.frame[columns], check_dtype=False)


def test_last_pain_takes_off_the_trend_common_to_all():
    panel, _ = leaving(0.0)
    falling = panel.frame.assign(pain=panel.frame["pain"] - 0.2 * panel.frame["step"])
    early = leavers(panel)
    assert last_pain(falling, "pain", early) == pytest.approx(last_pain(panel.frame, "pain", early), abs=1e-6)


@pytest.mark.parametrize(("tied", "verdict"), [(0.25, "cannot_tell"), (0.0, "holds")])
def test_pain_that_goes_unrecorded_after_heavy_weeks_cannot_hold(tied, verdict):
    """A tenth of pain is missing; after weeks above usual load a quarter more, whatever the pain."""
    made = simple(people=40, steps=26, effect=1.2, noise=0.5)
    rng = np.random.default_rng(1)
    heavy = np.log(made["load"] / made["load"].mean(axis=1, keepdims=True)) > 0.1
    chance = 0.1 + tied * np.column_stack([np.zeros(40, dtype=bool), heavy[:, :-1]])
    panel, fit = laid(
        np.where(rng.random(chance.shape) < chance, np.nan, made["pain"]), made["load"], stress=made["stress"]
    )
    found = one("missing_steps", (panel, fit), quick=True)
    rate = found.numbers.set_index("quantity").loc["pain of the next week unrecorded after the contrast"]
    assert found.verdict == verdict
    assert (rate["low"] > 0) == (tied > 0)
    assert ("goes unrecorded" in found.sentence) == (tied > 0)


def test_where_hardly_anything_goes_unrecorded_nothing_is_asked_of_it():
    panel, _ = laid(*(simple()[k] for k in ("pain", "load")), stress=simple()["stress"])
    assert unrecorded(panel, Asked(("jump",), "during", "pain_next", "jump", 0.4, "jump")) is None


def test_at_lag_0_it_is_the_rating_of_the_same_step_that_goes_unrecorded():
    """Every fifth pain is lost; where the question is about the same step, so is what counts."""
    made = simple(people=20, steps=20)
    lost = np.arange(made["pain"].size).reshape(made["pain"].shape) % 5 == 0
    panel, _ = laid(np.where(lost, np.nan, made["pain"]), made["load"], stress=made["stress"])
    plan = replace(panel.study.analysis, lag=0, order="exposure_first")
    again = replace(panel, study=replace(panel.study, analysis=plan))
    asked = Asked(("jump",), "before", "pain", "jump", 0.4, "jump")
    rows = again.frame.dropna(subset=["jump", "pain_before"])
    assert unrecorded(again, asked).n_steps == len(rows)
