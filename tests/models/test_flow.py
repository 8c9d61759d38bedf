"""From recorded to analysed: what is set aside and what is left add up, whatever is missing."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lagwise.core.results import Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.findings import plain
from lagwise.models import fit_mixed
from lagwise.models.flow import flow_table
from lagwise.synthetic import CLINIC, simulate_panel
from lagwise.writeup.share_pictured import pictured
from lagwise.writeup.share_tables import Size

PLAN = Study("Gaps", analysis=AnalysisPlan(exposures=("jump", "stress", "worry")))
HOLES = ("pain", "pain_next", "jump", "stress_within", "load")


@cache
def whole() -> Panel:
    return simulate_panel(replace(CLINIC, n_people=11, n_steps=14), np.random.default_rng(2), study=PLAN)


def with_holes(holes: list[tuple[str, int, int]]) -> Panel:
    """The panel without these columns over stretches of rows."""
    frame = whole().frame.copy()
    for column, start, length in holes:
        frame.loc[frame.index[start : start + length], column] = np.nan
    return replace(whole(), frame=frame)


hole = st.tuples(st.sampled_from(HOLES), st.integers(0, 150), st.integers(1, 60))


@settings(max_examples=40, deadline=None)
@given(st.lists(hole, max_size=5))
def test_what_is_set_aside_and_what_is_left_add_up(holes):
    panel = with_holes(holes)
    flow = flow_table(panel, [])
    assert flow["reason"][0] == "recorded" and flow["left_steps"][0] == len(panel.frame)
    assert (flow["left_steps"].shift(1) - flow["n_steps"])[1:].tolist() == flow["left_steps"][1:].tolist()
    assert (flow["n_people"][1:] >= 1).all() and flow["left_people"].is_monotonic_decreasing
    told = pictured({"flow": plain.table(flow)}, Size(11, 14, 0.5))["flow"].records()
    for before, after in itertools.pairwise(told):
        assert before["left_steps"] - after["n_steps"] == after["left_steps"] >= 0 < after["n_steps"]
    assert all(r["n_people"] is None or r["n_people"] % 5 == 0 for r in told)


def test_the_end_is_what_the_model_took():
    panel = with_holes([("stress_within", 3, 40), ("jump", 70, 9)])
    fit = fit_mixed(panel)
    end = flow_table(panel, [fit]).iloc[-1]
    assert (end["left_steps"], end["left_people"]) == (fit.n_steps, fit.n_people)


def test_each_step_counts_at_the_first_reason_that_holds():
    flow = flow_table(with_holes([("pain_next", 0, 500), ("load", 0, 500)]), []).set_index("reason")
    people = whole().frame["person"].nunique()
    assert flow["n_steps"].to_dict() == {
        "recorded": 0, "last": people, "outcome": len(whole().frame) - people,
    }  # fmt: skip
