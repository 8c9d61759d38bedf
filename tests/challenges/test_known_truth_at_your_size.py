from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from challenge_panels import clinic, laid, no_effect, simple, value
from proof import ROWS, outcome, proved

from lagwise.challenges.context import Context
from lagwise.challenges.known_truth_at_your_size import judged, truths
from lagwise.challenges.small_world import MECHANISMS, Cell, _weeks, simulate, world_of
from lagwise.models.design import design
from lagwise.models.rating_noise import rating_noise


def test_what_a_report_would_name_is_judged_and_not_the_mixed_model_alone():
    """Feedback and rating error: the mixed model leaves out a true 0 too often, the joint model does not, and both see a real difference."""
    found = proved("known_truth_at_your_size", "holds")
    both = "difference named by both estimates: joint model, pain first, true"
    assert found.verdict == "holds"
    assert value(found, "simulated caseloads in each setting") == 200
    assert value(found, "simulated caseloads the joint model was put to at a true 0") == 16
    assert value(found, "intervals without 0: pain first, true 0.00") > 0.12
    assert value(found, f"{both} 0.00") < 0.1
    assert value(found, f"{both} 1.00") > 0.9
    assert value(found, "bias: load first, true 1.00") < -0.05
    alone = outcome(next(r for r in ROWS if r.name == found.name and "plan lets lead" in r.words))
    assert alone.verdict == "does_not_hold"
    assert not alone.numbers["quantity"].str.contains("joint").any()


def test_the_joint_model_is_put_to_the_study_s_own_rows_and_to_some_people_of_many(monkeypatch):
    panel, fit = clinic()
    context = Context(panel, fit)
    own = context.joint.data
    again = own.redrawn(own.y, own.x, own.usual)
    for name in ("y", "x", "usual", "moved", "heavy", "A", "G"):
        np.testing.assert_allclose(getattr(again, name), getattr(own, name), atol=1e-12)
    monkeypatch.setattr("lagwise.challenges.small_world.PEOPLE", 15)
    world = world_of(panel, context.design, "jump", 1.0, context.joint)
    assert len(world.joint.data.people) == 15
    rows = panel.frame.iloc[world.joint_rows]
    np.testing.assert_array_equal(rows["pain"], world.joint.data.y)
    assert tuple(dict.fromkeys(rows["person"])) == world.joint.data.people
    found = simulate(world, [Cell(MECHANISMS[0], 1.0, 3, np.random.SeedSequence(1), joint=2)])[0]
    assert found["joint_estimate"].notna().tolist() == [True, True, False]
    np.testing.assert_allclose(found["joint_estimate"][:2], found["estimate"][:2], atol=0.5)


def test_rating_error_lets_part_of_the_feedback_through_and_exact_ratings_do_not():
    """The same world with exact ratings, as rated, and with twice the error: the more error, the farther below a true 0."""
    panel, fit = no_effect()
    world = world_of(panel, Context(panel, fit).design, "jump", 0.405)
    assert world.error > 0.2
    at = [
        simulate(world, [Cell(MECHANISMS[0], 0.0, 100, np.random.SeedSequence(1), sd)])[0]["estimate"].mean()
        for sd in (0.0, None, 1.0)
    ]
    assert at[0] > at[1] > at[2]
    assert abs(at[0]) < 0.03
    assert at[1] < -0.03


@pytest.mark.parametrize("joint", [False, True])
def test_simulated_ratings_show_what_the_study_s_own_do(joint):
    """Rated again, the simulated load answers ratings, and ratings follow one another, about as they do in the study."""
    panel, fit = clinic()
    own, context = rating_noise(panel), Context(panel, fit)
    world = world_of(panel, context.design, "jump", 1.0, context.joint if joint else None)
    rng = np.random.default_rng(1)
    load, lasting, off, _ = _weeks(
        world,
        Cell(MECHANISMS[0], fit.primary()["estimate"].iloc[0] / 0.405, 1, np.random.SeedSequence(1)),
        20,
        rng,
    )
    rated = np.clip(lasting + off, 0, 10)[:, :, :-1]
    off = (rated - rated.mean(axis=2, keepdims=True))[:, :, 6:]
    with np.errstate(divide="ignore"):
        log_load = np.where(load > 0, np.log(load), np.nan)[:, :, 6:]
    log_load -= np.nanmean(log_load, axis=2, keepdims=True)
    slope = np.nansum(off * log_load) / np.sum(off[~np.isnan(log_load)] ** 2)
    assert slope == pytest.approx(own.answer_as_rated.value, abs=0.03)
    known = panel.frame.assign(
        off=panel.frame["pain"] - panel.frame.groupby("person")["pain"].transform("mean")
    )
    assert off.std() == pytest.approx(known["off"].std(), rel=0.2)


