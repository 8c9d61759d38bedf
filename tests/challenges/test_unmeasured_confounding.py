import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from challenge_panels import PLAN, laid, one, simple, value
from proof_caseloads import beside_stress

from lagwise.challenges.estimate import Answer
from lagwise.challenges.unmeasured_confounding import TIMES, Strength, e_value, robustness, shifts, tipping
from lagwise.core.errors import ModelError
from lagwise.core.study import AnalysisPlan
from lagwise.models.design import design_from
from lagwise.say.phrases import fixed


def test_a_weak_result_beside_strong_stress_does_not_hold_on_the_other_side():
    found = one("unmeasured_confounding", beside_stress(0.6, -0.4))
    assert found.verdict == "does_not_hold"
    assert value(found, "E-value of the limit nearer 0") < value(found, "E-value of the estimate")
    shifts_found = found.numbers[found.numbers["key"].str.startswith("shift_")].set_index("key")["value"]
    assert shifts_found.idxmax() == "shift_yardstick"


def test_an_interval_with_0_shows_nothing_to_account_for():
    """However little moves it away from 0: what was never shown is not broken, it may have been hidden."""
    found = one("unmeasured_confounding", beside_stress(0.6, 0.15))
    assert found.numbers.set_index("quantity")["value"].filter(like="strength next to").iloc[0] <= 0.5
    assert value(found, "E-value of the limit nearer 0") == 1
    assert found.verdict == "cannot_tell"
    assert "no difference was shown" in found.sentence and "could have hidden one" in found.sentence
    assert "would be enough." not in found.sentence.partition("The E-value")[2]


def test_a_yardstick_tied_to_nothing_cannot_tell():
    """Stress moves neither load nor pain: a strong result beside it must not count as a strong result beside a strong cause."""
    made = simple(people=40, steps=26, effect=1.2)
    found = one("unmeasured_confounding", laid(made["pain"], made["load"], stress=made["stress"]))
    assert value(found, "shift by a cause as strong as stress") < 0.25 * found.numbers["value"].iloc[0]
    assert found.verdict == "cannot_tell"
    assert "no yardstick" in found.sentence
    assert "could move the estimate by less than 0.01 points either way" in found.sentence


def test_robustness_value_of_the_published_example():
    """Cinelli & Hazlett 2020, table 1: t = 4.18 on 783 df has a robustness value of 13.9 %, to bring the estimate itself to 0."""
    at_zero = Answer(0.097, 0.097 / 4.184, 783, 0.097, 0.3, 500, 1276)
    assert robustness(at_zero, 783) == pytest.approx(0.139, abs=0.001)


def test_e_value_of_the_published_example():
    """VanderWeele & Ding 2017: a risk ratio of 3.9 has an E-value of 7.26."""
    assert e_value(math.log(3.9) / 0.91) == pytest.approx(7.26, abs=0.005)
    assert e_value(-math.log(3.9) / 0.91) == pytest.approx(7.26, abs=0.005)
    assert e_value(0.0) == 1.0


def test_shift_is_what_leaving_out_such_a_cause_does():
    """A cause drawn to be a twin of stress, independent of it: leaving it out moves the estimate by about the shift at strength 1."""
    rng = np.random.default_rng(1)
    n, people = 20000, 20
    stress, twin = rng.normal(size=(2, n))
    exposure = 0.5 * stress + 0.5 * twin + rng.normal(size=n)
    y = exposure + 0.8 * stress + 0.8 * twin + rng.normal(size=n)
    frame = pd.DataFrame(
        {"person": np.repeat([f"P{i:02d}" for i in range(people)], n // people), "step": np.tile(np.arange(n // people), people),
         "jump": exposure, "stress_within": stress, "twin": twin, "pain_next": y}
    )  # fmt: skip
    long = design_from(frame, ("jump", "stress_within", "twin"), outcome="pain_next")
    short = design_from(frame, ("jump", "stress_within"), outcome="pain_next")

    def coefficient(d):
        return np.linalg.lstsq(d.X, d.y, rcond=None)[0][1]

    rest = short.y - short.X @ np.linalg.lstsq(short.X, short.y, rcond=None)[0]
    error = math.sqrt(rest @ rest / (n - 3) * np.linalg.inv(short.X.T @ short.X)[1, 1])
    bound = np.interp(1.0, TIMES, shifts(short, "jump", "stress_within", error).shift)
    moved = coefficient(short) - coefficient(long)
    assert moved == pytest.approx(bound, rel=0.25)
    assert moved <= bound * 1.02


def test_no_yardstick_says_why():
    made = simple()
    plan = replace(PLAN, analysis=AnalysisPlan(exposures=("jump",)))
    assert (
        "no other exposure" in one("unmeasured_confounding", laid(made["pain"], made["load"], plan)).problem
    )


def test_tipping_is_the_first_strength_that_changes_the_side():
    strength = Strength(np.array([0.0, 1.0, 2.0]), np.array([0.0, 0.1, 0.3]))
    assert tipping(strength, 0.2, 0.4) == 2.0
    assert tipping(strength, -0.4, -0.05) == 1.0
    assert tipping(strength, -0.25, 0.5) == 2.0
    assert math.isinf(tipping(strength, 0.5, 1.0))


def with_effort(effort_of_load: float):
    """Effort that is the load but for noise: no cause can be as strong as it on load."""
    made = simple(people=20, steps=26, effect=0.5)
    load = made["load"]
    noise = np.random.default_rng(3).normal(0, 0.1, load.shape)
    effort = 6 + effort_of_load * (np.log(load) - np.log(load).mean(axis=1, keepdims=True)) + noise
    plan = replace(PLAN, analysis=replace(PLAN.analysis, exposures=("jump", "effort", "stress")))
    return laid(made["pain"], load, plan, stress=made["stress"], effort=effort)


def test_an_exposure_that_is_nearly_the_load_is_no_yardstick_and_is_named():
    found = one("unmeasured_confounding", with_effort(1.0))
    assert (
        " nan " not in found.sentence
        and "No yardstick is effort" in found.sentence
        and "measured stress" in found.sentence
    )
    shifts_of = found.numbers[found.numbers["quantity"].str.startswith("shift by")]
    assert (
        list(shifts_of["quantity"]) == ["shift by a cause as strong as stress"]
        and np.isfinite(shifts_of["value"]).all()
    )


def test_a_figure_that_is_no_number_is_never_printed():
    with pytest.raises(ModelError, match="could not be computed"):
        fixed(float("nan"), 2)
