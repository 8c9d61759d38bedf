"""What is lost from a sum makes the sum unknown, never smaller."""

import numpy as np
import pytest
from panel_caseloads import NAN, caseload_of

from lagwise.core.study import Clock, LoadPlan, PainPlan, Study
from lagwise.panel import build_panel

DAYS = ("2024-01-01", "2024-01-02", "2024-01-08")
NEEDS = {
    "sets": {"sets"}, "reps": {"sets", "reps"}, "tonnage": {"sets", "reps", "load_kg"}, "session_rpe": {"effort", "minutes"},
    "hard_sets": {"sets", "effort"}, "near_failure_sets": {"sets", "effort"},
}  # fmt: skip


def whole(day=DAYS[0], **more):
    return {
        "person": "P", "date": day, "sets": 3.0, "reps": 8.0, "load_kg": 40.0, "effort": 9.0, "minutes": 30.0,
        **more,
    }  # fmt: skip


def gone(row, day, column="", table="sessions", person="P"):
    return {"table": table, "row": row, "person": person, "date": day, "column": column}


def panel_of(sessions=(), checkins=(), weeks=(), lost=(), study=None):
    return build_panel(caseload_of(study or Study("lost"), sessions, checkins, weeks, lost)).frame


@pytest.mark.parametrize("measure", NEEDS)
@pytest.mark.parametrize("aside", [True, False], ids=["set aside", "not recorded"])
def test_a_cell_that_the_measure_needs(measure, aside):
    """Of each person another cell is lost, of the first none."""
    names = ["", "sets", "reps", "load_kg", "effort", "minutes"]
    rows = [
        whole(day, person=f"P {name}", **({name: NAN} if name and day == DAYS[1] else {}))
        for name in names
        for day in DAYS
    ]
    lost = [
        gone(3 + 3 * i, DAYS[1], name, person=f"P {name}") for i, name in enumerate(names) if name and aside
    ]
    frame = panel_of(rows, lost=lost, study=Study("lost", load=LoadPlan(measure)))
    assert (frame["state"] == "trained").all()
    full = frame.loc[frame["person"] == "P ", "load"].tolist()
    for name in names:
        own, needed = frame[frame["person"] == f"P {name}"], name in NEEDS[measure]
        assert own["partly_recorded"].tolist() == [int(needed), 0], name
        np.testing.assert_equal(own["load"].tolist(), [NAN if needed else full[0], full[1]], name)


def test_a_whole_row_that_was_set_aside():
    rows = [whole(), {"person": "P", "date": DAYS[2], "sets": 0.0}]
    for lost, state in ((gone(9, DAYS[1]), "trained"), (gone(9, "2024-01-09"), "rest")):
        frame = panel_of(rows, [{"person": "P", "date": "2024-01-16", "pain": 3.0}], lost=[lost])
        at = 0 if state == "trained" else 1
        assert frame["state"].tolist() == ["trained", "rest" if at == 0 else "trained", "unknown"]
        assert frame["partly_recorded"].tolist() == [1 - at, at, 0]
        assert np.isnan(frame["load"][at])
        assert frame["n_sessions"][at] == 2


def test_a_step_whose_only_session_row_was_set_aside_is_never_read_as_rest():
    study = Study("lost", load=LoadPlan(no_sessions_means="rest"))
    rated = [{"person": "P", "date": d, "pain": 3.0} for d in ("2024-01-03", "2024-01-10", "2024-01-17")]
    frame = panel_of([whole()], rated, lost=[gone(9, "2024-01-09")], study=study)
    assert frame["state"].tolist() == ["trained", "trained", "rest"]
    np.testing.assert_equal(frame["load"].to_numpy(), [3, NAN, 0])


def test_usual_load_takes_such_a_step_as_unknown():
    days = ["2024-01-01", "2024-01-08", "2024-01-15", "2024-01-22", "2024-01-29"]
    rows = [whole(d, sets=s) for d, s in zip(days, (4.0, 4.0, NAN, 4.0, 4.0), strict=True)]
    frame = panel_of([*rows, whole(days[2], sets=1.0)], lost=[gone(4, days[2], "sets")])
    assert frame["usual"].iloc[-1] == 4
    assert frame["partly_recorded"].tolist() == [0, 0, 1, 0, 0]
    assert frame["jump"].iloc[-1] == 0


def test_what_cannot_be_placed_touches_no_step():
    lost = [
        gone(9, None),
        gone(10, DAYS[1], person=None),
        gone(11, DAYS[1], person="other"),
        gone(12, DAYS[1], table="events"),
    ]
    frame = panel_of([whole()], lost=lost)
    assert frame[["person", "load", "partly_recorded"]].to_numpy().tolist() == [["P", 3, 0]]


