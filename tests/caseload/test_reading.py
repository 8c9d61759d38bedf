from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lagwise.caseload import load_study, read
from lagwise.caseload.reading import read_as
from lagwise.caseload.sift import COLUMNS
from lagwise.core import columns
from lagwise.core.errors import CaseloadError, StudyError
from lagwise.panel import build_panel, rebuild

CHECKED = "person,date,pain\na1,2024-01-01,3\n"


def codes(caseload, table: str) -> list[list]:
    return caseload.quarantine.query("table == @table")[["row", "column", "code"]].to_numpy().tolist()


def test_tables_have_the_contract_columns_types_and_row(folder):
    caseload = read(folder())
    for table in columns.TABLES:
        frame = getattr(caseload, table)
        assert list(frame.columns) == [*columns.names(table), "row"]
        for column in columns.TABLES[table]:
            kind = str(frame[column.name].dtype)
            expected = {"date": "datetime64[us]", "yesno": "boolean", "number": "float64", "count": "float64"}
            assert kind == expected.get(column.kind, "str")
    assert caseload.sessions.empty
    assert caseload.checkins["stress"].isna().all()
    assert list(caseload.quarantine.columns) == list(COLUMNS)
    assert " ".join(caseload.remarks) == "code table column count examples meaning mend"
    assert caseload.summary().to_numpy().tolist() == [["checkins", "checkins.csv", 3, 3, 0, 9, 9, 0]]


@pytest.mark.parametrize(
    ("table", "header", "row", "column", "code"),
    [
        ("checkins", "person,date,pain", ",2024-01-01,3", "person", "missing_person"),
        ("checkins", "person,date,pain", "a,,3", "date", "missing_date"),
        ("checkins", "person,date,pain", "a,2024-02-30,3", "date", "bad_date"),
        ("checkins", "person,date,pain", "a,1904-02-03,3", "date", "out_of_range"),
        ("checkins", "person,date,pain", "a,2024-01-01,much", "pain", "bad_number"),
        ("checkins", "person,date,pain", "a,2024-01-01,10.5", "pain", "out_of_range"),
        ("checkins", "person,date,flare", "a,2024-01-01,perhaps", "flare", "bad_yes_no"),
        ("checkins", "person,date,time", "a,2024-01-01,25:10", "time", "bad_time"),
        ("checkins", "person,date,pain", "a,2024-01-01,3,4", "", "too_many_cells"),
        ("checkins", "person,date,pain", "b,2024-01-01,3", "", "duplicate_row"),
        ("sessions", "person,date,sets", "a,2024-01-01,2.5", "sets", "not_whole"),
        ("sessions", "person,date,load_kg", "a,2024-01-01,601", "load_kg", "out_of_range"),
        ("sessions", "person,date,load_kg", "a,2024-01-01,=1+1", "load_kg", "formula_without_value"),
        ("people", "person,sex", "b,m", "person", "person_twice"),
        ("people", "person,sex", "b,f", "", "duplicate_row"),
        ("people", "person,sex", f"{'x' * 120},f", "person", "too_long"),
        ("events", "person,date,kind", "a,2024-01-01,", "kind", "missing_kind"),
        ("events", "person,date,kind", "a,2024-01-01,party", "kind", "bad_choice"),
        ("weeks", "person,week,load", "b,2024-01-03,7", "person", "person_twice"),
        ("weeks", "person,week,load", "b,2024-01-02,3", "", "duplicate_row"),
        ("weeks", "person,week,trained", "a,2024-01-02,maybe", "trained", "bad_choice"),
        ("weeks", "person,week,load", "a,,3", "week", "missing_week"),
        ("weeks", "person,week,load", "a,2024-01-01,-3", "load", "out_of_range"),
    ],
)  # fmt: skip
def test_each_quarantine_code(folder, table, header, row, column, code):
    good = {
        "checkins": "b,2024-01-01,", "sessions": "b,2024-01-01,", "people": "b,", "events": "b,2024-01-01,",
        "weeks": "b,2024-01-01,",
    }  # fmt: skip
    last = {"checkins": {"pain": "3", "flare": "no", "time": "08:00"}, "people": {"sex": "f"}, "events": {"kind": "illness"},
            "weeks": {"load": "3", "trained": "rest"}, "sessions": {}}[table]  # fmt: skip
    first = good[table] + last.get(header.split(",")[-1], "3")
    tables = {table: f"{header}\n{first}\n\n{row}\n"}
    if table not in ("checkins", "weeks"):
        tables["checkins"] = "person,date,pain\nb,2024-01-01,1\n"
    caseload = read(folder(**tables))
    assert codes(caseload, table) == [[4, column, code]]
    aside = caseload.quarantine.iloc[0]
    assert aside["mend"]
    counts = caseload.counts.set_index("table").loc[table]
    assert (counts["read"], counts["used"], counts["quarantined"]) == (2, 1, 1)
    assert getattr(caseload, table)["row"].tolist() == [2]


