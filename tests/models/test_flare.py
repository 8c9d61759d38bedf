from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.special import expit
from simulated_panels import changed, simulate

from lagwise.core.effects import EFFECTS
from lagwise.core.errors import ModelError
from lagwise.models import fit_flares
from lagwise.models.aligned import aligned
from lagwise.models.clogit import fit_conditional, strata_of
from lagwise.models.design import design, design_from
from lagwise.models.flare_bias import Mechanism, bias_at_this_size
from lagwise.models.flare_fit import referent_design
from lagwise.models.flare_rows import probabilities
from lagwise.models.logistic import Separated, fit_logistic
from lagwise.models.onsets import agreement, at_risk_panel

REFERENCE = Path(__file__).parents[1] / "reference"
COLUMNS = ["jump", "log_usual", "stress_within", "pain_within", "pain_between", "step"]


@pytest.fixture(scope="module")
def onset_design():
    return design_from(pd.read_csv(REFERENCE / "panel_40x26.csv"), COLUMNS, outcome="flare_next")


@pytest.fixture(scope="module")
def printed():
    return pd.read_csv(REFERENCE / "flares.csv").set_index(["model", "name"])


@pytest.fixture(scope="module")
def panel():
    return simulate(1, effect=1.2, missing=0.05, rest=0.05)


@pytest.fixture(scope="module")
def result(panel):
    return fit_flares(panel, simulations=20)


def test_onset_model_agrees_with_glmer(onset_design, printed):
    d = onset_design
    fit = fit_logistic(d.y, d.X, d.person)
    for at, name in enumerate(d.names):
        row = printed.loc[("glmer", "(Intercept)" if name == "intercept" else name)]
        np.testing.assert_allclose(fit.beta[at], row["value"], rtol=1e-5)
        np.testing.assert_allclose(fit.std_error(at), row["std_error"], rtol=1e-3)
    np.testing.assert_allclose(fit.tau, printed.loc[("glmer", "tau"), "value"], rtol=1e-5)


def test_without_person_variance_it_is_plain_logistic_regression(onset_design, printed):
    # People dealt so that each has the same share of onsets differ less than chance would have them.
    d = onset_design
    dealt = np.empty(d.n_steps, dtype=int)
    dealt[np.argsort(d.y, kind="stable")] = np.arange(d.n_steps) % 11
    order = np.argsort(dealt, kind="stable")
    fit = fit_logistic(d.y[order], d.X[order], dealt[order])
    assert fit.tau == 0
    for at, name in enumerate(d.names[1:], 1):
        np.testing.assert_allclose(fit.beta[at], printed.loc[("glm", name), "value"], rtol=1e-5)
        np.testing.assert_allclose(fit.std_error(at), printed.loc[("glm", name), "std_error"], rtol=1e-4)


def test_self_controlled_model_agrees_with_survival_clogit(onset_design, printed):
    d = onset_design
    names = tuple(COLUMNS[:4])
    fit = fit_conditional(d.y, d.X[:, 1:5], strata_of(d.person, d.frame["step"]), names, d.person)
    assert fit.names == names
    for at, name in enumerate(names):
        np.testing.assert_allclose(fit.beta[at], printed.loc[("clogit", name), "value"], rtol=1e-6)
        np.testing.assert_allclose(
            np.sqrt(fit.cov[at, at]), printed.loc[("clogit", name), "std_error"], rtol=1e-5
        )
    np.testing.assert_allclose(fit.log_likelihood, printed.loc[("clogit", "loglik"), "value"], rtol=1e-8)


def test_the_penalty_is_two_pseudo_observations_per_column():
    # log-F(2, 2) on one standardised coefficient: the score equation sum x (y - p) + 1 - 2 expit(beta) = 0.
    rng = np.random.default_rng(1)
    x = np.repeat([-1.0, 1.0], 30)
    y = (rng.random(60) < expit(x)).astype(float)
    beta = fit_logistic(y, np.column_stack([np.ones(60), x]), np.arange(60), penalty=2.0).beta
    p = expit(beta[0] + beta[1] * x)
    assert x @ (y - p) + 1 - 2 * expit(beta[1]) == pytest.approx(0, abs=1e-3)


