"""The generating process does what its parameters say."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lagwise.core.study import Study
from lagwise.panel import build_panel
from lagwise.synthetic import CLINIC, NO_EFFECT, simulate, simulate_panel
from lagwise.synthetic.caseloads import assemble
from lagwise.synthetic.fast import panel_of
from lagwise.synthetic.observe import observe
from lagwise.synthetic.process import run
from lagwise.synthetic.tables import checkins_table, codes, first_days, sessions_table
from lagwise.synthetic.truth import interventions

MANY = 1500


def slopes(spec, seed):
    """Least squares on what truly happened, far from floor and ceiling; (names, estimates, standard errors)."""
    w = run(spec, np.random.default_rng(seed), MANY)
    inside = (w.expected > 2.5) & (w.expected < 7.5) & (w.load > 0)
    inside[:, -1] = False
    level = w.level[:, None]
    late = np.concatenate([w.pain[:, 1:], w.pain[:, :1]], axis=1) - level
    week = np.broadcast_to(np.arange(spec.n_steps), w.pain.shape)
    named = {"carry_over": w.pain - level, "of_jump": w.jump, "of_effort": w.effort, "of_stress": w.stress,
             "of_sleep": w.sleep_hours, "of_worry": w.worry, "trend": week}  # fmt: skip
    X = np.column_stack([np.ones(inside.sum()), *(v[inside] for v in named.values())])
    person = np.broadcast_to(np.arange(MANY)[:, None], inside.shape)[inside]
    X, y = (pd.DataFrame(a).groupby(person).transform(lambda c: c - c.mean()).to_numpy()[:, s] for a, s in ((X, slice(1, None)), (late[inside], 0)))  # fmt: skip
    beta, residual, *_ = np.linalg.lstsq(X, y, rcond=None)
    se = np.sqrt(np.diag(np.linalg.inv(X.T @ X)) * residual[0] / (len(y) - MANY))
    return dict(zip(named, zip(beta, se, strict=True), strict=True))


@pytest.mark.parametrize(
    "spec", [replace(CLINIC, n_steps=50, trend=0.0), replace(NO_EFFECT, n_steps=50, trend=0.0)]
)
def test_next_week_follows_the_parameters(spec):
    found = slopes(replace(spec, of_jump_sd=0.0), seed=11)
    for name, (estimate, error) in found.items():
        assert estimate == pytest.approx(getattr(spec, name), abs=4 * error + 0.015), name


def test_pain_next_is_expectation_plus_shock():
    w = run(CLINIC, np.random.default_rng(3))
    np.testing.assert_allclose(w.pain[:, 1:], np.clip(w.expected + w.shock, 0, 10)[:, :-1])


def test_same_week_part_moves_the_week_itself():
    w = run(replace(CLINIC, same_week=0.6), np.random.default_rng(3))
    without = np.clip(w.expected + w.shock, 0, 10)[:, :-1]
    np.testing.assert_allclose(w.pain[:, 1:], np.clip(without + 0.6 * w.jump[:, 1:], 0, 10))


def test_who_leaves_stays_away_and_nobody_leaves_when_told():
    rng = np.random.default_rng(13)
    w = run(CLINIC, rng, 400)
    r = observe(w, replace(CLINIC, dropout=0.05), rng)
    assert 0 < r.present[:, -1].mean() < 1
    assert (np.diff(r.present.astype(int), axis=1) <= 0).all()
    assert not (r.logged & ~r.present).any()
    assert not (r.made & ~r.present[:, :, None]).any()
    assert observe(w, replace(CLINIC, dropout=0.0), rng).present.all()


def test_the_short_way_to_a_panel_equals_the_way_over_tables():
    rng = np.random.default_rng(21)
    w = run(CLINIC, rng)
    r = observe(w, CLINIC, rng)
    person, start = codes(rng, CLINIC.n_people), first_days(rng, CLINIC.n_people)
    plan = Study("x")
    tables = {
        "sessions": sessions_table(w, r, person, start, rng),
        "checkins": checkins_table(w, r, person, start, rng),
    }
    long = build_panel(assemble(tables, plan)).frame
    short = panel_of(w, r, rng, plan).frame
    exact = ["step", "state", "load", "usual", "jump", "rested", "restarted", "n_checkins", "n_ratings", "pain", "pain_next",
             "usual_pain", "at_risk", "flare_next", "flare_reported", "flare_reported_next", "pain_within", "pain_between"]  # fmt: skip
    pd.testing.assert_frame_equal(long[exact], short[exact])
    gap = (long["effort"] - short["effort"]).dropna()
    assert gap.abs().mean() < 0.25
    assert abs(gap.mean()) < 0.03
    assert (long["stress"] - short["stress"]).abs().median() == 0


def test_interventions_are_zero_exactly_where_the_truth_is():
    def of_jump(spec):
        rng = np.random.default_rng(17)
        w = run(spec, rng, MANY)
        return interventions(w, observe(w, spec, rng), spec, rng, rise=2, contrast=0.5)[0]

    at_scale = CLINIC.of_jump * np.log(1.5)
    assert at_scale * 0.9 < of_jump(CLINIC)["value"] <= at_scale * 1.02
    assert of_jump(NO_EFFECT)["value"] == 0


def test_simulate_panel_is_fixed_by_its_generator():
    one, two = (simulate_panel(CLINIC, np.random.default_rng(2), n_people=30).frame for _ in range(2))
    pd.testing.assert_frame_equal(one, two)
    assert (
        simulate_panel(CLINIC, np.random.default_rng(3), n_people=30).frame["pain"].mean()
        != one["pain"].mean()
    )


def test_simulate_follows_the_spec_and_the_seed():
    caseload = simulate(replace(CLINIC, n_people=9, n_steps=12), seed=4)
    panel = build_panel(caseload)
    assert panel.frame["person"].nunique() == 9
    assert panel.frame["step"].max() == 11
    other = simulate(replace(CLINIC, n_people=9, n_steps=12), seed=5)
    assert not caseload.checkins.equals(other.checkins)
