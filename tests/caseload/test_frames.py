"""Data frames read as files are, and hashes that follow the content."""

from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import lagwise as lw
from lagwise.caseload import read
from lagwise.caseload.study_file import study_from
from lagwise.core.errors import CaseloadError, LagwiseError

PLAN = lw.Study("Elbow pain in lifters")
DAYS = ["2024-01-07", "2024-01-14", "2024-01-21"]
LOG = pd.DataFrame(
    {"person": ["a1", "a1", "b2"], "date": DAYS, "pain": ["3,5", "14", "8/10"], "mood": [1, 2, 3]}
)
CELL = st.one_of(
    st.integers(-3, 14).map(str), st.sampled_from(["", "3,5", "8/10", "x", "NA", "1e3", " 4 ", "2024"])
)
ROWS = st.lists(
    st.tuples(st.sampled_from(["a1", "b2", ""]), st.sampled_from([*DAYS, "", "14.03.2024"]), CELL), max_size=9
)


@settings(max_examples=6, deadline=None)
@given(ROWS)
@example([("", "", ""), ("a1", DAYS[1], " ")])
def test_a_frame_of_text_is_read_as_its_file(tmp_path_factory, rows):
    log = pd.DataFrame([("a1", DAYS[0], "3"), *rows], columns=["person", "date", "pain"])
    root = tmp_path_factory.mktemp("c")
    (root / "study.toml").write_text('title = "x"')
    log.to_csv(root / "checkins.csv", index=False)
    of = {}
    for name, make in (
        ("file", lambda: read(root)),
        ("frame", lambda: lw.from_frames(checkins=log, plan=PLAN)),
    ):
        try:
            of[name] = make()
        except CaseloadError as error:
            of[name] = error.what
    if isinstance(of["file"], str):
        assert of["file"] == of["frame"]
        return
    file, frame = of["file"], of["frame"]
    assert file.checkins.assign(row=file.checkins["row"] - 2).equals(frame.checkins)
    aside = file.quarantine.assign(row=file.quarantine["row"] - 2)
    assert aside.equals(frame.quarantine.drop(columns="label")) and frame.counts["file"].tolist() == [
        "frame checkins"
    ]
    assert file.counts.drop(columns="file").equals(frame.counts.drop(columns="file"))
    assert file.remarks.drop(columns="examples").equals(frame.remarks.drop(columns="examples"))
    assert frame.data_hash == lw.from_frames(checkins=log, plan=PLAN).data_hash


MESSY = [
    (pd.Categorical(["3", "4", None]), [3, 4, None]),
    (pd.array([3, None, 4], dtype="Int64"), [3, None, 4]),
    (pd.array([3.5, None, 4], dtype="Float64"), [3.5, None, 4]),
    (pd.array(["3,5", None, "4"], dtype="string"), [3.5, None, 4]),
    (np.array([3, Decimal("4.5"), None], dtype=object), [3, 4.5, None]),
    (np.array([3, "4,5", np.nan], dtype=object), [3, 4.5, None]),
    (np.array([3.25, "x", pd.NA], dtype=object), [3.25, None, None]),
    (pd.array([3, None, 4], dtype="int64[pyarrow]"), [3, None, 4]),
]


@pytest.mark.parametrize(("pain", "expected"), MESSY)
def test_numbers_of_any_type(pain, expected):
    got = lw.from_frames(checkins=LOG.assign(pain=pain, stress=1), plan=PLAN).checkins
    assert got["pain"].astype(object).where(got["pain"].notna(), None).tolist() == expected


@pytest.mark.parametrize(
    "when",
    [
        pd.to_datetime(DAYS),
        pd.to_datetime(DAYS).tz_localize("Europe/Berlin"),
        pd.to_datetime(DAYS).to_period("D"),
        np.array([date.fromisoformat(day) for day in DAYS], dtype=object),
        np.array([pd.Timestamp(DAYS[0], tz="UTC"), DAYS[1], datetime.fromisoformat(DAYS[2])], dtype=object),
        pd.Categorical(["07.01.2024", "14.01.2024", "21.01.2024"]),
    ],
)
def test_dates_of_any_type(when):
    got = lw.from_frames(checkins=LOG.assign(date=when, pain=1.0), plan=PLAN)
    assert got.checkins["date"].dt.strftime("%Y-%m-%d").tolist() == DAYS and got.quarantine.empty


