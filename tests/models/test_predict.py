import numpy as np
import pytest
from simulated_panels import changed, simulate

from lagwise.models import predict
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.kernel import fit
from lagwise.models.predict import LAST, MODEL, OWN, WITHOUT, flare_prediction, paired, predictive_value


@pytest.fixture(scope="module")
def strong():
    return simulate(21, effect=2.0, noise=0.7, person_sd=2.0)


def test_load_that_matters_is_seen_and_its_null_twin_is_not(strong):
    seen = predictive_value(strong).set_index(["scheme", "predictor"])
    twin = predictive_value(simulate(21, effect=0.0, noise=0.7)).set_index(["scheme", "predictor"])
    for scheme in ("leave one person out", "next step"):
        assert seen.loc[(scheme, WITHOUT), "log_score_less_low"] > 0
        assert twin.loc[(scheme, WITHOUT), "mae_more_low"] <= 0
        assert seen.loc[(scheme, MODEL), "mae"] < min(
            seen.loc[(scheme, LAST), "mae"], seen.loc[(scheme, OWN), "mae"]
        )


def test_naive_rules_by_hand(strong):
    row = predictive_value(strong).query("scheme == 'leave one person out'").set_index("predictor")
    f = strong.frame
    used = f.dropna(
        subset=["pain_next", "pain", "usual_pain", "jump", "effort", "stress", "sleep_hours", "worry"]
    )
    assert row.loc[LAST, "n_steps"] == len(used)
    assert row.loc[LAST, "mae"] == pytest.approx((used["pain_next"] - used["pain"]).abs().mean())
    assert row.loc[OWN, "mae"] == pytest.approx((used["pain_next"] - used["usual_pain"]).abs().mean())
    assert row.loc[LAST, "mae_more"] == pytest.approx(row.loc[LAST, "mae"] - row.loc[MODEL, "mae"])


def test_many_people_are_left_out_in_groups_and_long_records_foreseen_at_some_steps(strong, monkeypatch):
    alone = predictive_value(strong).set_index(["scheme", "predictor"])["mae"]
    monkeypatch.setattr(predict, "MANY", 10)
    monkeypatch.setattr(predict, "LONG", 10)
    monkeypatch.setattr(predict, "AHEAD", 3)
    groups = predictive_value(strong).set_index(["scheme", "predictor"])
    mae = groups.loc[("leave groups of people out", MODEL), "mae"]
    assert mae == pytest.approx(alone["leave one person out", MODEL], rel=0.02)
    assert groups.loc[("next step", MODEL), "n_steps"] <= 3 * groups.loc[("next step", MODEL), "n_people"]


def test_next_steps_are_predicted_from_earlier_steps_by_the_textbook_formula(strong):
    d = predict._design(strong, "pain_next")
    parts = predict._steps_ahead(d)
    step = d.frame["step"].to_numpy()
    assert all(step[train].max() < step[test].min() for train, test in parts)
    assert (
        len(np.unique(np.concatenate([test for _, test in parts]))) == (step >= (step.max() + 1) // 2).sum()
    )
    train, test = parts[3]
    got = predict._model(d, np.arange(len(d.names)), train, test)
    e = fit(CrossProducts.build(d.y[train], d.X[train], None, d.person[train]))
    between, within = float(e.covariance()[0, 0, 0]), float(e.sigma[0] ** 2)
    assert between > 0
    for at in test[:5]:
        mine = train[d.person[train] == d.person[at]]
        V = within * np.eye(len(mine)) + between
        blup = between * np.ones(len(mine)) @ np.linalg.solve(V, d.y[mine] - d.X[mine] @ e.beta[0])
        assert got.mean[test == at][0] == pytest.approx(d.X[at] @ e.beta[0] + blup)


def test_people_left_out_as_a_batch_equal_one_by_one(strong):
    d = predict._design(strong, "pain_next")
    parts, columns = predict._people_out(d), np.arange(len(d.names))
    for (train, test), batch in list(zip(parts, predict._models(d, columns, parts), strict=True))[:4]:
        single = predict._model(d, columns, train, test)
        np.testing.assert_allclose(batch.mean, single.mean, rtol=1e-6)
        np.testing.assert_allclose(batch.sd, single.sd, rtol=1e-6)


def test_paired_limits_are_over_people():
    person = np.repeat(np.arange(10), 50)
    difference = np.repeat(np.random.default_rng(1).normal(0, 1, 10), 50)
    mean, low, high = paired(difference[None], person)[0]
    spread = difference.reshape(10, 50).mean(axis=1).std() / np.sqrt(10)
    assert mean == pytest.approx(difference.mean())
    assert high - low == pytest.approx(2 * 1.96 * spread, rel=0.15)


def test_flare_brier_by_hand(strong):
    table = flare_prediction(strong).set_index("predictor")
    n, k = table.loc["base rate", ["n_steps", "onsets"]]
    assert table.loc["base rate", "brier"] == pytest.approx(k / n * (1 - k / n), rel=0.1)
    assert table.loc[MODEL, "brier"] < table.loc["base rate", "brier"]
    assert table.loc[WITHOUT, "brier_more"] == pytest.approx(
        table.loc[WITHOUT, "brier"] - table.loc[MODEL, "brier"]
    )


def test_too_little_data_gives_an_empty_table():
    assert predictive_value(simulate(23, people=3)).empty
    assert flare_prediction(changed(simulate(23), flare_next=np.nan)).empty
