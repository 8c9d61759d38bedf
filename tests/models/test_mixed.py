import re

import numpy as np
import pandas as pd
import pytest
from simulated_panels import changed, simulate, with_analysis

from lagwise.core.effects import EFFECTS
from lagwise.core.errors import ModelError
from lagwise.models import fit_flares, fit_mixed, fit_ordinal
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import design
from lagwise.models.kernel import fit
from lagwise.models.open_model import pymc_model


@pytest.fixture(scope="module")
def panel():
    return simulate(3, people=30, steps=24, effect=0.8, slope_sd=0.8, missing=0.08, rest=0.05)


@pytest.fixture(scope="module")
def result(panel):
    return fit_mixed(panel)


def primary(result):
    rows = result.effects[result.effects["primary"]]
    assert len(rows) == 1
    return rows.iloc[0]


def test_the_table_has_every_exposure_crude_and_adjusted_under_both_pains(panel, result):
    assert tuple(result.effects.columns) == tuple(EFFECTS)
    per_unit = result.effects[result.effects["contrast"] == "per unit"]
    for term in panel.study.analysis.exposures:
        levels = {"whole"} if term == "jump" else {"within", "between"}
        for adjustment in ("crude", "adjusted"):
            for pain in ("before", "during"):
                got = per_unit[
                    (per_unit["term"] == term)
                    & (per_unit["adjustment"] == adjustment)
                    & (per_unit["pain_adjusted"] == pain)
                ]
                assert set(got["level"]) == levels and len(got) == len(levels)


def test_the_primary_row_is_what_it_says(panel, result):
    row = primary(result)
    assert row[["engine", "term", "level", "adjustment", "pain_adjusted", "contrast", "scale"]].tolist() == [
        "mixed", "jump", "whole", "adjusted", "during", "+50 %", "points",
    ]  # fmt: skip
    d = design(panel)
    Z = np.column_stack([np.ones(d.n_steps), d.X[:, d.names.index("jump")]])
    e = fit(CrossProducts.build(d.y, d.X, Z, d.person), "uncorrelated")
    assert "uncorrelated" in row["model"]
    np.testing.assert_allclose(row["estimate"], np.log(1.5) * e.beta[0, d.names.index("jump")])
    per_unit = result.effects.query(
        "term == 'jump' and adjustment == 'adjusted' and pain_adjusted == 'during' and contrast == 'per unit'"
    ).iloc[0]
    np.testing.assert_allclose(row["estimate"], np.log(1.5) * per_unit["estimate"])
    assert row["df"] == pytest.approx(per_unit["df"])
    assert row["df"] < d.n_people * 3  # person slopes, not steps, carry the uncertainty
    assert row["n_people"] == d.n_people and row["n_steps"] == d.n_steps


def test_pain_rated_at_the_start_makes_the_other_adjustment_primary(panel):
    assert primary(fit_mixed(panel, pain_adjusted="before"))["pain_adjusted"] == "before"


def test_another_primary_exposure_carries_its_own_contrast(panel):
    fit = fit_mixed(with_analysis(panel, primary="stress", primary_contrast=2.0))
    found, row = fit.effects, primary(fit)
    assert (row["term"], row["level"], row["contrast"]) == ("stress", "within", "+2")
    assert row["estimate"] == pytest.approx(2 * 0.15, abs=4 * row["std_error"])
    load = found[found["term"].eq("jump") & found["adjustment"].eq("adjusted")].drop_duplicates("contrast")
    assert load["contrast"].tolist() == ["per unit", "+50 %"] and not load["primary"].any()
    assert load["estimate"].iloc[1] == pytest.approx(np.log(1.5) * load["estimate"].iloc[0])


def test_all_gates_pass_and_the_second_optimiser_agrees(result):
    gates = result.diagnostics.set_index("gate")
    assert result.usable and not result.why_not
    assert gates.loc["second_search", "value"] < 1e-3
    assert gates["passed"].map(lambda p: p is True).all()


def test_tables_say_what_they_hold(panel, result):
    t = result.tables
    row = primary(result)
    coefficient = t["coefficients"].set_index("name").loc["jump"]
    np.testing.assert_allclose(coefficient["estimate"] * np.log(1.5), row["estimate"])
    assert t["adjustments"]["primary"].tolist() == [True, False]
    assert t["adjustments"]["what_it_would_get_wrong"].str.len().gt(40).all()
    slope = t["random_effects"].set_index("component").loc["slope_sd"]
    assert slope["low"] < slope["estimate"] < slope["high"]
    assert slope["low"] < 0.8 < slope["high"]
    people = t["people"]
    assert set(people["person"]) == set(panel.frame["person"])
    assert people["slope"].std() < people["own_slope"].std()
    assert (people["low"] < people["slope"]).all() and (people["p_above_caseload"].between(0, 1)).all()
    assert people["slope"].is_monotonic_increasing
    split = t["variance"].set_index("quantity")["value"]
    between, within = split[["variance_between_people", "variance_within_people"]]
    np.testing.assert_allclose(split["icc"], between / (between + within))
    jack = t["jackknife"].set_index("estimate")["value"]
    halves = jack["first_half"] + jack["second_half"]
    np.testing.assert_allclose(
        jack[["whole", "corrected"]], [row["estimate"], 2 * row["estimate"] - halves / 2]
    )
    assert t["within"].iloc[0]["estimate"] == pytest.approx(row["estimate"], abs=row["std_error"])