def test_rows_scales_and_engines(panel, result):
    e = result.effects
    assert tuple(e.columns) == tuple(EFFECTS)
    assert set(e["engine"]) == {"flare", "clogit"} and not e["primary"].any()
    assert set(e.query("engine == 'flare'")["scale"]) == {"odds_ratio", "probability"}
    one = e.query(
        "engine == 'flare' and term == 'jump' and adjustment == 'adjusted' and pain_adjusted == 'during' and scale == 'odds_ratio'"
    ).set_index("contrast")
    beta = result.tables["coefficients"].set_index("name").loc["jump", "estimate"]
    np.testing.assert_allclose(one.loc["per unit", "estimate"], np.exp(beta))
    np.testing.assert_allclose(one.loc["+50 %", "estimate"], 1.5**beta)
    np.testing.assert_allclose(np.sqrt(one["low"] * one["high"]), one["estimate"])
    assert (e.query("engine == 'clogit'")["level"] == "within").all()


def test_g_computed_probability_by_hand(onset_design):
    d = onset_design
    fit = fit_logistic(d.y, d.X, d.person)
    values, errors = probabilities(d, fit, "stress_within", 1.0)
    u = stats.norm.ppf((np.arange(2000) + 0.5) / 2000)
    raised = d.X.copy()
    raised[:, d.names.index("stress_within")] += 1
    by_hand = [expit((X @ fit.beta)[:, None] + fit.tau * u).mean() for X in (d.X, raised)]
    np.testing.assert_allclose(values[:2], by_hand, rtol=1e-3)
    assert values[2] == pytest.approx(values[1] - values[0]) and errors[2] < errors[1]
    usual, _ = probabilities(d, fit, "jump", 0.4)
    flat = d.X.copy()
    flat[:, d.names.index("jump")] = 0
    np.testing.assert_allclose(usual[0], expit((flat @ fit.beta)[:, None] + fit.tau * u).mean(), rtol=1e-3)


def test_aligned_means_by_hand():
    panel = simulate(2, people=3, steps=10)
    flare = pd.Series(np.nan, index=panel.frame.index)
    jump = panel.frame["step"].astype(float) + 100 * panel.frame["person"].eq("p001")
    flare[panel.frame["person"].ne("p002")] = 0.0
    flare[(panel.frame["person"] == "p000") & panel.frame["step"].isin([5, 8])] = 1.0
    flare[(panel.frame["person"] == "p001") & (panel.frame["step"] == 6)] = 1.0
    table = aligned(changed(panel, flare_next=flare, jump=jump), "flare_next").set_index("offset")
    # offset -1 is the step whose jump the onset model uses
    others0, others1 = np.mean([0, 1, 2, 3, 4, 6, 7, 9]), np.mean([0, 1, 2, 3, 4, 5, 7, 8, 9]) + 100
    assert table.loc[-1, "onset_mean"] == pytest.approx((5 + 8 + 106) / 3)
    assert table.loc[-1, "difference"] == pytest.approx((5 - others0 + 8 - others0 + 106 - others1) / 3)
    assert table.loc[-1, ["n_onsets", "n_people"]].tolist() == [3, 2]
    assert table.loc[2, "n_onsets"] == 2  # step 8 + 3 lies beyond the record


def test_definitions_are_kept_apart_and_compared():
    panel = simulate(3, people=20, effect=1.0)
    f = panel.frame
    word = f["pain"].gt(6).astype(float)
    panel = changed(panel, flare_reported=word, flare_reported_next=word.groupby(f["person"]).shift(-1))
    t = agreement(panel).set_index("quantity")["value"]
    known = f["flare_next"].notna() & panel.frame["flare_reported_next"].notna()
    assert t["both"] == (f["flare_next"].eq(1) & panel.frame["flare_reported_next"].eq(1)).sum()
    assert t[["both", "pain_only", "reported_only", "neither"]].sum() == known.sum()
    risk, outcome = at_risk_panel(panel, "reported")
    assert outcome == "flare_reported_next"
    assert risk.frame.loc[word.eq(1), outcome].isna().all()
    reported, pain = fit_flares(panel, definition="reported", simulations=0), fit_flares(panel, simulations=0)
    assert set(reported.effects["outcome"]) == {"flare_reported_next"} and set(pain.effects["outcome"]) == {
        "flare_next"
    }
    other = pain.tables["other_definition"].iloc[0]
    got = reported.effects.query(
        "engine == 'flare' and contrast == '+50 %' and adjustment == 'adjusted' and pain_adjusted == 'during' and scale == 'odds_ratio'"
    ).iloc[0]
    assert other["definition"] == "reported" and other["odds_ratio"] == pytest.approx(got["estimate"])


