"""The fast way over many caseloads gives what the slow way gives: one by one through the full model, and from tables of rows."""

import numpy as np
import pytest

from lagwise.challenges.estimate import answer
from lagwise.core.results import Panel
from lagwise.core.study import Study
from lagwise.models import fit_flares
from lagwise.models.design import design
from lagwise.panel import panel_from_blocks
from lagwise.planning import Assumptions
from lagwise.planning.simulate import Task, panel_of_many, simulate

STUDY = Study("Planned")


def one_caseload(panel: Panel, at: int, people: int) -> Panel:
    """The people of one caseload as a panel of their own."""
    number = panel.blocks["person"].str[1:].astype(int) // people
    return panel_from_blocks(panel.blocks[number == at].reset_index(drop=True), panel.study)


@pytest.mark.parametrize(("people", "weeks"), [(14, 12), (6, 16)])
def test_each_caseload_is_answered_as_a_report_would(people, weeks):
    """Panels and full fits one by one: the same people, steps, estimate and interval; 6 people within people."""
    task = Task(people, weeks, 0.5, 3, np.random.SeedSequence(11))
    fast, panel = simulate(STUDY, Assumptions(), task), panel_of_many(STUDY, Assumptions(), task)
    for i in range(task.caseloads):
        own = answer(design(one_caseload(panel, i, people)), "jump", np.log(1.5))
        columns = ["estimate", "std_error", "low", "high", "n_people", "n_steps"]
        expected = [getattr(own, name) for name in columns]
        np.testing.assert_allclose(fast.loc[i, columns].astype(float), expected, rtol=1e-5, atol=1e-7)


def test_flare_counts_are_those_of_the_flare_model():
    task = Task(14, 20, 0.5, 3, np.random.SeedSequence(12))
    fast, panel = simulate(STUDY, Assumptions(), task), panel_of_many(STUDY, Assumptions(), task)
    for i in range(task.caseloads):
        own = one_caseload(panel, i, 14)
        counts = fit_flares(own, simulations=0).tables["counts"].set_index("quantity")["value"]
        assert (fast.loc[i, "onsets"], fast.loc[i, "informative"]) == (
            counts["onsets"],
            counts["informative_people"],
        )
        assert fast.loc[i, "flare_model"] == (counts["onsets"] >= 10 and counts["informative_people"] >= 5)


def test_fewer_than_five_people_give_no_interval():
    fast = simulate(STUDY, Assumptions(), Task(4, 20, 0.5, 10, np.random.SeedSequence(1)))
    assert fast["estimate"].isna().all()
    assert set(fast["gate"]) == {"describe"}
    assert fast["n_steps"].gt(0).all()


def test_weeks_too_few_for_a_usual_load_give_no_interval():
    fast = simulate(STUDY, Assumptions(), Task(20, 3, 0.5, 10, np.random.SeedSequence(1)))
    assert fast["estimate"].isna().all()
    assert fast[["n_people", "n_steps", "onsets"]].eq(0).all(axis=None)