N, S, C = (
    float("nan"),
    "person,date,exercise,sets,reps,load_kg,effort,reps_in_reserve,minutes\n",
    "person,date,pain\n",
)
CLOCKED = "".join(f"a,{when},3\n" for when in (
    "2024-01-07 18:05", "2024-01-14T07:30:00Z", "2024-01-21 6:30 pm", "2024-01-28 00:00:00", "2024-02-04"))  # fmt: skip
READS = {
    "two ratings of a day": ("", {"checkins": C + "a,2024-01-01,3\na,2024-01-01,4\n"}, {"pain": [3, 4]}, [], {}),
    "nothing recorded": ("", {"checkins": "person,date,pain,flare,time\na,2024-01-01,,,\nb,2024-01-01, ,no,\n"},
                         {"pain": [N, N], "flare": [None, False], "time": [None, None]}, [], {}),
    "a code of its own": ('[tables.checkins.columns]\npain = "NRS  worst"\nperson = "Code"',
                          {"checkins": "Code,date,NRS worst,pain\na,2024-01-01,3,9\n"}, {"pain": [3]}, [], {"ignored_column": (1, "")}),
    "headers in other case": ("", {"checkins": "Person ,DATE,Sleep Hours\na,2024-01-01,7\n"}, {"sleep_hours": [7]}, [],
                              {"repair_column_names": (1, None)}),
    "a header twice": ("", {"checkins": "person,date,note,pain,note\na,2024-01-07,x,3,y\n"}, {"pain": [3]}, [], {"identifier_column": (1, None)}),
    "in the future": ("", {"checkins": C + "a,2099-01-01,3\nb,2024-01-01,3\n"}, {"pain": [3, 3]}, [], {"future_date": (1, "row 2: '2099-01-01'")}),
    "a clock": ("", {"checkins": C + CLOCKED}, {"time": ["18:05", "07:30", "18:30", None, None]}, [],
                {"repair_date_times": (4, None), "repair_time_zones": (1, None)}),
    "a time of its own": ("", {"checkins": "person,date,pain,time\n" + CLOCKED.replace(",3\n", ",3,05:00\n")}, {"time": ["05:00"] * 5}, [],
                          {"repair_date_times": (4, None), "repair_time_zones": (1, None)}),
    "no records": ('[tables.checkins.columns]\nperson = "Code"',
                   {"checkins": "Code,date,pain\na1,2024-01-07,3\nCode, date ,pain\nb2,2024-01-14,4\nSumme:,2024-01-14,7\nMax,2024-01-14,7\n"},
                   {"person": ["a1", "b2", "Max"]}, [[3, "", "header_again"], [5, "person", "total_row"]], {}),
    "one row, several faults": ("", {"checkins": "person,date,pain,flare\na,2024-99-01,50,perhaps\nb,2024-01-01,5,no\n"}, {"pain": [5]},
                                [[2, "date", "bad_date"]], {}),
    "weeks from monday": ("", {"weeks": "person,week,load\na,2024-01-07,3\na,2024-01-08,4\n"}, {"load": [3, 4]}, [], {}),
    "weeks from sunday": ('[clock]\nweek_starts = "sunday"', {"weeks": "person,week,load\na,2024-01-07,3\na,2024-01-08,4\n"}, {"load": [3]},
                          [[3, "person", "person_twice"]], {}),
    "weeks by number": ("", {"weeks": "person,week,load\na,2024-W02,10\na,2024W03,12\na,2024-W54,12\n"}, {"load": [10, 12]},
                        [[4, "week", "bad_date"]], {"repair_date_words": (2, None)}),
    "a score": ('[scores.fear]\nlow = 0\nhigh = 66\n[tables.people.columns]\nfear = "Total"', {"people": "person,Total\na,30\nb,67\n"},
                {"fear": [30]}, [[3, "fear", "out_of_range"]], {}),
    "the same sets": ("", {"sessions": S + "a,2024-01-01,row,3,,,,,\n" * 3}, {"sets": [3, 3, 3]}, [], {"repeated_sessions": (2, "row 3, 4")}),
    "reserve": ("", {"sessions": S + "".join(f"a,2024-01-0{d},Press ,3,8,50,{e}\n" for d, e in enumerate((",2,", "9,3,", "9,2,", ",15,"), 1))},
                {"effort": [8, 9, 9, 0], "exercise": ["press"] * 4}, [], {"contradiction": (1, "row 3: 'effort 9, 3 in reserve'")}),
    "other units": ('[tables.sessions.units]\nload_kg = "lb"\nminutes = "h"', {"sessions": S + "a,2024-01-01,row,3,8,100,,,1.5\n"},
                    {"load_kg": [45.359237], "minutes": [90]}, [], {}),
    "sets by reps": ("", {"sessions": S + "a,2024-01-01,row,3x8,,,,,\na,2024-01-02,row,4x6,6,,,,\n"}, {"sets": [3, 4], "reps": [8, 6]}, [],
                     {"repair_sets_by_reps": (2, None)}),
    "reps by set": ("", {"sessions": "person,date,sets,reps\na,2024-01-07,,8/8/9\na,2024-01-08,3,8/8/9\na,2024-01-09,2,8/8/9\n"},
                    {"sets": [3, 3, 2], "reps": [25 / 3, 25 / 3, N]}, [[4, "reps", "sets_and_reps_differ"]], {"repair_reps_listed": (2, None)}),
    "empty tables": ("", {"sessions": S, "people": "person\n", "events": "person,date,kind\n"}, {"sets": []}, [], {}),
}  # fmt: skip
"""Plan and tables -> columns of the first table as they are read, what is set aside of it, and remarks with count and examples."""


