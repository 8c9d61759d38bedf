"""fit_ordinal with real sampling: recovery beside its null twin, numbers by hand, gates and refusals in words."""

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit
from simulated_panels import changed, simulate, with_analysis

from lagwise.core.effects import EFFECTS
from lagwise.models.design import design
from lagwise.models.ordinal import fit_ordinal
from lagwise.models.ordinal_draws import ordinal_model
from lagwise.models.priors import DEFAULT

pytestmark = [pytest.mark.mcmc, pytest.mark.xdist_group("mcmc")]

SETTINGS = {"draws": 500, "tune": 400, "chains": 4, "seed": 1}
SHORT = {"draws": 200, "tune": 300, "chains": 2, "seed": 1}
TRUTH = 0.8


def panel(effect: float):
    return simulate(1, people=40, steps=20, effect=effect, slope_sd=0.3, rest=0.05)


@pytest.fixture(scope="module")
def fitted():
    return fit_ordinal(panel(TRUTH), **SETTINGS)


@pytest.fixture(scope="module")
def null():
    return fit_ordinal(panel(0.0), **SETTINGS)


def primary(fit, outcome="pain_next"):
    rows = fit.effects.query("outcome == @outcome and contrast == '+50 %'")
    assert len(rows) == 1
    return rows.iloc[0]


def test_recovers_a_load_difference(fitted):
    row, truth = primary(fitted), TRUTH * np.log(1.5)
    assert fitted.usable, fitted.why_not
    assert row.low < truth < row.high
    assert row.high - row.low < 2 * truth
    assert row.p_above_zero > 0.99
    assert primary(fitted, "flare_next").low > 0 > primary(fitted, "pain_zero_next").estimate


def test_null_twin_finds_nothing(null):
    row = primary(null)
    assert null.usable, null.why_not
    assert row.low < 0 < row.high
    assert 0.01 < row.p_above_zero < 0.99
    assert row.p_important < 0.01 and row.p_practically_zero > 0.99


def test_effect_table_has_the_one_schema(fitted):
    frame = fitted.effects
    assert list(frame.columns) == list(EFFECTS)
    assert set(frame["engine"]) == {"ordinal"} and not frame["primary"].any()
    log_odds = frame.query("scale == 'log_odds'")
    assert set(zip(log_odds["term"], log_odds["level"], strict=True)) == {
        ("jump", "whole"), *((t, level) for t in ("effort", "stress", "sleep_hours", "worry") for level in ("within", "between")),
    }  # fmt: skip
    assert frame.query("scale != 'points'")[["p_practically_zero", "p_important"]].isna().all(axis=None)
    assert frame.query("contrast == 'per SD'")["scale"].eq("points").all()
    assert not frame.duplicated(["outcome", "term", "level", "contrast", "scale"]).any()
    assert set(frame.query("scale == 'probability'")["contrast"]) == {"+50 %"}
    points = frame.query("scale == 'points' and level == 'within'").set_index(["contrast", "term"])[
        "estimate"
    ]
    per_sd, per_unit = points["per SD"], points["per unit"]
    assert set(per_unit.index) == {"effort", "stress", "sleep_hours", "worry"}
    assert (np.sign(per_sd) == np.sign(per_unit)).all()


def test_contrasts_in_points_and_probability_by_hand(fitted):
    """Set jump to 0 and to log 1.5 on every trained step, predict each rating's probabilities, average, subtract."""
    data = design(panel(TRUTH))
    model = ordinal_model(data, DEFAULT)
    posterior = fitted.posterior["posterior"].to_dataset().isel(chain=1, draw=slice(0, 40))
    trained = data.frame["rested"].to_numpy() == 0
    at = data.names.index("jump") - 1
    limit = data.frame["usual_pain"].to_numpy() + 2
    risk = trained & (data.frame["at_risk"].to_numpy() == 1)
    for d in range(40):
        beta, cut = posterior["beta"].values[d], posterior["cutpoint"].values[d]
        slopes = posterior["person_slope"].values[d][data.person] / model.columns.scale[at]
        others = (model.columns.X * beta).sum(axis=1) - model.columns.X[:, at] * beta[at]
        centred = beta[at] * model.columns.centre[at] / model.columns.scale[at]
        level = others + posterior["person_intercept"].values[d][data.person] - centred
        both = []
        for jump in (0.0, np.log(1.5)):
            below = expit(cut - (level + slopes * jump)[:, None])
            chance = np.diff(np.pad(below, ((0, 0), (1, 1)), constant_values=(0, 1)), axis=1)
            k = np.floor(limit + 0.5)
            above = sum(chance[:, j] * ((j > k) + (j == k) * (k + 0.5 - limit)) for j in range(11))
            both.append((chance[trained] @ np.arange(11), chance[trained, 0], above[risk]))
        gap = [b.mean() - a.mean() for a, b in zip(*both, strict=True)]
        assert posterior["difference"].sel(contrast="jump +50 %").values[d] == pytest.approx(gap[0], abs=1e-9)
        assert posterior["zero_difference"].values[d] == pytest.approx(gap[1], abs=1e-9)
        assert posterior["flare_difference"].values[d] == pytest.approx(gap[2], abs=1e-9)


