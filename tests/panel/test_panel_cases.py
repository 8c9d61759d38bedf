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


def test_a_rise_of_half_over_usual():
    frame = build_panel(caseload_of(STUDY, weekly([10, 12, 14, 12, 18]))).frame
    assert frame["usual"].tolist()[-2:] == [12, 12]
    assert frame["jump"].iloc[-1] == pytest.approx(math.log(1.5))
    assert frame["jump"].iloc[:3].isna().all()


def test_rest_and_restart_are_told_by_their_indicators():
    frame = build_panel(caseload_of(STUDY, weekly([0, 0, 0, 9, 0]))).frame
    assert frame["state"].tolist() == ["rest", "rest", "rest", "trained", "rest"]
    assert frame["jump"].tolist() == [0, 0, 0, 0, 0]
    assert frame["restarted"].tolist() == [0, 0, 0, 1, 0]
    assert frame["rested"].tolist() == [1, 1, 1, 0, 1]
    assert frame["log_usual"].iloc[3] == 0


def test_a_week_without_rows_is_unknown_and_never_zero():
    frame = build_panel(caseload_of(STUDY, weekly([10, None, 10, 10, 10]))).frame
    assert frame["state"].tolist() == ["trained", "unknown", "trained", "trained", "trained"]
    assert math.isnan(frame["load"].iloc[1])
    assert frame["usual"].iloc[4] == 10


def test_silence_is_rest_only_where_someone_checked_in_and_the_study_says_so():
    rows = weekly([10, None, None, 10]), [checkin("2024-01-10", 3)]
    for word, state, load in (("unknown", "unknown", NAN), ("rest", "rest", 0.0)):
        panel = build_panel(caseload_of(replace(STUDY, load=LoadPlan(no_sessions_means=word)), *rows))
        assert panel.frame["state"].tolist() == ["trained", state, "unknown", "trained"]
        np.testing.assert_equal(panel.frame["load"].iloc[1], load)
        assert panel.states["would_change_under_other_reading"] == 1
        assert sum(panel.states[s] for s in ("trained", "rest", "unknown")) == 4


def test_one_row_that_lacks_its_number_makes_the_step_s_load_missing():
    rows = [session("2024-01-01", 3.0, reps=5.0), session("2024-01-02", 3.0, reps=NAN)]
    loads = {
        m: build_panel(caseload_of(replace(STUDY, load=LoadPlan(m)), rows)).frame["load"].iloc[0]
        for m in ("sets", "reps")
    }
    assert loads["sets"] == 6
    assert math.isnan(loads["reps"])


def test_an_exercise_with_nothing_beside_it_leaves_the_load_open():
    rows = [session("2024-01-01", 3.0, exercise="row"), session("2024-01-01", NAN, exercise="press")]
    assert math.isnan(build_panel(caseload_of(STUDY, rows)).frame["load"].iloc[0])
    assert build_panel(caseload_of(STUDY, rows[1:])).frame["state"].tolist() == ["unknown"]


def test_zero_sets_with_minutes_is_training():
    frame = build_panel(caseload_of(STUDY, [session("2024-01-01", 0.0, minutes=30.0)])).frame
    assert frame["state"].iloc[0] == "trained"
    assert frame["load"].iloc[0] == 0


def test_groups_split_the_load_and_an_unnamed_exercise_leaves_them_open():
    study = replace(STUDY, groups={"arm": ("Row", "curl"), "leg": ("lunge",)})
    rows = [session("2024-01-01", 3.0, exercise=" row"), session("2024-01-02", 2.0, exercise="lunge"),
            session("2024-01-08", 4.0, exercise="lunge"), session("2024-01-15", 4.0, exercise=None),
            session("2024-01-22", 0.0, exercise=None)]  # fmt: skip
    blocks = build_panel(caseload_of(study, rows)).blocks
    np.testing.assert_equal(blocks["load_sets__arm"].to_numpy(), [3, 0, NAN, 0])
    np.testing.assert_equal(blocks["load_sets__leg"].to_numpy(), [2, 4, NAN, 0])