@pytest.mark.parametrize("case", READS)
def test_what_is_read(folder, case):
    plan, tables, columns_read, aside, remarks = READS[case]
    table, *_ = tables
    if not {"checkins", "weeks"} & {*tables}:
        tables = {**tables, "checkins": "person,date\na,2024-01-01\n"}
    caseload = read(folder(plan, **tables))
    for name, values in columns_read.items():
        got = [
            None if value is pd.NA or value != value else value for value in getattr(caseload, table)[name]
        ]
        assert got == pytest.approx([None if value != value else value for value in values])
    assert codes(caseload, table) == aside
    told = caseload.remarks.groupby("code")[["count", "examples"]].first()
    assert {code: (row["count"], row["examples"]) for code, row in told.iterrows() if code in remarks} == {
        code: (count, told.loc[code, "examples"] if examples is None else examples)
        for code, (count, examples) in remarks.items()
    }
    assert not {*told.index} - {*remarks}


@pytest.mark.parametrize(
    ("plan", "checkins", "match"),
    [
        ("", "persona,date,pain\na,2024-01-01,3\n", "there is no column 'person'.*person = \"persona\""),
        ('[tables.checkins.columns]\npain = "NRS wrst"', "person,date,NRS worst\na,2024-01-01,3\n", "Did you mean 'NRS worst'"),
        ("[repair]\ncolumn_names = false", "Person ,DATE,Sleep Hours\na,2024-01-01,7\n", "no column"),
        ("", "person,date,Pain,PAIN\na,2024-01-01,7,8\n", "could both be pain"),
        ("", "person,date,pain\n", "has a header and no rows"),
        ("", "person,date,pain\na,1.2.24,3\nb,2.2.24,4\n", r"none of its 2 rows can be used; the first: row 2, date: bad_date '1\.2\.24'"),
        ("[tables.checkins.wide.pain]\nMon = 0", "person,date,Mon,Mon\na1,2024-01-07,3,4\n", "columns 3 and 4 are both named 'Mon'"),
        ('[tables.checkins]\nfile = "study.ods"', "", r"there is no file 'study\.ods'"),
    ],
)  # fmt: skip
def test_tables_that_cannot_be_read(folder, plan, checkins, match):
    with pytest.raises(CaseloadError, match=match):
        read(folder(plan, checkins=checkins))


