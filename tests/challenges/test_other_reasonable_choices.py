from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from challenge_panels import PLAN, clinic, laid, one, simple, value
from proof import proved
from proof_caseloads import KIN, two_measures

import lagwise as lw
from lagwise.challenges.context import Context
from lagwise.challenges.estimate import sides
from lagwise.challenges.other_reasonable_choices import (
    joint_p,
    judged,
    own_row,
    parting_shares,
    shrunk,
    single_p,
    slid,
)
from lagwise.challenges.specifications import CHOICES, READINGS, estimates, plans
from lagwise.core.study import AnalysisPlan, LoadPlan
from lagwise.synthetic import CLINIC, simulate


def tried(made):
    return one("other_reasonable_choices", made, quick=True)


def test_a_difference_in_one_load_measure_alone_does_not_hold_on_the_other_side():
    found = tried(two_measures(1.2, 0.0, -1))
    assert found.verdict == "does_not_hold"
    assert "'load measure'" in found.sentence


def test_an_absent_difference_that_most_other_measures_show_does_not_hold():
    found = tried(two_measures(0.0, 1.2))
    assert found.verdict == "does_not_hold"
    assert value(found, "joint p") <= 0.05


def test_at_least_150_plans_when_the_log_has_every_measure():
    made = simple(people=10, steps=12)
    extra = {f"load_{name}": made["load"] * 2 for name in (*KIN, "hard_sets")}
    panel, _ = laid(
        made["pain"],
        made["load"],
        stress=made["stress"],
        **extra,
        pain_last=made["pain"] + 0.1,
        pain_worst=made["pain"] + 0.2,
    )
    every = plans(panel)
    assert len(every) == len({p.words for p in every}) == 4 * 3 * 3
    assert "hard_sets" not in {p.words[0] for p in every}
    hard = replace(PLAN, load=LoadPlan(measure="hard_sets"))
    panel, _ = laid(made["pain"], made["load"], hard, stress=made["stress"], **extra)
    assert {p.words[0] for p in plans(panel)} == {"hard_sets"}


def test_the_plan_s_own_row_is_the_primary_model_without_person_slopes():
    panel, fit = clinic()
    p = Context(panel, fit).primary
    table = estimates(panel, p, plans(panel)[:1])
    own = table[table["what is held equal"] == "all exposures"].iloc[0]
    assert own["estimate"] == pytest.approx(p.answer.estimate, abs=0.02)
    assert own["n_steps"] == p.answer.n_steps


def test_joint_p_is_uniform_enough_under_the_null_and_small_where_load_matters():
    panel, fit = clinic()
    p = Context(panel, fit).primary
    used, ts = slid(panel, p, plans(panel)[:3], 199, np.random.default_rng(1))
    assert ts.shape == (len(used), 200)
    assert joint_p(ts) == single_p(used, ts) == joint_p(-ts) == single_p(used, -ts) == pytest.approx(1 / 200)


def test_one_measure_that_parts_from_the_others_is_named():
    """Half of all intervals keep the primary side, and nearly all signs do, but every one under the second measure includes 0."""
    table = pd.DataFrame({name: ["a", "a", "b", "b"] for name in CHOICES}).assign(low=0.1, high=0.9)
    table.loc[2:, "low"] = -0.1
    table[list(READINGS[1:])] = "same"
    for own, apart in ((1, "b"), (0, "a")):
        shares = {(c, v): s for c, v, s in parting_shares(table, sides(table), own)}
        assert shares == {
            ("load measure", "a"): float(apart == "a"),
            ("load measure", "b"): float(apart == "b"),
        }
    assert {s for *_, s in parting_shares(table.assign(low=0.1), sides(table.assign(low=0.1)), 1)} == {0.0}


def test_a_reading_under_which_the_difference_is_less_than_half_is_named():
    table = pd.DataFrame({name: ["a", "a", "b", "b"] for name in CHOICES}).assign(
        estimate=[0.4, 0.5, 0.2, 0.22]
    )
    table[list(READINGS[1:])] = "same"
    assert shrunk(table, 0) == [("load measure", "b")]
    assert shrunk(table.assign(estimate=-table["estimate"]), 0) == [("load measure", "b")]
    assert shrunk(table.assign(estimate=[0.4, 0.5, -0.4, -0.5]), 0) == [("load measure", "b")]
    assert (
        shrunk(table.assign(estimate=[0.4, 0.5, 0.3, 0.3]), 0)
        == shrunk(table, None)
        == shrunk(table, 2)
        == []
    )