def test_effort_is_weighted_by_sets_and_reserve_speaks_where_effort_is_silent():
    rows = [session("2024-01-01", 3.0, effort=6.0), session("2024-01-01", 1.0, effort=NAN, reps_in_reserve=0.0),
            session("2024-01-01", 0.0, effort=2.0), session("2024-01-01", 5.0, effort=NAN, reps_in_reserve=NAN)]  # fmt: skip
    frame = build_panel(caseload_of(STUDY, rows)).frame
    assert frame["effort"].iloc[0] == pytest.approx((3 * 6 + 10) / 4)
    assert frame["near_failure_share"].iloc[0] == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("checkin_time", "rating_time", "session_time", "counts"),
    [
        ("morning", None, None, True), ("unknown", None, None, False), ("evening", None, "18:00", False),
        ("unknown", "08:00", "18:00", True), ("unknown", "08:00", None, False),
        ("unknown", "18:00", "18:00", False), ("evening", "19:00", "18:00", False)],
)  # fmt: skip
def test_a_rating_on_the_day_of_the_first_session(checkin_time, rating_time, session_time, counts):
    study = replace(STUDY, clock=Clock(checkin_time=checkin_time))
    rows = (
        [session("2024-01-10", 3.0, time=session_time)],
        [checkin("2024-01-05", 2.0, time=None), checkin("2024-01-10", 6.0, time=rating_time)],
    )  # fmt: skip
    before = build_panel(caseload_of(study, *rows)).frame["pain_before"].iloc[-1]
    assert before == (6 if counts else 2)


def test_a_rating_too_old_says_nothing():
    rows = [session("2024-01-12", 3.0)], [checkin("2024-01-04", 2.0)]
    assert math.isnan(build_panel(caseload_of(STUDY, *rows)).frame["pain_before"].iloc[-1])
    rows = [session("2024-01-11", 3.0)], [checkin("2024-01-04", 2.0)]
    assert build_panel(caseload_of(STUDY, *rows)).frame["pain_before"].iloc[-1] == 2


def test_without_a_session_the_step_s_own_ratings_are_not_before_it():
    study = replace(STUDY, clock=Clock(checkin_time="morning"))
    frame = build_panel(
        caseload_of(study, [], [checkin("2024-01-07", 2.0), checkin("2024-01-08", 7.0)])
    ).frame
    assert frame["pain_before"].iloc[1] == 2


def test_a_flare_of_exactly_the_rise_counts():
    pains = [1, 2, 1, 2, 1, 1.4 + 2, 1]
    days = pd.date_range("2024-01-07", periods=7, freq="7D")
    frame = build_panel(
        caseload_of(STUDY, [], [checkin(d, float(p)) for d, p in zip(days, pains, strict=True)])
    ).frame
    assert frame["usual_pain"].iloc[4] == pytest.approx(1.5)
    assert frame["flare_next"].iloc[4] == 0
    exact = [*pains[:5], 3.5, 1]
    frame = build_panel(
        caseload_of(STUDY, [], [checkin(d, float(p)) for d, p in zip(days, exact, strict=True)])
    ).frame
    assert frame["flare_next"].iloc[4] == 1
    assert frame["at_risk"].iloc[5] == 0
    assert math.isnan(frame["flare_next"].iloc[5])


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


def test_two_weeks_in_one_step_are_added_only_when_both_are_known():
    study = replace(STUDY, clock=Clock(14))
    rows = [week("2024-01-01", load=8.0, effort=6.0), week("2024-01-08", load=0.0), week("2024-01-15", load=8.0),
            week("2024-01-22", load=NAN)]  # fmt: skip
    np.testing.assert_equal(build_panel(caseload_of(study, weeks=rows)).frame["load"].to_numpy(), [8, NAN])


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