def test_log_odds_rows_are_in_own_units(fitted):
    columns = ordinal_model(design(panel(TRUTH)), DEFAULT).columns
    beta = fitted.posterior["posterior"]["beta"].mean(("chain", "draw")).values
    for term, column in (("jump", "jump"), ("stress", "stress_within")):
        at = columns.names.index(column)
        row = fitted.effects.query(f"scale == 'log_odds' and term == '{term}'").iloc[0]
        assert row["estimate"] == pytest.approx(beta[at] / columns.scale[at])


def test_tables(fitted):
    risk = fitted.tables["absolute_risk"]
    for _, rows in risk.groupby("outcome"):
        by = rows.set_index("at")["mean"]
        assert list(by.index) == ["usual load", "+50 %", "difference"]
        assert by["difference"] == pytest.approx(by["+50 %"] - by["usual load"])
    assert (
        risk.query("outcome != 'pain_next' and at != 'difference'")[["low", "high"]].to_numpy() <= 1
    ).all()
    people = fitted.tables["people"]
    assert len(people) == 40 and people["p_above_caseload"].between(0, 1).all()
    assert people["p_above_caseload"].mean() == pytest.approx(0.5, abs=0.1)
    assert fitted.tables["ppc"]["within"].all()
    named = {"SD of person intercepts", "SD of person slopes of jump"}
    assert set(fitted.tables["scales"]["quantity"]) == named


def test_few_draws_fail_the_gate_and_say_which_and_the_same_seed_gives_the_same():
    data, told = panel(0.0), []
    before = data.frame.copy()
    few = {"draws": 40, "tune": 100, "chains": 2}
    fit, again, other = (
        fit_ordinal(data, **few, seed=s, progress=lambda *a: told.append(a)) for s in (1, 1, 2)
    )
    assert not fit.usable
    assert "bulk effective sample size" in fit.why_not and "needed: >= 400" in fit.why_not
    pd.testing.assert_frame_equal(again.effects, fit.effects, check_exact=True)
    for name in ("ppc", "prior_predictive", "people", "absolute_risk"):
        pd.testing.assert_frame_equal(again.tables[name], fit.tables[name], check_exact=True)
    assert not np.array_equal(other.effects["estimate"], fit.effects["estimate"])
    pd.testing.assert_frame_equal(data.frame, before)
    assert told and all(0 <= share <= 1 for share, _ in told)


def test_too_few_people_and_pain_that_never_changes_are_answered_in_words():
    few = fit_ordinal(simulate(1, people=9, steps=20))
    assert not few.usable and few.effects.empty and "9 people" in few.why_not and "at least 10" in few.why_not
    flat = panel(0.0)
    known = flat.frame["pain_next"].notna()
    flat = changed(flat, pain_next=flat.frame["pain_next"].where(~known, 3.0))
    same = fit_ordinal(flat)
    assert not same.usable and same.effects.empty and "same pain (3)" in same.why_not


def test_two_categories_no_load_and_a_psychosocial_primary():
    data = panel(0.0)
    two = changed(
        data, pain_next=(data.frame["pain_next"] > 4).astype(float).where(data.frame["pain_next"].notna())
    )
    fit = fit_ordinal(two, **SHORT)
    assert np.isfinite(fit.effects["estimate"]).all()
    assert fit.effects.query("contrast == '+50 %' and scale == 'points'")["high"].iloc[0] < 0.5
    assert any("The ratings 2, 3, 4" in note for note in fit.notes)
    nan = pd.Series(np.nan, index=data.frame.index)
    bare = changed(data, load=nan, usual=nan, jump=nan, log_usual=nan, rested=nan, restarted=nan)
    bare = with_analysis(bare, exposures=("stress", "sleep_hours"), primary="stress", primary_contrast=1.0)
    fit = fit_ordinal(bare, **SHORT)
    assert "people" not in fit.tables and fit.rung == "cumulative logit, person intercepts"
    asked = {"pain_next", "flare_next", "pain_zero_next"}
    assert set(fit.effects.query("contrast == '+1'")["outcome"]) == asked


def test_the_prior_stands_beside_the_posterior(fitted):
    before, after = (
        fitted.posterior[g]["difference"].sel(contrast="jump +50 %") for g in ("prior", "posterior")
    )
    assert abs(float(before.mean())) < 3 * float(before.std()) / np.sqrt(before.size)
    assert float(before.std()) > 2 * float(after.std())
    beta = fitted.posterior["prior"]["beta"].sel(coefficient="jump")
    assert float(beta.std()) == pytest.approx(DEFAULT.load, rel=0.15)


def test_a_divergent_run_is_sampled_again_and_says_so():
    # So low a target makes steps too long on purpose; the second run settles it.
    few = simulate(1, people=12, steps=12, rest=0.05)
    fit = fit_ordinal(few, draws=100, tune=300, chains=2, seed=1, target_accept=0.1)
    gate = fit.diagnostics.set_index("gate").loc["divergences"]
    assert fit.settings["target_accept"] == 0.99 and "diverged at 0.1" in fit.rung_reason
    assert gate["value"] == 0


def test_the_usual_range_stands_beside_the_planned_contrast(fitted, null):
    for fit, may in ((fitted, False), (null, True)):
        table = fit.tables["reach"].set_index("contrast")
        assert table.loc["+50 %", "estimate"] == pytest.approx(primary(fit)["estimate"])
        assert table.loc["usual low to usual high", "may_say"] == may and table["share"].between(0, 1).all()
        assert (table["p_practically_zero"] + table["p_important"] <= 1).all()