def test_measures_that_stray_far_from_the_one_that_matters_cannot_hold():
    made = simple(people=60, steps=40, effect=1.2)
    rng = np.random.default_rng(1)
    extra = {f"load_{name}": made["load"] * np.exp(rng.normal(0, 0.25, made["load"].shape)) for name in KIN}
    found = tried(laid(made["pain"], made["load"], stress=made["stress"], **extra))
    assert found.verdict == "cannot_tell"
    assert "Its size hangs on load measure" in found.sentence


def test_a_difference_that_half_of_the_measures_show_hangs_on_the_measure():
    """Sets and repetitions go together and are followed by pain; the other two measures are another load."""
    made = simple(people=40, steps=20)
    rng = np.random.default_rng(1)
    second = 30 * np.exp(rng.normal(0, 0.3, made["load"].shape))
    pain = np.clip(
        made["pain"] + np.column_stack([np.zeros(40), 1.2 * np.log(made["load"] / 30)[:, :-1]]), 0, 10
    )
    extra = {"load_reps": made["load"] * 8, "load_tonnage": second, "load_session_rpe": second * 3}
    found = tried(laid(pain, made["load"], stress=made["stress"], **extra))
    assert found.verdict == "does_not_hold"
    assert "hangs on load measure (kg lifted (sets x reps x load))" in found.sentence


def test_the_picture_has_every_plan_its_choices_and_other_questions_apart():
    panel, fit = clinic()
    found = proved("other_reasonable_choices", "holds")
    data = found.picture.data
    inside = data[data["x"].notna()]
    assert len(inside) == value(found, "plans")
    assert inside["estimate"].is_monotonic_increasing
    assert set(CHOICES) == set(found.picture.options["choices"]) <= set(data)
    own = inside[inside["primary"]]
    assert len(own) == 1
    assert own["estimate"].iloc[0] == pytest.approx(Context(panel, fit).primary.answer.estimate, abs=0.02)
    assert {"pain before the week held equal", "why not: pain of the same week"} <= set(
        data.loc[data["x"].isna(), "label"]
    )


def test_own_row_is_within_people_where_nothing_else_is():
    panel, fit = laid(
        *(simple(people=6, steps=14)[k] for k in ("pain", "load")),
        stress=simple(people=6, steps=14)["stress"],
    )
    p = Context(panel, fit).primary
    every = plans(panel)
    table = estimates(panel, p, every)
    assert table.loc[own_row(panel, table, p, every[0]), "estimate"] == pytest.approx(p.answer.estimate)


@pytest.mark.parametrize(
    ("own", "alike", "beside", "clear", "joint", "verdict"),
    [
        (1, 1.0, 1.0, 1.0, 0.01, "holds"), (-1, 1.0, 1.0, 1.0, 0.01, "holds"),
        (1, 1.0, 1.0, 1.0, 0.2, "does_not_hold"), (1, 0.7, 0.6, 0.6, 0.01, "does_not_hold"),
        (1, 0.8, 0.6, 0.6, 0.01, "cannot_tell"), (0, 0.6, 0.1, 0.1, 0.5, "holds"),
        (0, 0.9, 0.6, 0.6, 0.01, "does_not_hold"), (0, 0.9, 0.3, 0.3, 0.2, "cannot_tell")],
)  # fmt: skip
def test_the_rule_of_plans(own, alike, beside, clear, joint, verdict):
    assert judged(own, alike, beside, clear, joint) == verdict


def test_a_primary_exposure_other_than_load_has_plans_too():
    made = simple(people=20, steps=16)
    plan = replace(PLAN, analysis=AnalysisPlan(exposures=("stress",), primary="stress", primary_contrast=2))
    none, last = np.full_like(made["load"], np.nan), made["pain"] + made["shock"] / 5
    assert not tried(laid(made["pain"], none, plan, stress=made["stress"], pain_last=last)).problem


def test_choices_are_told_of_what_is_asked_about_once():
    found = simulate(replace(CLINIC, n_people=10, n_steps=12), 1)
    plan = found.study.with_(outcome="worry", exposures=["jump", "stress"])
    panel = lw.build_panel(found, plan)
    told = tried((panel, lw.fit_mixed(panel))).numbers["quantity"]
    assert "median with what is held equal: only worry about the pain and usual load" in set(told)
    assert "median with summary of worry about the pain: mean" in set(told)
