from __future__ import annotations

import pandas as pd

from lagwise.caseload.repeats import empty_frame
from lagwise.caseload.risk import NOT_ANONYMOUS, risk_page, risk_table


def tables(**frames) -> dict[str, pd.DataFrame]:
    return {t: frames.get(t, empty_frame(t)) for t in ("sessions", "checkins", "people", "events", "weeks")}


def checkins(courses: dict[str, list[float]]) -> pd.DataFrame:
    rows = [
        {"person": p, "date": pd.Timestamp(2024, 1, 1) + pd.Timedelta(days=7 * i), "pain": pain}
        for p, course in courses.items()
        for i, pain in enumerate(course)
    ]
    return pd.DataFrame(rows).reindex(columns=[*empty_frame("checkins").columns])


def values(frames) -> dict[str, str]:
    return risk_table(frames, 5, 0, 0).set_index("what")["value"].to_dict()


def test_unique_courses_are_counted():
    risk = values(
        tables(checkins=checkins({"a": [1, 2, 3, 4, 5], "b": [1, 2, 3, 4, 5], "c": [1, 2, 3, 4, 6], "d": [0] * 5}))
    )
    assert risk["people"] == "4"
    assert risk["people with a pain course of their own"] == "2"
    assert risk["people singled out by four ratings in a row"] == "2"
    assert risk["people with a count of records of their own"] == "0"


def test_twins_cannot_be_told_apart():
    risk = values(tables(checkins=checkins({p: [3, 4, 3, 4] for p in "abcdef"})))
    assert risk["people with a pain course of their own"] == "0"
    assert risk["people singled out by four ratings in a row"] == "0"


def test_heaviest_load_alone():
    sessions = empty_frame("sessions").reindex(range(3)).assign(
        person=["a", "b", "c"], date=pd.Timestamp(2024, 1, 1), load_kg=[50.0, 50.0, 180.0]
    )  # fmt: skip
    risk = values(tables(sessions=sessions, checkins=checkins({"a": [1], "b": [1], "c": [1]})))
    assert risk["people alone with their heaviest load"] == "1"


def test_page_escapes_and_never_calls_it_anonymous():
    risk = pd.DataFrame({"what": ["<script>alert(1)</script>"], "value": ["a&b"], "meaning": ['"x"']})
    page = risk_page(risk)
    assert "<script>" not in page
    assert "&lt;script&gt;" in page
    assert "a&amp;b" in page
    assert NOT_ANONYMOUS in page
    assert "not anonymous" in NOT_ANONYMOUS