@pytest.mark.parametrize(("people", "engines"), [(4, set()), (7, {"within"}), (14, {"mixed"})])
def test_how_many_people_there_are_decides_the_rows(people, engines):
    result = fit_mixed(simulate(4, people=people, effect=0.5))
    assert set(result.effects["engine"]) == engines and not (result.effects["level"] == "between").any()
    if not engines:
        assert not result.usable and "below 5" in result.why_not
    elif people < 10:
        assert primary(result)["df"] < 7 and "exploratory" in result.rung_reason


def test_without_sessions_the_psychosocial_rows_are_there_and_none_is_primary():
    panel = simulate(6)
    blank = dict.fromkeys(
        (
            "load", "usual", "jump", "log_usual", "rested", "restarted", "effort", "effort_within",
            "effort_between"), np.nan,
    )  # fmt: skip
    result = fit_mixed(changed(panel, **blank))
    assert set(result.effects["term"]) == {"stress", "sleep_hours", "worry"}
    assert not result.effects["primary"].any() and result.usable
    assert "load jump, which the plan asks about, is not in the model" in result.notes


@pytest.fixture(scope="module")
def awkward():
    base = simulate(7, people=12, steps=16)
    f = base.frame
    separated = (f["person"].isin(["p000", "p001"])).astype(float).where(f["jump"].notna())
    once = f["step"] == 6
    early = simulate(7, people=12, steps=6)
    copy = dict.fromkeys(("stress",), f["pain_next"]) | {
        "stress_within": f["pain_next"],
        "stress_between": 0.0,
    }
    return {
        "all pain 0": changed(base, **{c: f[c] * 0 for c in f if c.startswith("pain") or c == "usual_pain"}),
        "constant load": changed(base, jump=f["jump"] * 0, log_usual=f["log_usual"] * 0),
        "constant stress": changed(base, stress=5.0, stress_within=0.0, stress_between=0.0),
        "separated indicator": changed(base, rested=separated),
        "one step per person": changed(base, pain_next=f["pain_next"].where(once)),
        "three weeks": early,
        "an exposure that copies the outcome": changed(base, **copy),
        "huge units": changed(base, stress_within=f["stress_within"] * 1e9, log_usual=f["log_usual"] * 1e-9),
        "five distinct pains": changed(
            base, pain_next=(f["pain_next"] > 8).astype(float).where(f["pain_next"].notna())
        ),
    }


REFUSED = {
    "all pain 0": "^pain is 0 in every row that can be used, so there is nothing to explain",
    "an exposure that copies the outcome": "^the exposures reproduce pain exactly",
}
TOO_FEW = ("one step per person", "three weeks")
FITTED = (
    "constant load", "constant stress", "separated indicator", "huge units", "five distinct pains",
)  # fmt: skip


@pytest.mark.parametrize("name", [*REFUSED, *TOO_FEW, *FITTED])
def test_awkward_data_end_in_a_rung_or_in_words(name, awkward):
    panel = awkward[name]
    if name in REFUSED:
        with pytest.raises(ModelError, match=REFUSED[name]):
            fit_mixed(panel)
        return
    result = fit_mixed(panel)
    assert result.rung and (len(result.effects) == 0 and bool(result.why_not)) == (name in TOO_FEW)
    assert np.isfinite(result.effects[["estimate", "std_error", "low", "high", "df"]].to_numpy()).all()
    if name == "constant load":
        assert not result.effects["primary"].any()
        assert any("jump left out: does not vary" in note for note in result.notes)


def test_refuses_an_unknown_adjustment_and_nothing_recorded():
    panel = simulate(8, people=10, steps=10)
    with pytest.raises(ModelError, match="no pain adjustment"):
        fit_mixed(panel, pain_adjusted="after")
    unknown = "'jumps' is no exposure of pain in the next week. Did you mean 'jump'?"
    for call, given, said in (
        *((call, {"exposures": ["jumps"]}, unknown) for call in (fit_mixed, fit_flares, fit_ordinal, pymc_model)),
        (fit_mixed, {"exposures": ["jump", "pain"]}, "'pain' is no exposure of pain in the next week. Use one of jump"),
        (fit_mixed, {"outcome": "pain_nxt"}, "'pain_nxt' is no column of the panel. Did you mean 'pain_next'?"),
        (fit_flares, {"block_steps": 0}, "block_steps is 0. Give a whole number from 1 on."),
        (fit_ordinal, {"pain_adjusted": "x"}, "'x' is no pain adjustment. Use one of before, during, none, latent."),
    ):  # fmt: skip
        with pytest.raises(ModelError, match=f"^{re.escape(said)}"):
            call(panel, **given)
    with pytest.raises(ModelError, match="none of the exposures"):
        fit_mixed(panel, exposures=["confidence"])


def test_the_panel_is_not_changed_and_neither_row_order_nor_an_exposure_named_twice_matters(panel, result):
    before = panel.frame.copy(deep=True)
    shuffled = with_analysis(changed(panel), exposures=(*panel.study.analysis.exposures, "jump"))
    object.__setattr__(shuffled, "frame", panel.frame.sample(frac=1, random_state=1))
    again = fit_mixed(shuffled)
    pd.testing.assert_frame_equal(panel.frame, before)
    pd.testing.assert_frame_equal(again.effects, result.effects, rtol=1e-6)
