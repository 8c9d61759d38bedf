"""Single cases that the definitions decide."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from panel_caseloads import NAN, caseload_of

from lagwise.core.errors import PanelError
from lagwise.core.study import Clock, LoadPlan, PainPlan, Study
from lagwise.panel import build_panel, rebuild

STUDY = Study("cases")


def session(day, sets, person="P", **more):
    return {"person": person, "date": day, "sets": sets, **more}


def checkin(day, pain, person="P", **more):
    return {"person": person, "date": day, "pain": pain, **more}


def week(day, **more):
    return {"person": "P", "week": day, **more}


def weekly(sets, start="2024-01-01"):
    days = pd.date_range(start, periods=len(sets), freq="7D")
    return [session(d, float(s)) for d, s in zip(days, sets, strict=True) if s is not None]


def test_silence_is_rest_only_where_someone_checked_in_and_the_study_says_so():
    rows = weekly([10, None, None, 10]), [checkin("2024-01-10", 3)]
    for word, state, load in (("unknown", "unknown", NAN), ("rest", "rest", 0.0)):
        panel = build_panel(caseload_of(replace(STUDY, load=LoadPlan(no_sessions_means=word)), *rows))
        assert panel.frame["state"].tolist() == ["trained", state, "unknown", "trained"]
        np.testing.assert_equal(panel.frame["load"].iloc[1], load)
        assert panel.states["would_change_under_other_reading"] == 1
        assert sum(panel.states[s] for s in ("trained", "rest", "unknown")) == 4


def test_an_exercise_with_nothing_beside_it_leaves_the_load_open():
    rows = [session("2024-01-01", 3.0, exercise="row"), session("2024-01-01", NAN, exercise="press")]
    assert math.isnan(build_panel(caseload_of(STUDY, rows)).frame["load"].iloc[0])
    assert build_panel(caseload_of(STUDY, rows[1:])).frame["state"].tolist() == ["unknown"]


def test_groups_split_the_load_and_an_unnamed_exercise_leaves_them_open():
    study = replace(STUDY, groups={"arm": ("Row", "curl"), "leg": ("lunge",)})
    rows = [session("2024-01-01", 3.0, exercise=" row"), session("2024-01-02", 2.0, exercise="lunge"),
            session("2024-01-08", 4.0, exercise="lunge"), session("2024-01-15", 4.0, exercise=None),
            session("2024-01-22", 0.0, exercise=None)]  # fmt: skip
    blocks = build_panel(caseload_of(study, rows)).blocks
    np.testing.assert_equal(blocks["load_sets__arm"].to_numpy(), [3, 0, NAN, 0])
    np.testing.assert_equal(blocks["load_sets__leg"].to_numpy(), [2, 4, NAN, 0])


@pytest.mark.parametrize(("rated", "expected"), [("end", [NAN, 3, NAN, 5]), ("start", [3, NAN, 5, 4])])
def test_weeks_give_the_pain_before_by_when_it_was_rated(rated, expected):
    study = replace(STUDY, pain=PainPlan(rated=rated))
    rows = [week("2024-01-03", pain=3.0, load=10.0), week("2024-01-18", pain=5.0, load=NAN, trained="trained"),
            week("2024-01-22", pain=4.0, load=0.0)]  # fmt: skip
    panel = build_panel(caseload_of(study, weeks=rows))
    np.testing.assert_equal(panel.frame["pain_before"].to_numpy(), expected)
    assert panel.frame["state"].tolist() == ["trained", "unknown", "trained", "rest"]
    np.testing.assert_equal(panel.frame["load"].to_numpy(), [10, NAN, NAN, 0])
    assert panel.states["would_change_under_other_reading"] == 0
    other = rebuild(panel, replace(study, pain=PainPlan(rated="start" if rated == "end" else "end")))
    assert not other.frame["pain_before"].equals(panel.frame["pain_before"])


def test_the_word_of_the_weeks_table_decides_the_state():
    rows = [week("2024-01-01", load=8.0, trained="unknown"), week("2024-01-08", load=NAN, trained="rest"),
            week("2024-01-15", load=8.0, trained=None)]  # fmt: skip
    frame = build_panel(caseload_of(STUDY, weeks=rows)).frame
    assert frame["state"].tolist() == ["unknown", "rest", "trained"]
    np.testing.assert_equal(frame["load"].to_numpy(), [NAN, 0, 8])


def test_check_ins_alone_leave_the_load_side_missing():
    study = replace(STUDY, load=LoadPlan(no_sessions_means="rest"))
    panel = build_panel(caseload_of(study, [], [checkin("2024-01-01", 3.0), checkin("2024-01-08", 4.0)]))
    assert (
        panel.frame[["load", "usual", "jump", "log_usual", "rested", "restarted", "effort"]]
        .isna()
        .all(axis=None)
    )
    assert panel.frame["pain_next"].iloc[0] == 4
    assert panel.states["unknown"] == 2


def test_one_row_is_a_panel():
    for caseload in (caseload_of(STUDY, [session("2024-01-01", 3.0)]), caseload_of(STUDY, [], [checkin("2024-01-01", NAN)]),
                     caseload_of(STUDY, weeks=[week("2024-01-01", load=3.0)])):  # fmt: skip
        panel = build_panel(caseload)
        assert len(panel.frame) == 1
        assert panel.coverage()["steps"].tolist() == [1]


def test_nothing_usable_is_an_error():
    with pytest.raises(PanelError, match="no person has a row"):
        build_panel(caseload_of(STUDY))


def test_weeks_beside_check_ins_are_refused():
    with pytest.raises(PanelError, match="told twice"):
        build_panel(caseload_of(STUDY, [], [checkin("2024-01-01", 3.0)], [week("2024-01-01", load=3.0)]))


@pytest.mark.parametrize(
    ("study", "what"),
    [
        (replace(STUDY, clock=Clock(14)), "clock"),
        (replace(STUDY, load=LoadPlan(hard_effort=7)), "hard_effort"),
        (replace(STUDY, load=LoadPlan(near_failure_effort=8)), "near_failure_effort"),
        (replace(STUDY, groups={"arm": ("row",)}), "exercise groups"),
    ],
)
def test_what_needs_the_tables_is_not_rebuilt(study, what):
    panel = build_panel(caseload_of(STUDY, weekly([10, 12])))
    with pytest.raises(PanelError, match=what):
        rebuild(panel, study)


def test_weekly_totals_have_one_measure():
    panel = build_panel(caseload_of(STUDY, weeks=[week("2024-01-01", load=3.0)]))
    with pytest.raises(PanelError, match="tonnage cannot be made"):
        rebuild(panel, replace(STUDY, load=LoadPlan("tonnage")))