@pytest.mark.parametrize(
    ("onsets", "says"), [(0, "0 flare onsets"), (1, "1 flare onset in"), (9, "9 flare onsets")]
)
def test_too_few_onsets_give_the_gate_in_words(onsets, says):
    panel = simulate(4, people=12)
    f = panel.frame
    at_risk = f.index[f["flare_next"].notna() & f["jump"].notna() & f["pain"].notna() & f["effort"].notna()]
    flare = f["flare_next"] * 0.0
    flare[at_risk[:: max(1, len(at_risk) // 9)][:onsets]] = 1.0
    result = fit_flares(changed(panel, flare_next=flare))
    assert not result.usable and result.effects.empty and says in result.why_not


def test_nothing_at_risk_and_unknown_definitions():
    panel = simulate(5, people=8, steps=6)
    result = fit_flares(changed(panel, flare_next=np.nan))
    assert not result.usable and "after no week at risk does a rating tell" in result.why_not
    with pytest.raises(ModelError, match="no definition"):
        fit_flares(panel, definition="severe")


def test_a_separating_indicator_ends_in_the_penalised_rung(panel):
    f = panel.frame
    rested = f["rested"].where(f["flare_next"].ne(1), 0.0)
    result = fit_flares(changed(panel, rested=rested), simulations=0)
    assert "with a penalty" in result.rung and result.rung_reason
    crude = result.tables["rungs"].query("exposures == 'jump' and pain_adjusted == 'during'").iloc[0]
    assert crude["rung"].endswith(", with a penalty on rested") and crude["reason"].startswith(
        "rested separates"
    )
    assert np.isfinite(result.effects["estimate"]).all()


def test_a_separating_column_leaves_the_other_estimates_alone(onset_design):
    d = onset_design
    apart = ((d.y == 0) & (np.arange(d.n_steps) % 5 == 0)).astype(float)
    names, stratum = tuple(COLUMNS[:4]), strata_of(d.person, d.frame["step"])
    X = np.column_stack([d.X[:, 1:5], apart])
    with pytest.raises(Separated) as error:
        fit_conditional(d.y, X, stratum, (*names, "apart"), d.person)
    assert error.value.columns == ("apart",)
    one = fit_conditional(d.y, X, stratum, (*names, "apart"), d.person, penalty=2.0, only=("apart",))
    every = fit_conditional(d.y, X, stratum, (*names, "apart"), d.person, penalty=2.0)
    # A column that is 1 on steps without an onset only says no more of them than that: they are no referents.
    rows = apart == 0
    without = fit_conditional(d.y[rows], X[rows, :4], stratum[rows], names, d.person[rows])
    assert one.penalised == ("apart",) and np.abs(one.beta).max() < 20
    assert np.abs(one.beta[:4] - without.beta).max() < np.abs(every.beta[:4] - without.beta).max()
    with pytest.raises(Separated) as error:
        fit_logistic(d.y, np.column_stack([d.X, apart]), d.person)
    assert error.value.columns == (str(d.X.shape[1]),)


def test_which_steps_an_onset_is_compared_with_does_not_depend_on_it(panel):
    f = panel.frame
    onset = design(panel, exposures=["jump"], outcome="flare_next")
    kept = referent_design(panel, onset, ["jump"])
    other = changed(panel, flare_next=f["flare_next"].mask(f["flare_next"].eq(1)), at_risk=0.0)
    again = referent_design(other, onset, ["jump"])
    pd.testing.assert_frame_equal(kept.frame[["person", "step"]], again.frame[["person", "step"]])
    known = f[["jump", "log_usual", "rested", "restarted", "pain_within"]].notna().all(axis=1)
    assert kept.n_steps == known.sum() > onset.n_steps
    assert kept.y.sum() == (f["flare_next"].eq(1) & known).sum() and again.y.sum() == 0


def test_bias_table_recovers_a_known_odds_ratio_and_its_null_twin():
    # Large enough that sparse-data bias is small; no load cut during flares, so that both estimators aim at the truth.
    how = Mechanism(
        people=50, steps=40, level=-2.5, tau=0.5, ends=1.0, memory=0.3, load_sd=0.4, drop=0.0, usual_steps=4
    )
    table = bias_at_this_size(how, {"none": 0.0, "some": 0.8}, seed=3, runs=30).set_index(
        ["truth", "estimator"]
    )
    for truth in ("none", "some"):
        row = table.loc[(truth, "person intercepts")]
        assert abs(row["bias"]) < 4 * row["bias_mc_error"]
        assert row["coverage"] > 0.95 - 4 * np.sqrt(0.95 * 0.05 / 30)
        controlled = table.loc[(truth, "self-controlled")]
        assert abs(controlled["bias"]) < 4 * controlled["bias_mc_error"] + 0.1
    assert table.loc[("some", "person intercepts"), "excludes_zero"] > 0.9
    assert table.loc[("none", "person intercepts"), "excludes_zero"] < 0.05 + 4 * np.sqrt(0.05 * 0.95 / 30)
