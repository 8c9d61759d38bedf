from __future__ import annotations

import numpy as np
import pytest
from challenge_panels import clinic, laid, no_effect, one, simple, value

from lagwise.challenges.context import Context
from lagwise.challenges.estimate import answer, variants
from lagwise.challenges.leave_one_person_out import without_each
from lagwise.core.results import Panel


def test_nobody_carries_the_clinic_or_its_null():
    for made in (clinic(), no_effect()):
        found = one("leave_one_person_out", made)
        assert found.verdict == "holds"
        assert value(found, "people whose leaving changes the reading") == 0


@pytest.mark.parametrize("sign", [1, -1])
def test_one_person_who_carries_all_is_named(sign):
    """Everybody else's load hardly moves, so that only the first person speaks about it."""
    made = simple(people=12, steps=26)
    rng = np.random.default_rng(1)
    load = 30 * np.exp(rng.normal(0, 0.03, made["load"].shape))
    load[0] = 30 * np.exp(rng.normal(0, 0.5, load.shape[1]))
    pain = np.clip(made["pain"] + sign * 1.2 * np.column_stack([np.zeros(12), np.log(load[:, :-1] / 30)]), 0, 10)
    found = one("leave_one_person_out", laid(pain, load, stress=made["stress"]))
    assert found.verdict == "does_not_hold"
    assert "P000" not in found.sentence
    assert value(found, "people whose leaving changes the reading") == 1


def test_estimates_are_those_of_the_panel_without_the_person():
    panel, fit = clinic()
    context = Context(panel, fit)
    p = context.primary
    found = without_each(variants(context.design, p.column, p.size))
    frame = panel.frame[panel.frame["person"] != found.loc[3, "person"]]
    again = answer(context.adjusted(Panel(frame, panel.study)), p.column, p.size)
    assert found.loc[3, "estimate"] == pytest.approx(again.estimate, abs=2e-3)
    assert len(found) == 40


def test_five_people_are_enough():
    made = simple(people=5, steps=20)
    found = one("leave_one_person_out", laid(made["pain"], made["load"], stress=made["stress"]))
    assert not found.problem
    assert len(found.picture.data) == 6
