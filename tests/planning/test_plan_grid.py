"""The grid: definitions of its chances, its null twin, its seeds and its refusals."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial

import numpy as np
import pandas as pd
import pytest

import lagwise as lw
from lagwise.challenges.work import map_tasks
from lagwise.core.errors import LagwiseError
from lagwise.core.study import AnalysisPlan, Study
from lagwise.planning import Assumptions, plan
from lagwise.planning.grid import tasks_of
from lagwise.planning.simulate import simulate
from lagwise.planning.summary import OUTCOMES, summary


def caseloads(*intervals: tuple[float, float]) -> pd.DataFrame:
    """Invented answers of caseloads: (low, high), NaN for none."""
    low, high = np.array(intervals, dtype=float).T
    return pd.DataFrame(
        {"estimate": (low + high) / 2, "low": low, "high": high, "onsets": range(len(low)), "n_people": 12, "n_steps": 100,
         "flare_people": 2, "gate": ["small"] * (len(low) - 1) + ["exploratory"], "flare_model": False}
    )  # fmt: skip


def test_chances_are_what_their_definition_says():
    none = (np.nan, np.nan)
    found = caseloads(
        (0.6, 1.0), (-2.0, -0.51), (0.5, 0.9), (0.1, 0.7), (0.1, 0.5), (-0.5, 0.5), (-0.2, 0.7), none
    )
    row = summary((12, 12, 0.8), found, 0.5)
    assert [8 * row[name] for name in OUTCOMES] == [2, 2, 2, 1, 1]
    assert row["p_excludes_zero"] == 5 / 8
    assert row["coverage"] == 2 / 7
    assert row["fitted"] == 7
    assert row["width"] == pytest.approx(0.6)
    assert row["bias"] == pytest.approx(np.nanmean(found["estimate"]) - 0.8)
    assert (row["gate"], row["gate_share"]) == ("small", 7 / 8)
    assert (row["flare_onsets"], row["flare_people"]) == (3.5, 2)


def test_errors_are_those_of_a_mean_and_of_a_share():
    found = caseloads(*[(0.0, 1.0), (0.2, 1.4)] * 50)
    row = summary((12, 12, 0.5), found, 0.5)
    assert row["bias_error"] == pytest.approx(found["estimate"].std() / 10)
    assert row["p_excludes_zero_error"] == pytest.approx(np.sqrt(0.5 * 0.5 / 104))
    assert row["p_beyond_error"] == pytest.approx(np.sqrt(2 / 104 * 102 / 104 / 104))


def test_a_true_difference_is_found_and_its_null_twin_is_not():
    table = plan(25, 16, (0.0, 1.0), caseloads=120).table.set_index("effect")
    null, real = table.loc[0.0], table.loc[1.0]
    assert abs(null["p_excludes_zero"] - 0.05) < 3.5 * null["p_excludes_zero_error"]
    assert null["p_beyond"] == 0
    assert null["p_within"] > 0.9
    assert abs(null["bias"]) < 0.06
    assert real["p_excludes_zero"] > 0.95
    assert real["p_beyond"] > 0.6
    assert real["p_within"] == 0
    np.testing.assert_allclose(table[list(OUTCOMES)].sum(axis=1), 1)


def test_another_primary_exposure_is_found_too():
    asked = AnalysisPlan(exposures=("stress", "worry"), primary="stress", primary_contrast=2)
    table = plan(20, 16, (0.0, 0.6), study=Study("Stress", analysis=asked), caseloads=50).table.set_index(
        "effect"
    )
    assert table.loc[0.6, "mean"] - table.loc[0.0, "mean"] > 0.3
    assert table.loc[0.6, "p_excludes_zero"] > 0.7
    assert table.loc[0.0, "p_excludes_zero"] < 0.2


def test_a_cell_does_not_depend_on_the_others_nor_on_who_runs_it():
    alone = plan(12, 14, 0.5, caseloads=120, rating_caseloads=0, seed=7).table
    among = plan((4, 12), 14, 0.5, caseloads=120, rating_caseloads=0, seed=7).table
    pd.testing.assert_frame_equal(alone, among[among["people"] == 12].reset_index(drop=True))
    tasks = tasks_of((12, 14, 0.5), 120, 7)
    assert len(tasks) == 2
    with ThreadPoolExecutor(2) as pool:
        parts = map_tasks(partial(simulate, Study("Planning"), Assumptions()), tasks, pool)
    pd.testing.assert_frame_equal(alone, pd.DataFrame([summary((12, 14, 0.5), pd.concat(parts, ignore_index=True), 0.5)]))  # fmt: skip
    other = simulate(Study("Planning"), Assumptions(), tasks_of((12, 14, 0.5), 50, 8)[0])
    assert not np.isin(other["estimate"], parts[0]["estimate"]).any()


def test_the_caller_is_told_how_far_it_is():
    told = []
    plan((3, 4), 12, (0, 0.5), caseloads=50, progress=lambda done, of: told.append((done, of)))
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"people": 0}, "people: 0 people cannot be simulated. Give whole numbers from 1 to 5000."),
        ({"people": 12.5}, "people: 12.5 people cannot be simulated"),
        ({"people": []}, "people: no number is given"),
        ({"weeks": -4}, "weeks: -4 weeks cannot be simulated. Give whole numbers from 2 to 520."),
        ({"weeks": (12, 1)}, "weeks: 1 weeks cannot be simulated"),
        ({"effect": 40}, "effect: a difference of 40 points cannot be simulated. Give points from -5 to 5."),
        ({"effect": float("nan")}, "effect: a difference of nan points cannot be simulated"),
        ({"caseloads": 10}, "caseloads: 10 simulated caseloads per cell. Give a number from 50 to 20000."),
        (
            {"people": (4000, 5000), "weeks": 520},
            "plan: this grid asks for 2340 million simulated person-weeks",
        ),
    ],
)
def test_what_cannot_be_simulated_is_said_in_one_line(given, said):
    with pytest.raises(LagwiseError) as error:
        plan(**{"people": 12, "weeks": 12, "effect": 0.5} | given)
    assert str(error.value).startswith(said)
    assert "\n" not in str(error.value)


def test_a_difference_at_the_edge_of_practically_zero_is_pointed_out():
    found = lw.plan(12, 12, (0.0, 0.5), caseloads=50)
    assert any(
        n.startswith("A true difference of 0.5 lies inside that range or on its edge") for n in found.notes
    )
    wide = replace(found.study, analysis=replace(found.study.analysis, practically_zero=0.2))
    assert not any("lies inside that range" in n for n in replace(found, study=wide).notes)


def test_the_study_s_own_plan_is_used():
    asked = AnalysisPlan(primary_contrast=0.2, practically_zero=0.1)
    study = Study("Own", analysis=asked).with_(also=[{"outcome": "worry", "primary": "jump"}])
    found = lw.plan(12, 12, 0.3, study=study, caseloads=50)
    assert any("not simulated here: worry about the pain in the next week" in n for n in found.notes)
    assert any("trained 20 % above the usual load" in n for n in found.notes)
    assert any("Practically zero is 0.1 points" in n for n in found.notes)
    assert found.table["width"].iloc[0] < plan(12, 12, 0.3, caseloads=50).table["width"].iloc[0]
