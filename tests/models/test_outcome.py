"""Another outcome, scale or lag: what pain of the next step gets, any rating gets, on its own scale."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

import lagwise as lw
from lagwise.challenges.estimate import answer
from lagwise.core.errors import ModelError
from lagwise.core.results import Caseload, Fit, Panel
from lagwise.core.study import Clock, Study
from lagwise.models import fit_flares, fit_lags, fit_mixed, fit_rated
from lagwise.models.design import design
from lagwise.models.ordinal import notes
from lagwise.models.ordinal_draws import ordinal_model
from lagwise.models.ordinal_summary import summarise
from lagwise.models.priors import DEFAULT
from lagwise.panel import build_panel, panel_from_blocks
from lagwise.synthetic import CLINIC, simulate_panel

PLAN = Study("clinic").with_(exposures=["jump", "effort", "stress", "sleep_hours"])
HUNDRED = PLAN.with_(ratings={"pain": {"low": 0, "high": 100}})
FIVE = PLAN.with_(ratings={"fatigue": {"low": 1, "high": 5, "worse": "high"}}, outcome="fatigue")
SCALES = {
    "pain, 0-100": (HUNDRED, 10.0, 0.0),
    "fatigue, 1-5": (FIVE, 0.4, 1.0),
    "worry": (PLAN.with_(outcome="worry"), 1, 0),
}
POINTS = ["estimate", "std_error", "low", "high"]


@cache
def clinic(people: int) -> Panel:
    spec = replace(CLINIC, n_people=people, n_steps=18)
    blocks = simulate_panel(spec, np.random.default_rng(5), study=PLAN).blocks
    # One rating a step: only of pain are days kept, by which the joint model would know its error better.
    return panel_from_blocks(
        blocks.assign(pain_last=blocks["pain_mean"], pain_worst=blocks["pain_mean"]), PLAN
    )


def moved(panel: Panel, study: Study, times: float, plus: float) -> Panel:
    """The panel as it would be had people rated the outcome of `study` where they rated pain."""
    name, blocks = study.outcome.name, panel.blocks
    rated = {c: plus + times * blocks[c] for c in ("pain_mean", "pain_last", "pain_worst", "pain_before")}
    if name != "pain":
        rated = {name: rated["pain_mean"], f"{name}_before": rated["pain_before"]}
    return panel_from_blocks(blocks.assign(**rated), study)


def same(one: Fit, other: Fit, times: float, rtol: float = 1e-6) -> None:
    """Estimates and limits in points are `times` those of the first, odds and chances the same."""
    a, b = one.effects, other.effects
    points = a["scale"].eq("points").to_numpy()[:, None]
    np.testing.assert_allclose(b[POINTS], np.where(points, times, 1.0) * a[POINTS], rtol=rtol, atol=1e-9)
    told = ["engine", "term", "level", "contrast", "scale", "pain_adjusted", "primary", "n_people", "n_steps"]
    assert a[told].to_numpy().tolist() == b[told].to_numpy().tolist()
    if "reach" in one.tables:
        verdict = ["reached", "inside", "may_say"]
        assert one.table("reach")[verdict].equals(other.table("reach")[verdict])
    assert other.usable == one.usable
    chances = ["p_above_zero", "p_practically_zero", "p_important"]
    np.testing.assert_allclose(a[chances], b[chances], atol=1e-6)


@cache
def of_pain(fit, people: int, **settings) -> Fit:
    return fit(clinic(people), **settings)


@pytest.mark.parametrize("people", [16, 8])
@pytest.mark.parametrize("scale", SCALES)
def test_the_same_ratings_by_another_name_or_scale_say_the_same(scale, people):
    study, times, plus = SCALES[scale]
    other = moved(clinic(people), study, times, plus)
    mixed = fit_mixed(other)
    same(of_pain(fit_mixed, people), mixed, times)
    assert mixed.engine == ("mixed" if people > 9 else "within")
    assert mixed.outcome == study.outcome.column == mixed.effects["outcome"].unique()
    if people > 9:
        joint = fit_rated(other)
        same(of_pain(fit_rated, people), joint, times)
        assert f"load and {other.study.outcome.variable.label} (" in joint.rung
        a, b = (
            f.table("rating").set_index("quantity")["estimate"] for f in (of_pain(fit_rated, people), joint)
        )
        power = {"error_sd": 1, "lasting_sd": 1, "slope_sd": 1, "carry_over": 0, "reliability": 0}
        np.testing.assert_allclose(b, a * times ** b.index.map(power).fillna(-1), rtol=1e-5)


def test_flare_ups_and_lags_of_another_outcome_are_those_of_the_same_ratings():
    study, times, plus = SCALES["fatigue, 1-5"]
    other = moved(clinic(16), study, times, plus)
    flares = [of_pain(fit_flares, 16, simulations=0), fit_flares(other, simulations=0)]
    load = [f.effects.query("term == 'jump'")[POINTS] for f in flares]
    np.testing.assert_allclose(*load, rtol=1e-6)
    assert len(load[0]) and [f.settings["definition"] for f in flares] == ["pain", "fatigue"]
    assert repr(flares[1]).startswith("Flare model: a rise in fatigue beginning in the next week, by rating")
    assert flares[1].table("other_definition")["definition"].tolist() == ["reported"]
    unrated = fit_flares(replace(other, frame=other.frame.assign(flare_next=np.nan)))
    assert "does a rating tell whether a rise in fatigue began" in unrated.why_not
    curves = [fit_lags(p).table("curve")["estimate"] for p in (clinic(16), other)]
    np.testing.assert_allclose(curves[1], times * curves[0], rtol=1e-6)


def test_the_ordinal_model_is_the_same_on_levels_that_map_one_to_one():
    panel = clinic(16)
    rounded = {c: panel.blocks[c].round() for c in panel.blocks if c.startswith("pain_")}
    whole = panel_from_blocks(panel.blocks.assign(**rounded), PLAN)
    panels = whole, moved(whole, HUNDRED, 10.0, 0.0)
    models = [ordinal_model(design(p), DEFAULT) for p in panels]
    points = models[0].start() + np.random.default_rng(1).normal(0, 0.3, (2, 20, models[0].layout.size))
    stats = {"diverging": np.zeros((2, 20), dtype=bool)}
    densities = [[m.density(x)[0] for x in points[0]] for m in models]
    np.testing.assert_allclose(*densities, rtol=1e-12)
    first, second = (
        summarise(m, p.study, m.unpack(points), stats, rung="", seed=1)
        for m, p in zip(models, panels, strict=True)
    )
    factor = np.where(first.effects["scale"].eq("points"), 10.0, 1.0)[:, None]
    np.testing.assert_allclose(second.effects[POINTS], factor * first.effects[POINTS], rtol=1e-9)
    margins = ["p_above_zero", "p_practically_zero", "p_important"]
    np.testing.assert_allclose(second.effects[margins], first.effects[margins])
    absolute = [s.tables["absolute_risk"].set_index(["outcome", "at"])["mean"] for s in (first, second)]
    assert set(absolute[0].index.levels[0]) == {"flare_next", "pain_zero_next", "pain_next"}
    np.testing.assert_allclose(
        absolute[1] / absolute[0], np.where(absolute[0].index.get_level_values(0) == "pain_next", 10, 1)
    )
    assert set(np.unique(second.posterior["observed_data"]["pain_next"])) <= set(range(0, 101, 10))
    assert notes(models[1], models[1].design)[0].startswith(
        "Ratings were rounded to the nearest of 11 levels, 0 to 100 in"
    )


DIARY = Study("diary", clock=Clock(1)).with_(
    ratings={"fatigue": {"low": 0, "high": 100, "worse": "high"}}, outcome="fatigue", exposures=["sleep_hours"],
    primary="sleep_hours", order="exposure_first", lag=0,
)  # fmt: skip


def diary(within: float, between: float, people: int = 40, days: int = 30) -> Panel:
    """Each morning's hours of sleep, then that evening's fatigue, 0-100; slopes are points per hour."""
    rng = np.random.default_rng(11)
    usual = rng.normal(7, 0.7, people)
    sleep = usual[:, None] + rng.normal(0, 0.9, (people, days))
    level = 50 + between * (usual - 7) + rng.normal(0, 6, people)
    fatigue = level[:, None] + within * (sleep - usual[:, None]) + rng.normal(0, 10, (people, days))
    rows = pd.DataFrame(
        {
            "person": np.repeat([f"p{i:02d}" for i in range(people)], days),
            "date": np.tile(pd.date_range("2024-01-01", periods=days), people),
            "sleep_hours": sleep.ravel(), "fatigue": fatigue.ravel().clip(0, 100), "row": np.arange(people * days) + 2,
        }
    )  # fmt: skip
    empty = pd.DataFrame()
    none = pd.DataFrame({"person": pd.Series(dtype="str"), "date": pd.Series(dtype="datetime64[us]")})
    return build_panel(Caseload(DIARY, none, rows, empty, empty, none, empty, empty, empty, "hash"))


@pytest.mark.parametrize(("within", "between"), [(-4.0, -8.0), (0.0, 0.0)])
def test_a_daily_diary_of_the_same_step_is_told_within_and_between_people(within, between):
    panel = diary(within, between)
    found = fit_mixed(panel)
    assert found.usable and found.primary()["pain_adjusted"].item() == "before"
    assert found.notes == (
        "The fatigue of the same day is explained, so it cannot be held equal to itself: fatigue before it is.",
    )
    rows = found.effects[found.effects["contrast"].eq("per unit") & found.effects["adjustment"].eq("crude")]
    none, before = (rows[rows["pain_adjusted"].eq(held)].set_index("level") for held in ("none", "before"))
    for level, truth in (("within", within), ("between", between)):
        for found_there in (none, before):
            row = found_there.loc[level]
            assert abs(row["estimate"] - truth) < 3.5 * row["std_error"]
            assert (row["low"] > 0 or row["high"] < 0) == (truth != 0)
    page = (Path(__file__).parents[2] / "docs" / "data-format.md").read_text("utf-8")
    recipe = page.split("### A daily diary")[1].split("```python\n")[1].split("```")[0]
    rows = panel.frame[["person", "step", "sleep_hours", "fatigue"]]
    names = {"lw": lw, "diary": rows.assign(date=panel.frame["step_start"]).drop(columns="step")}
    exec(recipe, names)
    shown = names["slopes"].set_index("level")["estimate"]
    assert shown.to_dict() == pytest.approx(none["estimate"].to_dict())
    # Centred by hand, as a diary is by who analyses it.
    mean = rows.groupby("person")["sleep_hours"].transform("mean")
    rows = rows.assign(within=rows["sleep_hours"] - mean, between=mean)
    own = smf.mixedlm("fatigue ~ within + between + step", rows, groups="person", re_formula="~within").fit()
    for level in ("within", "between"):
        assert none.loc[level, "estimate"] == pytest.approx(own.params[level], abs=0.02 * own.bse[level])
        assert none.loc[level, "std_error"] == pytest.approx(own.bse[level], rel=0.02)


def test_models_of_what_follows_say_that_the_same_step_is_no_question_for_them():
    panel = diary(0.0, 0.0, people=6, days=12)
    for fit in (fit_flares, fit_rated):
        with pytest.raises(ModelError, match="the plan asks about the same day"):
            fit(panel)
    sparse = replace(panel, frame=panel.frame.assign(**{c: np.nan for c in panel.frame if "_before" in c}))
    few = fit_mixed(sparse)
    assert few.engine == "within" and few.primary()["pain_adjusted"].item() == "none"
    assert set(few.effects["pain_adjusted"]) == {"none"} and "hardly known before it" in few.notes[-1]


@pytest.mark.parametrize("effect", [1.0, 0.0])
def test_worry_that_answers_load_jumps_is_recovered_beside_its_null_twin(effect):
    spec = replace(CLINIC, n_people=60, n_steps=26, of_jump=effect, feedback=0.0)
    panel = simulate_panel(spec, np.random.default_rng(2), study=PLAN)
    found = answer(design(moved(panel, PLAN.with_(outcome="worry"), 1.0, 0.0)), "jump")
    assert found.side == effect and abs(found.estimate - effect) < 0.35


def test_an_hour_of_sleep_is_compared_with_a_point_of_a_rating():
    asked = clinic(16).study.with_(outcome="sleep_hours", exposures=["jump", "stress"]).outcome
    assert (asked.scale, asked.important, asked.zero, asked.rise) == (1, 1, 0.5, 2)


def test_a_fit_calls_exposures_by_the_labels_of_the_plan():
    own = {"screen": "evening screen time", "light": "late light", "away": "nights away"}
    study = DIARY.with_(
        ratings={"fatigue": {"high": 100, "low": 0}}
        | {name: {"low": 0, "high": 10, "label": label} for name, label in own.items()},
        exposures=list(own), primary="screen",
    )  # fmt: skip
    rng, days = np.random.default_rng(2), 16 * 12
    person, screen = np.repeat(np.arange(16), 12), rng.uniform(1, 9, days)
    rows = pd.DataFrame({"person": person, "date": np.tile(pd.date_range("2024-01-01", periods=12), 16)})
    rows = rows.assign(screen=screen, light=screen + rng.uniform(-0.5, 0.5, days), away=3)
    rows["fatigue"] = 30 + rng.normal(0, 8, 16)[person] + rng.normal(2, 2, 16)[person] * screen
    rows["fatigue"] += rng.normal(0, 2, days)
    fit = fit_mixed(
        build_panel(lw.from_frames(checkins=rows.assign(person="p" + rows["person"].astype(str)), plan=study))
    )
    near = fit.diagnostics.set_index("gate").loc["near_collinear", "meaning"]
    assert "intercepts and evening screen time slopes" in fit.rung
    assert "between exposures, of late light and evening screen time" in near
    assert fit.notes[0] == "nights away within people left out: does not vary within people"
    assert "pain" not in repr(study) and "pain as mean" in repr(Study("x"))
