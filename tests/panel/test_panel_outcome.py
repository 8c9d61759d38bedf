"""Another outcome than pain: the study's own ratings, their columns, and falls where low is the worse end."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from panel_caseloads import caseload_of

from lagwise.core.errors import PanelError
from lagwise.core.study import Clock, PainPlan, Study
from lagwise.core.terms import panel_columns, panel_units
from lagwise.panel import build_panel, rebuild
from lagwise.say.columns import of_panel

BASE = Study("diary", clock=Clock(1)).with_(ratings={"vigour": {"low": 1, "high": 5, "worse": "low"}})
PLAN = BASE.with_(outcome="vigour")
VIGOUR = [4.0, 5.0, 3.0, 4.0, 3.0, 1.0, np.nan, 4.0]


def caseload(study=PLAN, **more):
    days = pd.date_range("2024-01-01", periods=len(VIGOUR))
    rows = [
        {"person": "P", "date": d, "pain": 2.0, "vigour": v, **more}
        for d, v in zip(days, VIGOUR, strict=True)
    ]
    return caseload_of(study, [{"person": "P", "date": d, "sets": 3.0} for d in days], rows)


def test_the_columns_of_another_outcome_are_those_of_pain_by_its_name():
    frame = build_panel(caseload()).frame
    assert list(frame.columns) == list(panel_columns(PLAN))
    swapped = [
        c.replace("usual_pain", "usual_vigour") for c in panel_columns(BASE) if "pain_before_" not in c
    ]
    for was, now in (("pain_before", "vigour_before"), ("pain_next", "vigour_next")):
        swapped[swapped.index(was)] = now
    assert list(frame.columns) == [*swapped, "vigour_before_within", "vigour_before_between"]
    np.testing.assert_array_equal(frame["vigour"], VIGOUR)
    np.testing.assert_array_equal(frame["vigour_next"], [*VIGOUR[1:], np.nan])
    np.testing.assert_array_equal(
        frame["vigour_before"], [np.nan, *VIGOUR[:-2], np.nan]
    )  # at most a step old
    assert frame["pain"].eq(2).all() and frame["pain_within"].eq(0).all()
    assert frame["vigour_within"].iloc[1] == pytest.approx(5 - np.nanmean(VIGOUR))
    assert (
        set(panel_units(PLAN)) <= set(frame)
        and "<= usual_vigour - flare_rise" in of_panel(PLAN)["flare_next"]
    )


def test_a_flare_up_is_a_fall_where_low_is_the_worse_end():
    plan = PLAN.with_(ratings={"vigour": {"low": 1, "high": 5, "worse": "low", "flare_rise": 2}})
    frame = build_panel(caseload(plan)).frame
    usual = frame["usual_vigour"]
    assert usual.iloc[4] == 4.0
    assert frame["at_risk"].iloc[4] == 1  # 3 lies above 4 - 2
    assert frame["flare_next"].iloc[4] == 1  # then 1
    assert frame["at_risk"].iloc[5] == 0
    turned = plan.with_(ratings={"vigour": {"low": 1, "high": 5, "worse": "neither", "flare_rise": 2}})
    assert build_panel(caseload(turned)).frame["flare_next"].sum() == 0


def test_another_outcome_is_asked_of_the_same_steps_where_they_hold_it():
    panel, again = build_panel(caseload(BASE)), build_panel(caseload(PLAN))
    pd.testing.assert_frame_equal(rebuild(panel, PLAN).frame, again.frame)
    pd.testing.assert_frame_equal(rebuild(again, BASE).frame, panel.frame)
    assert list(again.coverage()) == ["person", "steps", "vigour", "load", "usual", "complete"]
    later = PLAN.with_(ratings={"grip": {"low": 0, "high": 10}}, outcome="grip")
    with pytest.raises(PanelError, match="the panel was built without grip"):
        rebuild(panel, later)
    with pytest.raises(PanelError, match="the panel was built without vigour_before"):
        rebuild(type(panel)(panel.frame, BASE, panel.blocks.drop(columns="vigour_before")), PLAN)


def test_the_worst_pain_is_the_lowest_where_low_is_the_worse_end():
    plan = Study("comfort", pain=PainPlan("worst")).with_(
        ratings={"pain": {"low": 0, "high": 10, "worse": "low"}}
    )
    days = [{"person": "P", "date": pd.Timestamp("2024-01-01"), "pain": v} for v in (3.0, 8.0)]
    assert build_panel(caseload_of(plan, (), days)).frame["pain"].tolist() == [3.0]


def test_a_plan_says_what_it_asks_about():
    assert "asks about vigour on the next day, 1-5, after jump, effort" in repr(PLAN)
    assert "asks about jump, effort" in repr(BASE)
    assert BASE.with_(ratings={"mood": {"low": -3, "high": 3}}, outcome="mood").outcome.span == "−3 to 3"
