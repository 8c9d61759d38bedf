"""The fast way over many caseloads gives what the slow way gives: one by one through the full model, and from tables of rows."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import lagwise as lw
from lagwise.challenges.estimate import answer
from lagwise.core.results import Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.models import fit_flares
from lagwise.models.design import design
from lagwise.models.ladder import climb
from lagwise.models.rows import limits
from lagwise.panel import panel_from_blocks
from lagwise.planning import Assumptions
from lagwise.planning.assumptions import process_of
from lagwise.planning.simulate import Task, panel_of_many, simulate
from lagwise.synthetic import simulate as simulate_tables

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


def test_a_cell_agrees_with_an_independent_slow_simulation():
    """Tables of sessions and check-ins, panel, full mixed fit; nothing of planning but the process. 12 people, 12 weeks, truth 0.5 and its null twin.

    Load is asked about alone: the tables leave single cells of effort and stress blank, and planning loses whole weeks only.
    """
    study = replace(STUDY, analysis=AnalysisPlan(exposures=("jump",)))
    assumptions = Assumptions(missing_weeks=0.0)
    spec = process_of(assumptions, study, 12, 12, 0.5)
    rows = []
    for seed in range(14):
        panel = lw.build_panel(simulate_tables(spec, 1000 + seed, study=study))
        rung = climb(design(panel), "jump")
        estimate, std_error, df = rung.contrast("jump", np.log(1.5))
        low, high = limits(estimate, std_error, df)
        rows.append((estimate, high - low, panel.frame["flare_next"].sum(), rung.design.n_steps))
    slow = pd.DataFrame(rows, columns=["estimate", "width", "onsets", "n_steps"])
    fast, null = (
        simulate(study, assumptions, Task(12, 12, e, 200, np.random.SeedSequence(3))) for e in (0.5, 0.0)
    )
    fast["width"] = fast["high"] - fast["low"]
    for column in slow:
        error = np.hypot(slow[column].std() / np.sqrt(len(slow)), fast[column].std() / np.sqrt(len(fast)))
        assert abs(slow[column].mean() - fast[column].mean()) < 3.5 * error, column
    assert slow["estimate"].mean() - null["estimate"].mean() > 0.3
    assert abs(null["estimate"].mean()) < 0.06


def test_fewer_than_five_people_give_no_interval():
    fast = simulate(STUDY, Assumptions(), Task(4, 20, 0.5, 10, np.random.SeedSequence(1)))
    assert fast["estimate"].isna().all()
    assert set(fast["gate"]) == {"describe"}
    assert fast["n_steps"].gt(0).all()


def test_weeks_too_few_for_a_usual_load_give_no_interval():
    fast = simulate(STUDY, Assumptions(), Task(20, 3, 0.5, 10, np.random.SeedSequence(1)))
    assert fast["estimate"].isna().all()
    assert fast[["n_people", "n_steps", "onsets"]].eq(0).all(axis=None)
