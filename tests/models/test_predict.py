import numpy as np
import pytest
from simulated_panels import changed, simulate

from lagwise.models.predict import LAST, MODEL, OWN, WITHOUT, flare_prediction, paired, predictive_value


@pytest.fixture(scope="module")
def strong():
    return simulate(21, effect=2.0, noise=0.7)


def test_load_that_matters_is_seen_and_its_null_twin_is_not(strong):
    seen = predictive_value(strong).set_index(["scheme", "predictor"])
    twin = predictive_value(simulate(21, effect=0.0, noise=0.7)).set_index(["scheme", "predictor"])
    for scheme in ("leave one person out", "next step"):
        assert seen.loc[(scheme, WITHOUT), "log_score_less_low"] > 0
        assert twin.loc[(scheme, WITHOUT), "mae_more_low"] <= 0
        assert seen.loc[(scheme, MODEL), "mae"] < min(seen.loc[(scheme, LAST), "mae"], seen.loc[(scheme, OWN), "mae"])


def test_naive_rules_by_hand(strong):
    row = predictive_value(strong).query("scheme == 'leave one person out'").set_index("predictor")
    f = strong.frame
    used = f.dropna(subset=["pain_next", "pain", "usual_pain", "jump", "effort", "stress", "sleep_hours", "worry"])
    assert row.loc[LAST, "n_steps"] == len(used)
    assert row.loc[LAST, "mae"] == pytest.approx((used["pain_next"] - used["pain"]).abs().mean())
    assert row.loc[OWN, "mae"] == pytest.approx((used["pain_next"] - used["usual_pain"]).abs().mean())
    assert row.loc[LAST, "mae_more"] == pytest.approx(row.loc[LAST, "mae"] - row.loc[MODEL, "mae"])


def test_the_future_does_not_leak_into_next_step_predictions(strong):
    # Scrambling every outcome after the last fitted step must leave earlier predictions alone: compare a record cut short.
    f = strong.frame
    last = f["step"].max()
    cut = changed(strong, pain_next=f["pain_next"].where(f["step"] < last - 1))
    wild = changed(strong, pain_next=f["pain_next"].where(f["step"] < last - 1, 10 - f["pain_next"]))
    a = predictive_value(cut).query("scheme == 'next step' and predictor == 'model'").iloc[0]
    b = predictive_value(wild).query("scheme == 'next step' and predictor == 'model'").iloc[0]
    extra = b["n_steps"] - a["n_steps"]
    assert extra == 40  # one more predicted step per person, fitted to the very same earlier steps
    assert b["mae"] > a["mae"]


def test_without_load_there_is_no_loadless_twin():
    panel = simulate(22)
    blank = dict.fromkeys(("load", "usual", "jump", "log_usual", "rested", "restarted", "effort"), np.nan)
    assert WITHOUT not in set(predictive_value(changed(panel, **blank))["predictor"])


def test_paired_limits_are_over_people():
    person = np.repeat(np.arange(10), 50)
    difference = np.repeat(np.random.default_rng(1).normal(0, 1, 10), 50)
    mean, low, high = paired(difference, person)
    spread = difference.reshape(10, 50).mean(axis=1).std() / np.sqrt(10)
    assert mean == pytest.approx(difference.mean())
    assert high - low == pytest.approx(2 * 1.96 * spread, rel=0.15)


def test_flare_brier_by_hand(strong):
    table = flare_prediction(strong).set_index("predictor")
    n, k = table.loc["base rate", ["n_steps", "onsets"]]
    assert table.loc["base rate", "brier"] == pytest.approx(k / n * (1 - k / n), rel=0.1)
    assert table.loc[MODEL, "brier"] < table.loc["base rate", "brier"]
    assert table.loc[WITHOUT, "brier_more"] == pytest.approx(table.loc[WITHOUT, "brier"] - table.loc[MODEL, "brier"])


def test_too_little_data_gives_an_empty_table():
    assert predictive_value(simulate(23, people=3)).empty
    assert flare_prediction(changed(simulate(23), flare_next=np.nan)).empty