def test_a_number_among_text_is_read_by_the_plans_decimal_sign_and_long_codes_stay_apart():
    plan = study_from({"title": "x", "tables": {"checkins": {"decimal": ","}}})
    log = LOG.assign(
        pain=np.array([1.234, "4,5", None], dtype=object), person=[2**60, 2**60 + 1, 2**60 + 2], stress=1
    )
    got = lw.from_frames(checkins=log, plan=plan).checkins
    assert got["pain"].tolist()[:2] == [1.234, 4.5] and got["person"].nunique() == 3


def test_frames_are_left_alone_and_say_where_a_cell_lies():
    log = LOG.set_index(pd.Index(["x", "y", "z"]))
    kept = log.copy(deep=True)
    got = lw.from_frames(checkins=log, plan=PLAN)
    pd.testing.assert_frame_equal(log, kept)
    assert got.quarantine[["table", "row", "label", "column", "value"]].to_numpy().tolist() == [
        ["checkins", 1, "y", "pain", "14"]
    ]
    assert got.checkins["row"].tolist() == [0, 2] and got.remarks["column"].tolist() == [
        "mood",
        "pain",
        "pain",
    ]
    panel = lw.build_panel(lw.from_frames(checkins=log.set_index("person"), plan=PLAN))
    assert set(panel.frame["person"]) == {"a1", "b2"}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "there is no table; sessions, checkins or weeks is needed"),
        ({"checkins": [1, 2]}, "is a list, not a pandas.DataFrame"),
        ({"checkins": pd.DataFrame()}, "frame checkins: has no columns"),
        ({"checkins": LOG, "weeks": LOG}, "there are both weeks and checkins"),
        ({"checkins": LOG.drop(columns="person")}, "there is no column 'person'"),
        ({"checkins": LOG.set_axis(["person", "date", "pain", "pain"], axis=1)}, "columns 3 and 4 are both named 'pain'"),
        ({"checkins": LOG.assign(pain=[[1], [2], [3]]).set_index("date")}, "row 0 (index 2024-01-07), column pain holds a list"),
        ({"checkins": LOG.head(1).assign(date="soon").set_index("mood")}, "the first: row 0 (index 1), date: bad_date 'soon'"),
    ],
)  # fmt: skip
def test_frames_that_cannot_be_used_are_one_clear_line(given, said):
    with pytest.raises(CaseloadError) as caught:
        lw.from_frames(**given, plan=PLAN)
    assert said in str(caught.value) and "\n" not in caught.value.what


def test_any_changed_cell_changes_the_hash_and_no_old_one_is_kept():
    first = lw.from_frames(checkins=LOG, plan=PLAN)
    others = [
        LOG.assign(mood=[1, 2, 4]),
        LOG.assign(pain=["3,5", "14", "8/10 "]),
        LOG.assign(mood=["1", "2", "3"]),
    ]
    others += [LOG.rename(columns={"mood": "m"}), LOG.iloc[::-1], LOG.assign(pain=["3,5", None, "8/10"])]
    hashes = {lw.from_frames(checkins=log, plan=PLAN).data_hash for log in (LOG, LOG.copy(), *others)}
    assert len(hashes) == 1 + len(others)
    less = replace(first, checkins=first.checkins.head(1))
    assert less.data_hash not in hashes
    assert replace(less, checkins=first.checkins.assign(pain=1.0)).data_hash not in {
        less.data_hash,
        first.data_hash,
    }
    for same in (
        replace(first, study=PLAN.with_(usual_steps=5)),
        replace(first, checkins=first.checkins.copy()),
    ):
        assert same.data_hash == first.data_hash
    first.checkins.loc[first.checkins.index[0], "pain"] = 9.0
    assert first.data_hash not in hashes
    assert lw.collect(first, lw.build_panel(first), [], None).provenance.data_hash == first.data_hash


def test_what_is_no_plan_is_said_to_be_none():
    with pytest.raises(LagwiseError, match=r"from_frames: the plan is a str, not a Study. Give lw.Study"):
        lw.from_frames(checkins=LOG, plan="Elbow pain")
