"""Simulated records under moved settings: what moves the estimate, what only its interval, and the kept grid."""

import numpy as np
import pandas as pd
import pytest

import lagwise as lw
from lagwise.core.errors import LagwiseError
from lagwise.pages.what_if_grid import read_grid
from lagwise.planning.assumptions import Assumptions, process_of
from lagwise.planning.what_if import KEPT, RANGES, STUDY, Settings, cell, cells, like, what_if


@pytest.fixture(scope="module")
def grid():
    return read_grid()


def test_the_kept_grid_is_what_the_simulation_gives(grid):
    assert list(zip(grid["moved"], [Settings(**r) for r in grid[list(RANGES)].to_dict("records")], strict=True)) == cells()  # fmt: skip
    for at in (3, len(grid) - 4):
        row = grid.iloc[at]
        found = cell(cells()[at][1], caseloads=int(row["caseloads"]))
        assert [found[k] for k in KEPT] == pytest.approx(list(row[list(KEPT)]), abs=0.0011)


def test_the_grid_tells_the_three_things_that_the_notebook_asks_for(grid):
    by = {
        moved: own.set_index(moved if moved != "together" else "weeks")
        for moved, own in grid.groupby("moved")
    }
    wrong = by["together"]
    assert (np.diff(wrong["width"]) < 0).all()
    assert (wrong["mean"] < -0.1).all()
    assert (np.diff(wrong["coverage"]) < 0).all()
    null = pd.concat([by[k] for k in ("people", "weeks", "missing_weeks", "rating_error")])
    assert (abs(null["p_excludes_zero"] - 0.05) < 3 * null["p_excludes_zero_error"]).all()
    gaps = by["missing_weeks"]["person_weeks"]
    assert gaps[0.0] - gaps[0.15] > 1.5 * 0.15 * 20 * 26
    hidden = by["unrecorded"]["mean"]
    assert hidden[-0.4] < -0.1 < 0.1 < hidden[0.4]


def test_what_nobody_writes_down_raises_load_and_is_in_no_column():
    spec = process_of(Assumptions(unrecorded=0.4), STUDY, 20, 26, 0.0)
    one = spec.stress_sd / np.sqrt(1 - spec.stress_memory**2)
    assert spec.of_stress * one == pytest.approx(0.4)
    assert np.exp(-spec.stress_cut * one) == pytest.approx(1.2)
    with pytest.raises(LagwiseError, match=r"^unrecorded: what nobody writes down is simulated as stress"):
        process_of(Assumptions(unrecorded=0.4), lw.Study("Asks about stress"), 20, 26, 0.0)


def test_a_record_is_the_first_of_those_drawn_and_a_seed_gives_it_again():
    found = what_if(Settings(people=8, weeks=14, difference=0.5), seed=3, records=12)
    assert len(found.records) == 12
    assert (found.estimate, found.low, found.high) == tuple(
        found.records.iloc[0][["estimate", "low", "high"]]
    )
    fit = lw.fit_mixed(found.panel)
    assert fit.primary()["estimate"].item() == pytest.approx(found.estimate)
    assert (fit.n_people, fit.n_steps) == (found.people, found.steps)
    again = what_if(Settings(people=8, weeks=14, difference=0.5), seed=3, records=12)
    pd.testing.assert_frame_equal(again.records, found.records)


def test_settings_begin_at_a_record_and_keep_to_their_ranges():
    panel = what_if(Settings(people=9, weeks=18, missing_weeks=0.3)).panel
    near = like(panel)
    assert (near.people, near.weeks) == (9, 18)
    assert near.missing_weeks == pytest.approx(0.3, abs=0.15)
    assert Settings().moved(weeks=900, rating_error=0.44) == Settings(weeks=104, rating_error=0.4)
    with pytest.raises(LagwiseError, match=r"there is no setting colour\. Use people, weeks"):
        Settings().moved(colour=1)
    with pytest.raises(LagwiseError, match=r"^people: 2 is no legal value"):
        Settings(people=2)