ROWS = (
    ({"sets": 0.0}, "rest"), ({"minutes": 0.0}, "rest"), ({"effort": 0.0}, "rest"),
    ({"effort": 0.0, "minutes": 0.0}, "rest"), ({"sets": 0.0, "effort": 0.0, "minutes": 0.0}, "rest"),
    ({"sets": 0.0, "minutes": 20.0}, "trained"), ({"effort": 0.0, "minutes": 20.0}, "trained"),
    ({"effort": 7.0}, "trained"), ({"effort": 0.0, "reps_in_reserve": 10.0}, "trained"),
    ({"reps": 8.0}, "trained"), ({"exercise": "row"}, "unknown"),
)  # fmt: skip


@pytest.mark.parametrize("measure", ["sets", "session_rpe"])
def test_a_recorded_nothing_is_rest_and_any_record_is_training(measure):
    rows = [{"person": f"{i:02d}", "date": DAYS[0], **row} for i, (row, _) in enumerate(ROWS)]
    frame = panel_of(rows, study=Study("lost", load=LoadPlan(measure)))
    assert frame["state"].tolist() == [state for _, state in ROWS]
    assert (frame.loc[frame["state"] == "rest", "load"] == 0).all()
    partly = frame["state"].eq("trained") & frame["load"].isna()
    assert frame["partly_recorded"].tolist() == partly.astype(int).tolist()


def test_a_cell_that_was_set_aside_beside_a_recorded_nothing():
    rows = [{"person": "P", "date": DAYS[0], "effort": 0.0}, {"person": "P", "date": DAYS[2], "effort": 0.0}]
    frame = panel_of(
        rows, lost=[gone(2, DAYS[0], "minutes")], study=Study("lost", load=LoadPlan("session_rpe"))
    )
    assert frame["state"].tolist() == ["trained", "rest"]
    assert frame["partly_recorded"].tolist() == [1, 0]


def test_a_form_with_a_column_per_day_loses_only_that_day():
    rows = [whole("2024-01-01"), whole("2024-01-08", sets=NAN), whole("2024-01-15")]
    caseload = caseload_of(Study("lost"), rows, lost=[gone(2, "2024-01-08", "sets")])
    caseload.sessions["row"] = 2
    assert build_panel(caseload).frame["partly_recorded"].tolist() == [0, 1, 0]


@pytest.mark.parametrize(("summary", "known"), [("mean", 4), ("worst", NAN), ("last", NAN)])
def test_a_lost_rating_leaves_the_worst_and_the_last_open(summary, known):
    study = Study("lost", pain=PainPlan(summary))
    rated = [
        {"person": "P", "date": d, "pain": 4.0, "flare": f}
        for d, f in (("2024-01-02", 0.0), ("2024-01-09", 1.0))
    ]
    lost = [gone(9, d, "", "checkins") for d in ("2024-01-03", "2024-01-10")]
    frame = panel_of([], rated, lost=lost, study=study)
    np.testing.assert_equal(frame["pain"].to_numpy(), [known, known])
    np.testing.assert_equal(frame["flare_reported"].to_numpy(), [NAN, 1])
    early = panel_of([], rated, lost=[gone(9, "2024-01-01", "pain", "checkins")], study=study)
    assert np.isnan(early["pain"][0]) == (summary == "worst")
    assert early["flare_reported"][0] == 0


def week(day, **more):
    return {"person": "P", "week": day, **more}


def test_weeks_lose_their_load_and_not_their_state():
    weeks = [week("2024-01-01", load=9.0), week("2024-01-08", load=NAN), week("2024-01-15", load=NAN, trained="trained"),
             week("2024-01-22", load=NAN), week("2024-01-29", load=4.0)]  # fmt: skip
    lost = [gone(3, "2024-01-08", "load", "weeks"), gone(9, "2024-01-29", "", "weeks")]
    frame = panel_of(weeks=weeks, lost=lost)
    assert frame["state"].tolist() == ["trained", "trained", "trained", "unknown", "trained"]
    assert frame["partly_recorded"].tolist() == [0, 1, 1, 0, 1]
    np.testing.assert_equal(frame["load"].to_numpy(), [9, NAN, NAN, NAN, NAN])


def test_a_step_of_two_weeks_needs_both():
    days = ["2024-01-01", "2024-01-08", "2024-01-15", "2024-01-22", "2024-01-29", "2024-02-05", "2024-02-12"]
    weeks = [week(d, load=v) for d, v in zip(days, (8.0, 2.0, 0.0, NAN, 0.0, 0.0, 7.0), strict=True)]
    frame = panel_of(weeks=weeks, study=Study("lost", clock=Clock(14)))
    assert frame["state"].tolist() == ["trained", "unknown", "rest", "trained"]
    np.testing.assert_equal(frame["load"].to_numpy(), [10, NAN, 0, NAN])
    assert frame["partly_recorded"].tolist() == [0, 0, 0, 1]