SET_ASIDE = (
    "person,date,exercise,sets,reps,load_kg,effort,minutes\n"
    "a1,2024-01-01,row,3,8,40,8-9,\n"  # one cell of a row that is used
    "a1,2024-01-02,row,3x8,10,4 0 kg,9,\n"  # two cells of one row
    "a1,2024-01-03,,three,,,,\n"  # all it has to say
    "a1,1st week,row,3,8,40,8,\n"  # it cannot be placed
    ",2024-01-05,row,3,8,x,8,\n"  # nor this one, which also has a bad cell
    "a1,2024-01-06,row,3, ,NA,8,\n"  # blank and declared nothing are no faults
)


def test_a_cell_that_breaks_a_rule_is_set_aside_alone(folder):
    caseload = read(folder(checkins=CHECKED, sessions=SET_ASIDE))
    listed = caseload.quarantine[["row", "column", "value", "code", "whole_row"]].to_numpy().tolist()
    assert listed == [
        [2, "effort", "8-9", "bad_number", False], [3, "load_kg", "4 0 kg", "bad_number", False],
        [3, "sets", "3x8", "sets_and_reps_differ", False], [4, "sets", "three", "bad_number", True],
        [5, "date", "1st week", "bad_date", True], [6, "person", "", "missing_person", True],
    ]  # fmt: skip
    assert "load_kg (bad_number)" in caseload.quarantine["mend"].iloc[-1]
    used = caseload.sessions
    assert used["row"].tolist() == [2, 3, 7]
    np.testing.assert_equal(used["effort"].to_numpy(), [np.nan, 9, 8])
    np.testing.assert_equal(used["sets"].to_numpy(), [3, np.nan, 3])
    np.testing.assert_equal(used["reps"].to_numpy(), [8, 10, np.nan])
    counts = caseload.counts.set_index("table").loc["sessions"]
    assert counts[["read", "used", "quarantined"]].tolist() == [6, 3, 3]
    assert counts[["cells_read", "cells_used", "cells_quarantined"]].tolist() == [20, 17, 3]
    lost = caseload.lost.fillna({"date": pd.Timestamp(0), "person": ""})[["row", "person", "column"]]
    assert lost.to_numpy().tolist() == [[2, "a1", "effort"], [3, "a1", "load_kg"], [3, "a1", "sets"], [4, "a1", ""], [5, "a1", ""], [6, "", ""]]  # fmt: skip
    assert caseload.lost["date"].isna().tolist() == [False, False, False, False, True, False]


def test_rows_alike_but_for_what_was_set_aside_are_no_copies(folder):
    rows = "a1,2024-01-07,3,eight\na1,2024-01-07,3,nine\na1,2024-01-07,3,\na1,2024-01-07,3,\n"
    caseload = read(folder(checkins=f"person,date,pain,worry\n{rows}"))
    assert caseload.checkins["row"].tolist() == [2, 3, 4]
    assert caseload.quarantine[["row", "code"]].to_numpy().tolist() == [
        [2, "bad_number"], [3, "bad_number"], [5, "duplicate_row"],
    ]  # fmt: skip
    assert caseload.lost["row"].tolist() == [2, 3]


def test_a_weeks_table_with_rows_closer_than_the_steps_is_a_question(folder):
    days = "".join(f"{p},2024-01-{d:02d},{d % 5}\n" for p in "ab" for d in range(1, 29))
    with pytest.raises(CaseloadError, match=r"weeks.csv: \d+ of 56 rows .* write step_days = 1 under"):
        read(folder(weeks=f"person,week,load\n{days}"))
    assert len(read(folder("[clock]\nstep_days = 1\n", weeks=f"person,week,load\n{days}")).weeks) == 56


def test_file_order_and_input_files_are_kept(folder):
    text = "person,date,pain\nb,2024-01-14,3\na,2024-01-07,4\nb,2024-01-07,5\n"
    root = folder(checkins=text)
    before = {p.name: p.read_bytes() for p in root.iterdir()}
    assert read(root).checkins["pain"].tolist() == [3.0, 4.0, 5.0]
    assert {p.name: p.read_bytes() for p in root.iterdir()} == before


def test_relative_paths_and_strings(folder, monkeypatch):
    root = folder()
    monkeypatch.chdir(root.parent)
    caseload = read(root.name)
    assert Path(caseload.folder) == root.resolve()


