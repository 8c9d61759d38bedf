"""The joint model: what it recovers beside its null twin, what it says of itself, and what it does with records that cannot carry it."""

from dataclasses import replace

import numpy as np
import pytest
from rated_worlds import World, simulate

import lagwise as lw
from lagwise.challenges.estimate import answer
from lagwise.core.errors import ModelError
from lagwise.models.comparison import with_headline
from lagwise.models.design import design
from lagwise.models.rated_data import rated_data
from lagwise.models.rated_fit import error_sd, fit_joint, held_error
from lagwise.models.rated_likelihood import NAMES

SEEDS = range(40, 43)
FEEDBACK = World(60, 40)


@pytest.fixture(scope="module")
def fits():
    return [fit_joint(rated_data(simulate(FEEDBACK, seed))) for seed in SEEDS]


def test_no_effect_stays_none_where_load_answers_pain(fits):
    found = np.array([fit.contrast("jump")[:2] for fit in fits])
    plain = [
        answer(design(simulate(FEEDBACK, seed), pain_adjusted="during"), "jump").estimate for seed in SEEDS
    ]
    error = found[:, 0].std(ddof=1) / np.sqrt(len(SEEDS))
    assert abs(found[:, 0].mean()) < 4 * error
    assert np.mean(plain) < -0.1  # the same caseloads, ratings taken as they are


def test_an_effect_comes_back_from_the_same_process():
    found = np.array(
        [
            fit_joint(rated_data(simulate(replace(FEEDBACK, effect=0.8), seed))).contrast("jump")
            for seed in SEEDS
        ]
    )
    assert abs(found[:, 0].mean() - 0.8) < 4 * np.mean(found[:, 1]) / np.sqrt(len(SEEDS))


def test_parameters_of_the_process_come_back(fits):
    free = np.array([fit.free for fit in fits]).mean(axis=0)
    assert free[NAMES.index("f")] == pytest.approx(-np.log(0.75), abs=0.04)
    assert free[NAMES.index("phi")] == pytest.approx(0.4, abs=0.06)
    assert np.mean([error_sd(fit)[0] for fit in fits]) == pytest.approx(
        np.sqrt(0.5**2 + 1 / 12), abs=0.06
    )  # and rounding to whole points
    assert all(fit.converged and fit.smallest > 1e-3 for fit in fits)


def test_the_point_found_is_a_minimum_with_the_curvature_it_tells(fits):
    from lagwise.models.rated_likelihood import Likelihood

    at, fit = Likelihood(fits[0].data), fits[0]
    curvature = np.diag(fit.bend)
    steps = np.diag(0.3 / np.sqrt(curvature))
    rises = np.array([[at(fit.free + sign * step) - fit.deviance for step in steps] for sign in (1, -1)])
    assert rises.min() > 0
    np.testing.assert_allclose(rises.sum(axis=0), 0.3**2, rtol=0.02)


def test_a_held_parameter_stays_and_k_can_follow_f(fits):
    fit = fits[0]
    same = fit_joint(fit.data, near=fit, held={"log_sw": held_error(0.7, fit), "k": np.nan})
    assert error_sd(same)[0] == pytest.approx(0.7)
    assert same.free[NAMES.index("k")] == same.free[NAMES.index("f")]
    assert same.deviance > fit.deviance


def test_hidden_weeks_are_a_measure_of_pain():
    hidden = replace(FEEDBACK, hidden=True)
    panels = [simulate(hidden, seed) for seed in SEEDS[:2]]
    found = [fit_joint(rated_data(panel)) for panel in panels]
    plain = [answer(design(panel, pain_adjusted="during"), "jump").estimate for panel in panels]
    assert abs(np.mean([fit.contrast("jump")[0] for fit in found])) < 0.15 < -np.mean(plain)
    assert min(fit.free[NAMES.index("miss_heavy")] for fit in found) > 0.1


def test_the_fit_has_the_one_effect_table(panel):
    fit = lw.fit_rated(panel)
    assert set(fit.effects["engine"]) == {"rated"} and set(fit.effects["pain_adjusted"]) == {"latent"}
    assert set(fit.tables) == {"rating", "answers", "innovations"} and fit.usable
    unit, planned = (
        fit.effects.query("term == 'jump' and contrast == @c").iloc[0] for c in ("per unit", "+50 %")
    )
    assert planned["estimate"] == pytest.approx(np.log(1.5) * unit["estimate"])
    free = fit.table("answers").set_index("answers")["estimate"]
    assert free["free"] == pytest.approx(planned["estimate"])