@pytest.mark.parametrize(
    ("estimate", "kept"),
    [
        (0.3, (0.0, 0.3, 1.0)), (-0.3, (0.0, -0.3, -1.0)), (0.04, (0.0, 1.0)), (-0.04, (0.0, -1.0)),
        (0.95, (0.0, 1.0)), (1.6, (0.0, 1.6, 1.0))],
)  # fmt: skip
def test_no_truth_is_tried_twice(estimate, kept):
    assert truths(estimate, 1.0, 0.5) == pytest.approx([v / 0.5 for v in kept])


def test_five_to_nine_people_are_simulated_within_people():
    made = simple(people=6, steps=12)
    panel, fit = laid(made["pain"], made["load"], stress=made["stress"])
    context = Context(panel, fit)
    world = world_of(panel, context.design, "jump", 1.0)
    table = simulate(world, [Cell(MECHANISMS[0], 0.0, 20, np.random.SeedSequence(1))])[0]
    assert np.isfinite(table[["estimate", "low", "high"]].to_numpy()).all()


def test_simulated_records_have_the_study_s_gaps_and_carry_over():
    panel, fit = clinic()
    context = Context(panel, fit)
    world = world_of(panel, context.design, "jump", 1.0)
    columns = ["person", "step"]
    assert (
        panel.frame.iloc[world.rows][columns].to_numpy().tolist()
        == world.design.frame[columns].to_numpy().tolist()
    )
    assert not world.known_load.all() and world.answers[0] < -0.05
    cell = Cell(MECHANISMS[0], 0.0, 20, np.random.SeedSequence(1))
    whole = replace(world, known_load=np.ones_like(world.known_load))
    assert not np.allclose(simulate(world, [cell])[0]["estimate"], simulate(whole, [cell])[0]["estimate"])
    pain = _weeks(world, cell, 50, np.random.default_rng(1))[1] - world.level[None, :, None]
    now, after = (
        (pain[:, :, 8:-1] - pain.mean(axis=2, keepdims=True)).ravel(),
        (pain[:, :, 9:] - pain.mean(axis=2, keepdims=True)).ravel(),
    )
    assert now @ after / (now @ now) == pytest.approx(world.carry, abs=0.08)


def test_primary_exposures_other_than_load_say_why():
    panel, _ = clinic()
    from lagwise.core.errors import ModelError

    with pytest.raises(ModelError, match="written for load"):
        world_of(panel, design(panel), "stress_within", 1.0)


OWN = pd.DataFrame(
    {"coverage": [0.95, 0.95], "coverage_error": 0.01, "bias": 0.0, "bias_error": 0.01, "std_error": 0.1}
)
FINE = pd.Series({"seen": 0.9, "bias": -0.1, "bias_error": 0.01, "truth": 1.0})


@pytest.mark.parametrize(
    ("coverage", "bias", "verdict"),
    [
        (0.95, 0.0, "holds"), (0.95, 0.059, "holds"), (0.95, 0.061, "cannot_tell"), (0.91, 0.0, "cannot_tell"),
        (0.80, 0.0, "does_not_hold")],
)  # fmt: skip
def test_the_rule(coverage, bias, verdict):
    own = OWN.assign(coverage=[0.95, coverage], bias=[0.0, -bias])
    assert judged(own, own, FINE) == verdict


@pytest.mark.parametrize(
    ("at_limits", "important", "verdict"),
    [
        (0.95, {}, "holds"), (0.91, {}, "holds"), (0.80, {}, "cannot_tell"),
        (0.95, {"seen": 0.7}, "cannot_tell"), (0.95, {"bias": -0.22}, "cannot_tell"),
        (0.95, {"bias": -0.209}, "holds"),
        (0.95, {"bias": -0.3, "truth": -2.0}, "holds")],
)  # fmt: skip
def test_what_ratings_allow_and_what_matters_can_keep_it_from_holding(at_limits, important, verdict):
    limits = OWN.assign(coverage=[0.95, at_limits])
    assert judged(OWN, limits, pd.Series(FINE.to_dict() | important)) == verdict