def test_marks_for_not_recorded_are_declared_for_every_column_or_for_some(folder):
    rows = "person,date,pain,worry\na1,2024-01-07,999,9\na1,2024-01-14,3,99\na1,2024-01-21,9,4\n"
    both = read(folder('[tables.checkins]\nmissing = [999, "99"]', checkins=rows))
    assert both.checkins["pain"].tolist()[1:] == [3.0, 9.0]
    assert both.checkins["worry"].dropna().tolist() == [9.0, 4.0]
    some = read(folder('[tables.checkins]\nmissing = { pain = ["999"], worry = ["9", "99"] }', checkins=rows))
    assert some.checkins["pain"].dropna().tolist() == [3.0, 9.0]
    assert some.checkins["worry"].dropna().tolist() == [4.0]
    assert some.remarks.set_index("column").loc["worry", ["code", "count"]].tolist() == [
        "declared_missing",
        2,
    ]
    assert len(read(folder(checkins=rows)).quarantine) == 2


def test_marks_for_not_recorded_in_a_typed_file(folder):
    frame = pd.DataFrame(
        {"person": ["a1"] * 3, "date": pd.date_range("2024-01-07", periods=3), "pain": [-99.0, 3, 4]}
    )
    root = folder('[tables.checkins]\nmissing = ["-99"]', **{"checkins.parquet": b""})
    frame.to_parquet(root / "checkins.parquet")
    caseload = read(root)
    assert caseload.checkins["pain"].isna().tolist() == [True, False, False]
    assert caseload.remarks["code"].tolist() == ["declared_missing"]


@pytest.mark.parametrize(
    "given", ['"999"', "[]x", "[true]", "[[1]]", "{ pian = ['9'] }", "{ pain = 9 }", "{ pain = [] }"]
)
def test_marks_that_are_no_marks_are_refused(folder, given):
    with pytest.raises(StudyError):
        read(folder(f"[tables.checkins]\nmissing = {given}", checkins="person,date,pain\na,2024-01-07,3\n"))


def test_an_ignored_column_that_may_be_a_missing_one_is_asked_about(folder):
    caseload = read(
        folder(checkins="person,date,Pain (0-10),stress,stress level,mood\na1,2024-01-07,3,4,4,5\n")
    )
    mends = caseload.remarks.set_index("column")["mend"]
    assert mends["Pain (0-10)"] == (
        'If this is pain, write pain = "Pain (0-10)" under [tables.checkins.columns]; rows that would then have it: 1, '
        "of people: 1, of their weeks: 1."
    )
    assert mends["stress level"].startswith("Nothing")
    assert mends["mood"].startswith("Nothing")


def test_a_draft_is_read_for_its_check_alone(folder):
    root = folder("reviewed = false")
    with pytest.raises(StudyError, match=r"draft .* write reviewed = true"):
        read(root)
    assert len(read_as(root, load_study(root)).checkins) == 3


def test_a_daily_load_of_any_unit_is_summed_as_it_was_measured(folder):
    plan = '[clock]\nstep_days = 7\n[load]\nmeasure = "measured"\nunit = "AU"\n'
    log = "person,date,load\na1,2024-01-01,400\na1,2024-01-03,0\na1,2024-01-04,22.5\na1,2024-01-15,0\n"
    caseload = read(folder(plan, sessions=log, checkins=CHECKED))
    assert caseload.sessions["load"].tolist() == [400.0, 0.0, 22.5, 0.0]
    panel = build_panel(caseload)
    assert panel.frame["load"].fillna(-1).tolist() == [422.5, -1, 0]
    assert panel.frame["state"].tolist() == ["trained", "unknown", "rest"]
    other = panel.study.with_(measure="sets")
    assert np.isnan(rebuild(panel, other).frame["load"].iloc[0])
    assert (
        "load"
        in read(folder("", sessions=log, checkins=CHECKED))
        .remarks.query("table == 'sessions'")["column"]
        .tolist()
    )


def test_events_may_last_have_a_reason_and_kinds_of_the_study(folder):
    text = "person,date,kind,until,because\na1,2024-01-01,New programme,2024-02-01,planned\na1,2024-03-01,illness,,flu\n"
    events = read(folder('[events]\nkinds = ["new_programme"]', checkins=CHECKED, events=text)).events
    assert events["kind"].tolist() == ["new_programme", "illness"]
    assert events["until"].dt.strftime("%Y-%m-%d").fillna("").tolist() == ["2024-02-01", ""]
    assert events["because"].fillna("").tolist() == ["planned", ""]