@pytest.fixture(scope="module")
def panel():
    return simulate(World(12, 16), 3)


def test_the_joint_row_leads_where_the_plan_and_the_size_say_so(panel):
    mixed, joint = lw.fit_mixed(panel), lw.fit_rated(panel)
    both = with_headline((mixed, joint), panel.study)
    assert [int(f.effects["primary"].sum()) for f in both] == [0, 1]
    assert mixed.effects["primary"].sum() == 1  # what was given is not changed
    plan = replace(panel.study, analysis=replace(panel.study.analysis, headline="mixed"))
    assert with_headline((mixed, joint), plan) == (mixed, joint)
    assert with_headline((mixed, replace(joint, usable=False)), panel.study)[0] is mixed
    few = simulate(World(7, 20), 3)
    assert with_headline((lw.fit_mixed(few), lw.fit_rated(few)), few.study)[0].effects["primary"].sum() == 1


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"jump": np.nan, "load": np.nan, "usual": np.nan}, "0 people have both ratings and a load"),
        ({"jump": 0.0, "load": 5.0, "usual": 5.0}, "load does not vary against the usual load"),
        ({"pain": 3.0}, "no rating differs from the person's others"),
        ({"pain": 0.0}, "no rating differs from the person's others"),
    ],
)
def test_records_that_cannot_carry_it_are_named(panel, columns, said):
    with pytest.raises(ModelError, match=said):
        lw.fit_rated(replace(panel, frame=panel.frame.assign(**columns)))


@pytest.mark.parametrize(("people", "weeks", "said"), [(4, 20, "4 people"), (8, 6, "6 steps")])
def test_too_few_people_or_steps_are_named(people, weeks, said):
    with pytest.raises(ModelError, match=said):
        lw.fit_rated(simulate(World(people, weeks), 1))


@pytest.mark.parametrize(
    "world",
    [World(5, 8), World(6, 12, carry=0.0, feedback=0.0), World(8, 20, level=0.6), World(5, 30, daily=True)],
)
def test_small_and_odd_records_get_an_interval_or_a_gate(world):
    fit = lw.fit_rated(simulate(world, 11))
    assert np.isfinite(fit.effects[["estimate", "std_error", "low", "high"]].to_numpy()).all()
    assert (fit.effects["df"] >= 3).all()
    assert fit.usable or fit.why_not


def test_influence_is_what_leaving_a_person_out_changes(fits):
    fit = fits[0]
    j, m = fit.column("jump"), len(fit.data.people)
    mine = fit.influence[:, j]
    heaviest = np.argsort(-np.abs(mine))[:3]
    without = [fit_joint(fit.data.take(np.delete(np.arange(m), i)), near=fit).theta[j] for i in heaviest]
    np.testing.assert_allclose(fit.theta[j] - without, mine[heaviest], rtol=0.4)
    assert abs(mine.sum()) < 0.2 * np.abs(mine).sum()
    assert fit.contrast("jump")[1] ** 2 >= 0.999 * m / (m - 1) * mine @ mine


def test_what_is_taken_from_a_sample_and_from_the_fit_beside_it_agrees_with_the_whole(fits, monkeypatch):
    """Above `SAMPLE` people the search starts in a sample, and a fit with more held takes what the variances add from the free one."""
    from lagwise.models import rated_fit, rated_likelihood

    data, held = fits[0].data, {"log_sw": held_error(0.7, fits[0]), "k": np.nan}
    whole = fits[0], fit_joint(data, near=fits[0], held=held)
    monkeypatch.setattr(rated_fit, "SAMPLE", 25)
    monkeypatch.setattr(rated_likelihood, "THREADED", 1)
    free = fit_joint(data)
    for fast, slow in zip((free, fit_joint(data, near=free, held=held)), whole, strict=True):
        assert fast.deviance == pytest.approx(slow.deviance, abs=1e-2)
        (a, error, _), (b, wide, _) = fast.contrast("jump"), slow.contrast("jump")
        assert a == pytest.approx(b, abs=0.01 * wide) and error == pytest.approx(wide, rel=0.2)
        assert fast.evaluations < 0.6 * slow.evaluations
