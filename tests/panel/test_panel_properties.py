"""What must hold of any panel: order, time's arrow, gaps, names, and the caller's own tables."""

from dataclasses import replace

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st
from panel_caseloads import NAN, STUDIES, caseload_of

from lagwise.core.terms import panel_columns
from lagwise.panel import build_panel, rebuild

PAST_ONLY = [
    "state", "load", "usual", "jump", "rested", "restarted", "effort", "near_failure_share", "stress", "sleep_hours",
    "n_checkins", "n_ratings", "n_sessions", "pain", "pain_before", "usual_pain", "at_risk", "flare_reported",
]  # fmt: skip
FIRST = pd.Timestamp("2024-02-05")
people = st.sampled_from(["P-1", "P-2", "P-3"])
days = st.integers(0, 60)
times = st.sampled_from([None, "06:45", "12:00", "19:30"])


def maybe(values):
    return st.sampled_from([NAN, *values])


@st.composite
def caseloads(draw):
    sessions = draw(
        st.lists(
            st.fixed_dictionaries(
                {"person": people, "date": days.map(lambda d: FIRST + pd.Timedelta(days=d)), "time": times,
                 "exercise": st.just("row"), "sets": maybe([0.0, 1.0, 4.0]), "reps": maybe([5.0, 8.0]),
                 "load_kg": maybe([0.0, 42.5]), "effort": maybe([6.5, 8.0, 9.5]), "reps_in_reserve": maybe([1.0]),
                 "minutes": maybe([0.0, 20.0])}
            ), max_size=14,
        )
    )  # fmt: skip
    checkins = draw(
        st.lists(
            st.fixed_dictionaries(
                {"person": people, "date": days.map(lambda d: FIRST + pd.Timedelta(days=d)), "time": times,
                 "pain": maybe([0.0, 2.0, 3.0, 8.0]), "stress": maybe([1.0, 6.0]), "sleep_hours": maybe([6.5]),
                 "sleep_quality": st.just(NAN), "worry": st.just(NAN), "confidence": st.just(NAN),
                 "flare": maybe([0.0, 1.0])}
            ), min_size=0 if sessions else 1, max_size=30,
        )
    )  # fmt: skip
    return caseload_of(draw(st.sampled_from(STUDIES)), sessions, checkins)


def keyed(frame, columns=None):
    out = frame.set_index(["person", "step_start"])
    return out if columns is None else out[columns]


def no_step_is_invented_and_none_is_skipped(caseload, frame):
    length = pd.Timedelta(days=caseload.study.clock.step_days)
    assert list(frame.columns) == list(panel_columns())
    dates = pd.concat([t[["person", "date"]] for t in (caseload.sessions, caseload.checkins) if len(t)])
    span = dates.groupby("person")["date"].agg(["min", "max"])
    for person, steps in frame.groupby("person"):
        assert steps["step"].tolist() == list(range(len(steps)))
        assert (steps["step_start"].diff().dropna() == length).all()
        assert steps["step_start"].iloc[0] <= span.loc[person, "min"] < steps["step_start"].iloc[0] + length
        assert steps["step_start"].iloc[-1] <= span.loc[person, "max"] < steps["step_start"].iloc[-1] + length
    assert set(frame["person"]) == set(span.index)


@settings(max_examples=15, deadline=None)
@given(caseloads(), st.sampled_from(STUDIES), st.randoms(use_true_random=False))
def test_neither_order_nor_codes_matter_rebuilding_is_building_anew_and_the_caller_s_tables_stay(
    caseload, study, random
):
    codes = {"P-1": "Z-9", "P-2": "A-0", "P-3": "M-5"}

    def mixed(frame):
        order = random.sample(range(len(frame)), len(frame))
        return frame.iloc[order].assign(person=frame["person"].iloc[order].map(codes).astype("str"))

    before = (caseload.sessions.copy(), caseload.checkins.copy())
    panel = build_panel(caseload)
    blocks, was = panel.blocks.copy(), panel.frame.copy()
    own = caseload.study
    hard = {name: getattr(own.load, name) for name in ("hard_effort", "near_failure_effort")}
    plan = replace(study, clock=own.clock, load=replace(study.load, **hard))
    again, anew = rebuild(panel, plan), build_panel(caseload, plan)
    pd.testing.assert_frame_equal(again.frame, anew.frame)
    assert dict(again.states) == dict(anew.states) and again.study == plan
    other = replace(caseload, sessions=mixed(caseload.sessions), checkins=mixed(caseload.checkins))
    now, by = build_panel(other).frame, ["person", "step"]
    was["person"] = was["person"].map(codes)
    one, two = (frame.sort_values(by, ignore_index=True) for frame in (was, now))
    pd.testing.assert_frame_equal(one, two, check_dtype=False)
    pd.testing.assert_frame_equal(before[0], caseload.sessions)
    pd.testing.assert_frame_equal(before[1], caseload.checkins)
    pd.testing.assert_frame_equal(blocks, panel.blocks)


@settings(max_examples=20, deadline=None)
@given(caseloads(), st.integers(5, 55), st.booleans())
def test_the_future_never_leaks_into_the_past(caseload, day, delete):
    cut = FIRST + pd.Timedelta(days=day)

    def later_changed(frame, column):
        if frame.empty:
            return frame
        late = frame["date"] >= cut
        return frame.loc[~late] if delete else frame.assign(**{column: frame[column].mask(late, 9.0)})

    was = build_panel(caseload).frame
    no_step_is_invented_and_none_is_skipped(caseload, was)
    sessions, checkins = later_changed(caseload.sessions, "sets"), later_changed(caseload.checkins, "pain")
    if not len(sessions) + len(checkins):
        return
    now = build_panel(replace(caseload, sessions=sessions, checkins=checkins)).frame
    if caseload.sessions.empty != sessions.empty:
        return
    ended = was["step_start"] + pd.Timedelta(days=caseload.study.clock.step_days) <= cut
    old, new = keyed(was.loc[ended], PAST_ONLY), keyed(now, PAST_ONLY)
    both = old.index.intersection(new.index)
    assert len(both) or old.empty or delete
    pd.testing.assert_frame_equal(old.loc[both], new.loc[both])


@settings(max_examples=15, deadline=None)
@given(caseloads(), st.integers(1, 8))
def test_a_gap_gives_missing_and_never_a_shift(caseload, weeks):
    """Moving a person's later records by whole steps leaves a hole: next values across it must be missing."""
    length = caseload.study.clock.step_days
    if length % 7:
        return
    panel = build_panel(caseload).frame
    person = panel["person"].iloc[0]
    mine = panel.loc[panel["person"] == person]
    middle = mine["step_start"].iloc[len(mine) // 2]

    def moved(frame):
        if frame.empty:
            return frame
        late = (frame["person"] == person) & (frame["date"] >= middle)
        return frame.assign(date=frame["date"] + pd.to_timedelta(np.where(late, weeks * length, 0), unit="D"))

    later = build_panel(
        replace(caseload, sessions=moved(caseload.sessions), checkins=moved(caseload.checkins))
    ).frame
    later = later.loc[later["person"] == person].set_index("step_start")
    if len(mine) // 2 == 0 or middle not in later.index:
        return
    hole = later.loc[middle : middle + pd.Timedelta(days=weeks * length - 1)]
    assert len(hole) == weeks
    assert hole[["pain", "load", "pain_before"]].iloc[1:].isna().all(axis=None)
    assert hole[["pain", "load"]].isna().all(axis=None)
    assert np.isnan(later.loc[later.index < middle, "pain_next"].iloc[-1])
    assert hole["state"].eq("unknown").all()
