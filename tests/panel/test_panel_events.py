"""Where events stand among the steps and their ratings."""

from dataclasses import replace
from datetime import date, timedelta

import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

import lagwise as lw
from lagwise.core.study import Clock, PainPlan, Study
from lagwise.panel.build import rebuild

START = date(2024, 1, 1)
"""A Monday."""
EVENINGS, MORNINGS = PainPlan(rated="end"), PainPlan(rated="start")


def placed(plan: Study, rated: list[int], events: list[tuple[int, int | None]]) -> pd.DataFrame:
    """Events (day, last day) of a person who rated on some days, counted from the first Monday."""
    day = [START + timedelta(d) for d in rated]
    rows = [(START + timedelta(a), None if b is None else START + timedelta(b)) for a, b in events]
    checkins = pd.DataFrame({"person": "k1", "date": day, "pain": 3.0})
    told = pd.DataFrame(rows, columns=["date", "until"]).assign(person="k1", kind="break")
    return lw.build_panel(lw.from_frames(checkins=checkins, events=told, plan=plan)).events


@settings(max_examples=12, deadline=None, phases=[Phase.generate])
@given(
    st.lists(st.integers(0, 40), min_size=1, max_size=12),
    st.lists(
        st.tuples(st.integers(-9, 50), st.none() | st.integers(-9, 60)),
        min_size=1,
        max_size=4,
        unique_by=lambda e: e[0],
    ),
    st.sampled_from([1, 3, 7, 14]),
)
def test_an_event_comes_after_the_ratings_that_stand_before_it(rated, events, length):
    rated = [0, *rated]
    got = placed(Study("x", clock=Clock(length)), rated, events)
    last = max(rated) // length
    for told in got.to_dict("records"):
        day = (told["date"].date() - START).days
        step = day // length
        own = sorted(d for d in set(rated) if d // length == step)
        half = 0 <= step <= last and own and 2 * sum(d <= day for d in own) >= len(own)
        assert told["step"] == step
        assert told["after"] == (step if half and length > 1 else step - 1)
        if pd.notna(told["until"]):
            assert told["until_step"] == (told["until"].date() - START).days // length
    assert got["date"].is_monotonic_increasing and len(got) == len(events)


@pytest.mark.parametrize(("pain", "before"), [(EVENINGS, 3), (MORNINGS, 4)])
def test_of_days_and_of_whole_weeks_the_plan_says_which_rating_is_before(pain, before):
    other = EVENINGS if pain is MORNINGS else MORNINGS
    daily = placed(Study("x", clock=Clock(1), pain=pain), list(range(9)), [(4, None)])
    weeks = pd.DataFrame({"person": "k1", "week": [START + timedelta(7 * w) for w in range(9)], "pain": 3.0})
    event = pd.DataFrame({"person": ["k1"], "date": [START + timedelta(30)], "kind": ["break"]})
    panel = lw.build_panel(lw.from_frames(weeks=weeks, events=event, plan=Study("x", pain=pain)))
    weekly = panel.events
    assert (daily["after"].item(), weekly["step"].item(), weekly["after"].item()) == (before, 4, before)
    again = rebuild(rebuild(panel, Study("x", pain=other)), Study("x", pain=pain))
    assert rebuild(panel, Study("x", pain=other)).events["after"].item() == 7 - before
    pd.testing.assert_frame_equal(again.events, weekly)


def test_only_people_of_the_panel_and_reasons_as_they_were_said():
    checkins = pd.DataFrame({"person": "k1", "date": [START, START + timedelta(20)], "pain": 3})
    rows = [("k1", "pain"), ("k2", "planned"), ("k1", None), ("k1", "whim")]
    events = pd.DataFrame(rows, columns=["person", "because"]).assign(date=START, kind="break")
    caseload = lw.from_frames(checkins=checkins, events=events, plan=Study("x"))
    assert lw.build_panel(caseload).events["because"].tolist() == ["pain", "", ""]
    assert lw.build_panel(replace(caseload, events=caseload.events.iloc[:0])).events.empty
