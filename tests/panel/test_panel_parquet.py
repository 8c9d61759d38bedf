"""The way over a Parquet file gives the panel that the tables give."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from panel_caseloads import STUDIES, random_caseload

from lagwise.core.errors import PanelError
from lagwise.panel import build_panel, parquet
from lagwise.synthetic import CLINIC, simulate

GROUPS = {"upper": ("press", "row"), 'it\'s "odd"': ("carry",)}


def alike(one, two):
    pd.testing.assert_frame_equal(one.frame, two.frame, rtol=1e-12, atol=1e-12)
    pd.testing.assert_frame_equal(one.blocks, two.blocks, rtol=1e-12, atol=1e-12)
    assert dict(one.states) == dict(two.states)


@pytest.mark.parametrize(("study", "missing"), [*((study, "null") for study in STUDIES), (STUDIES[1], "nan")])
def test_random_caseloads(study, missing, tmp_path):
    import pyarrow as pa
    import pyarrow.parquet as pq

    caseload = random_caseload(41, replace(study, groups=GROUPS), people=8)
    sessions = caseload.sessions.copy()
    sessions.loc[sessions.index[::9], "exercise"] = None
    sessions.loc[sessions.index[::7], "exercise"] = "  ROW "
    file = tmp_path / "sessions.parquet"
    pq.write_table(
        pa.Table.from_pandas(sessions, preserve_index=False, nthreads=1).select(sessions.columns), file
    )
    if missing == "nan":
        table = pa.table({c: pa.array(sessions[c].to_numpy(), from_pandas=False) if sessions[c].dtype == "float64"
                          else pa.array(sessions[c]) for c in sessions})  # fmt: skip
        pq.write_table(table, file)
    alike(
        build_panel(replace(caseload, sessions=sessions)),
        build_panel(file, caseload.study, checkins=caseload.checkins),
    )


def test_the_clinic_with_fewer_columns_and_no_check_ins(tmp_path):
    caseload = simulate(CLINIC, 1)
    sessions = caseload.sessions.drop(columns=["time", "reps_in_reserve", "minutes", "exercise"])
    sessions.to_parquet(tmp_path / "s.parquet")
    short = replace(caseload, sessions=sessions, checkins=caseload.checkins.iloc[:0])
    alike(build_panel(short), build_panel(tmp_path / "s.parquet", caseload.study))


@pytest.mark.parametrize(
    ("column", "value", "what"),
    [("sets", 500.0, "outside"), ("effort", -1.0, "outside"), ("person", None, "without person"), ("date", pd.NaT, "without person or date")],
)  # fmt: skip
def test_rows_that_a_reading_would_set_aside_are_refused(column, value, what, tmp_path):
    sessions = simulate(replace(CLINIC, n_people=3, n_steps=6), 1).sessions
    sessions.loc[5, column] = value
    sessions.to_parquet(tmp_path / "s.parquet")
    with pytest.raises(PanelError, match=what):
        build_panel(tmp_path / "s.parquet", STUDIES[0])


def test_what_is_no_session_file_is_refused(tmp_path):
    (tmp_path / "s.parquet").write_bytes(b"not a table")
    with pytest.raises(PanelError, match=r"s\.parquet: cannot be read"):
        build_panel(tmp_path / "s.parquet", STUDIES[0])
    with pytest.raises(PanelError, match="cannot be read"):
        build_panel(tmp_path / "absent.parquet", STUDIES[0])
    pd.DataFrame({"person": ["a"]}).to_parquet(tmp_path / "t.parquet")
    with pytest.raises(PanelError, match="no date column"):
        build_panel(tmp_path / "t.parquet", STUDIES[0])
    with pytest.raises(PanelError, match="has no plan"):
        build_panel(tmp_path / "t.parquet")
    with pytest.raises(PanelError, match=r"takes a caseload, and DataFrame is none. Make one: lw.read"):
        build_panel(pd.DataFrame({"person": ["a"]}))


@pytest.mark.parametrize("lonely", [False, True], ids=["all alike", "one person much longer"])
def test_a_file_in_many_small_batches(lonely, tmp_path, monkeypatch):
    caseload = simulate(replace(CLINIC, n_people=4, n_steps=12), 2)
    sessions = caseload.sessions
    if lonely:
        early = sessions["date"] < sessions["date"].min() + pd.Timedelta(days=25)
        sessions = sessions[early | (sessions["person"] == sessions["person"].iloc[0])].reset_index(drop=True)
    short = replace(caseload, sessions=sessions, checkins=caseload.checkins.iloc[:0])
    steps = build_panel(short).frame.groupby("person").size()
    assert (steps.max() * len(steps) > 1.5 * steps.sum()) == lonely
    sessions.to_parquet(tmp_path / "s.parquet", row_group_size=17)
    monkeypatch.setattr(parquet, "ROWS", 5)
    alike(build_panel(short), build_panel(tmp_path / "s.parquet", caseload.study))


def test_dates_by_the_clock_they_were_taken_by(tmp_path):
    late = pd.to_datetime(["2024-03-04 23:30", "2024-03-11 00:10"]).tz_localize("Australia/Sydney")
    one = pd.DataFrame({"person": ["a", "a"], "date": late, "sets": [3, 4]})
    one.to_parquet(tmp_path / "zone.parquet")
    one.assign(date=["2024-03-04", "2024-03-11"]).to_parquet(tmp_path / "text.parquet")
    zone, text = (build_panel(tmp_path / f"{name}.parquet", STUDIES[0]) for name in ("zone", "text"))
    alike(zone, text)
    assert zone.frame["load"].tolist() == [3.0, 4.0]


def test_a_changed_frame_leaves_the_blocks_alone():
    panel = build_panel(simulate(replace(CLINIC, n_people=3, n_steps=6), 1))
    before = panel.blocks.copy(deep=True)
    for name in ("load", "pain", "effort", "n_checkins"):
        panel.frame.loc[0, name] = 77
    pd.testing.assert_frame_equal(panel.blocks, before)
    assert np.isnan(panel.frame["usual"].iloc[0])


@pytest.mark.parametrize(
    "left_out",
    [["minutes"], ["sets"], ["reps"], ["sets", "minutes"], ["load_kg", "effort"], ["exercise", "time"]],
)
def test_columns_that_are_not_there(left_out, tmp_path):
    caseload = random_caseload(43, replace(STUDIES[0], groups=GROUPS), people=6)
    sessions = caseload.sessions.drop(columns=left_out)
    sessions.to_parquet(tmp_path / "s.parquet")
    want = build_panel(replace(caseload, sessions=sessions))
    alike(want, build_panel(tmp_path / "s.parquet", caseload.study, checkins=caseload.checkins))


def test_a_file_in_which_everything_is_known(tmp_path):
    caseload = random_caseload(47, replace(STUDIES[0], groups=GROUPS), people=6)
    sessions = caseload.sessions.dropna(subset=["sets"]).query("sets > 0").fillna(
        {"reps": 5.0, "load_kg": 20.0, "effort": 9.0, "minutes": 10.0}
    )  # fmt: skip
    sessions.to_parquet(tmp_path / "s.parquet")
    want = build_panel(replace(caseload, sessions=sessions))
    alike(want, build_panel(tmp_path / "s.parquet", caseload.study, checkins=caseload.checkins))
