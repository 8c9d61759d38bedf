from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import lagwise
from lagwise.caseload import read
from lagwise.caseload.sift import COLUMNS
from lagwise.core import columns
from lagwise.core.errors import CaseloadError, StudyError

CHECKED = "person,date,pain\na1,2024-01-01,3\n"
SESSIONS = "person,date,exercise,sets,reps,load_kg,effort,reps_in_reserve,minutes\n"


def codes(caseload, table: str) -> list[list]:
    return caseload.quarantine.query("table == @table")[["row", "column", "code"]].to_numpy().tolist()


def test_public_read_is_this_read():
    assert lagwise.read is read


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
    assert list(caseload.remarks.columns) == [
        "code",
        "table",
        "column",
        "count",
        "examples",
        "meaning",
        "mend",
    ]
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
        "checkins": "b,2024-01-01,",
        "sessions": "b,2024-01-01,",
        "people": "b,",
        "events": "b,2024-01-01,",
        "weeks": "b,2024-01-01,",
    }
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
        [2, "effort", "8-9", "bad_number", False],
        [3, "load_kg", "4 0 kg", "bad_number", False],
        [3, "sets", "3x8", "sets_and_reps_differ", False],
        [4, "sets", "three", "bad_number", True],
        [5, "date", "1st week", "bad_date", True],
        [6, "person", "", "missing_person", True],
    ]
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


def test_a_row_with_several_faults_is_quarantined_once_and_names_them_all(folder):
    caseload = read(folder(checkins="person,date,pain,flare\na,2024-99-01,50,perhaps\nb,2024-01-01,5,no\n"))
    assert codes(caseload, "checkins") == [[2, "date", "bad_date"]]
    assert "pain (out_of_range)" in caseload.quarantine["mend"][0]
    assert "flare (bad_yes_no)" in caseload.quarantine["mend"][0]


def test_a_weeks_table_with_rows_closer_than_the_steps_is_a_question(folder):
    days = "".join(f"{p},2024-01-{d:02d},{d % 5}\n" for p in "ab" for d in range(1, 29))
    with pytest.raises(CaseloadError, match=r"weeks.csv: \d+ of 56 rows .* write step_days = 1 under"):
        read(folder(weeks=f"person,week,load\n{days}"))
    assert len(read(folder("[clock]\nstep_days = 1\n", weeks=f"person,week,load\n{days}")).weeks) == 56


def test_week_of_the_weeks_table_starts_on_the_declared_day(folder):
    weeks = "person,week,load\na,2024-01-07,3\na,2024-01-08,4\n"
    assert read(folder(weeks=weeks)).quarantine.empty
    assert codes(read(folder('[clock]\nweek_starts = "sunday"', weeks=weeks)), "weeks") == [
        [3, "person", "person_twice"]
    ]


def test_two_different_ratings_of_one_day_are_kept(folder):
    caseload = read(folder(checkins="person,date,pain\na,2024-01-01,3\na,2024-01-01,4\n"))
    assert caseload.checkins["pain"].tolist() == [3.0, 4.0]
    assert caseload.quarantine.empty


def test_identical_session_rows_are_kept_with_a_remark(folder):
    caseload = read(
        folder(checkins="person,date\na,2024-01-01\n", sessions=SESSIONS + "a,2024-01-01,row,3,,,,,\n" * 3)
    )
    assert len(caseload.sessions) == 3
    remark = caseload.remarks.set_index("code").loc["repeated_sessions"]
    assert (remark["count"], remark["examples"]) == (2, "row 3, 4")


def test_effort_from_reps_in_reserve_and_contradictions(folder):
    rows = "a,2024-01-01,Press ,3,8,50,,2,\na,2024-01-02,press,3,8,50,9,3,\na,2024-01-03,press,3,8,50,9,2,\na,2024-01-04,press,3,8,50,,15,\n"
    caseload = read(folder(checkins="person,date\na,2024-01-01\n", sessions=SESSIONS + rows))
    assert caseload.sessions["effort"].tolist() == [8.0, 9.0, 9.0, 0.0]
    assert caseload.sessions["exercise"].unique().tolist() == ["press"]
    remark = caseload.remarks.set_index("code").loc["contradiction"]
    assert remark["count"] == 1
    assert remark["examples"] == "row 3: 'effort 9, 3 in reserve'"


def test_pounds_are_turned_into_kilograms(folder):
    study = '[tables.sessions.units]\nload_kg = "lb"\nminutes = "h"'
    caseload = read(
        folder(
            study,
            checkins="person,date\na,2024-01-01\n",
            sessions=SESSIONS + "a,2024-01-01,row,3,8,100,,,1.5\n",
        )
    )
    assert caseload.sessions["load_kg"].tolist() == pytest.approx([45.359237])
    assert caseload.sessions["minutes"].tolist() == [90.0]


def test_sets_by_reps_fills_empty_repetitions(folder):
    caseload = read(
        folder(
            checkins="person,date\na,2024-01-01\n",
            sessions=SESSIONS + "a,2024-01-01,row,3x8,,,,,\na,2024-01-02,row,4x6,6,,,,\n",
        )
    )
    assert caseload.sessions[["sets", "reps"]].to_numpy().tolist() == [[3, 8], [4, 6]]
    assert caseload.remarks.query("code == 'repair_sets_by_reps'")["count"].tolist() == [2]


def test_declared_scores_are_read_in_their_range(folder):
    study = '[scores.fear]\nlow = 0\nhigh = 66\n[tables.people.columns]\nfear = "Total"'
    caseload = read(
        folder(study, checkins="person,date\na,2024-01-01\n", people="person,Total\na,30\nb,67\n")
    )
    assert caseload.people["fear"].tolist() == [30.0]
    assert list(caseload.people.columns)[-2:] == ["fear", "row"]
    assert codes(caseload, "people") == [[3, "fear", "out_of_range"]]


def test_column_mapping_wins_over_a_column_of_our_name(folder):
    study = '[tables.checkins.columns]\npain = "NRS  worst"\nperson = "Code"'
    caseload = read(folder(study, checkins="Code,date,NRS worst,pain\na,2024-01-01,3,9\n"))
    assert caseload.checkins["pain"].tolist() == [3.0]
    assert caseload.remarks["column"].tolist() == ["pain"]
    assert caseload.remarks["code"].tolist() == ["ignored_column"]


def test_missing_required_and_declared_columns_suggest_the_nearest(folder):
    with pytest.raises(CaseloadError, match="there is no column 'person'") as caught:
        read(folder(checkins="persona,date,pain\na,2024-01-01,3\n"))
    assert 'person = "persona"' in str(caught.value)
    with pytest.raises(CaseloadError, match="Did you mean 'NRS worst'"):
        read(
            folder(
                '[tables.checkins.columns]\npain = "NRS wrst"',
                checkins="person,date,NRS worst\na,2024-01-01,3\n",
            )
        )


def test_headers_in_other_case_are_a_repair(folder):
    text = "Person ,DATE,Sleep Hours\na,2024-01-01,7\n"
    caseload = read(folder(checkins=text))
    assert caseload.checkins["sleep_hours"].tolist() == [7.0]
    assert set(caseload.remarks["code"]) == {"repair_column_names"}
    with pytest.raises(CaseloadError, match="no column"):
        read(folder("[repair]\ncolumn_names = false", checkins=text))
    with pytest.raises(CaseloadError, match="could both be pain"):
        read(folder(checkins="person,date,Pain,PAIN\na,2024-01-01,7,8\n"))


def test_ignored_columns_are_one_remark_each(folder):
    caseload = read(
        folder(checkins="person,date,pain,mood,weather\na,2024-01-01,3,good,wet\nb,2024-01-01,3,bad,dry\n")
    )
    assert caseload.remarks[["code", "column", "count"]].to_numpy().tolist() == [
        ["ignored_column", "mood", 1],
        ["ignored_column", "weather", 1],
    ]


def test_future_dates_are_remarked(folder):
    caseload = read(folder(checkins="person,date,pain\na,2099-01-01,3\nb,2024-01-01,3\n"))
    assert caseload.remarks[["code", "count", "examples"]].to_numpy().tolist() == [
        ["future_date", 1, "row 2: '2099-01-01'"]
    ]


def test_no_usable_rows(folder):
    with pytest.raises(CaseloadError, match="has a header and no rows"):
        read(folder(checkins="person,date,pain\n"))
    with pytest.raises(
        CaseloadError, match=r"none of its 2 rows can be used; the first: row 2, date: bad_date '1\.2\.24'"
    ):
        read(folder(checkins="person,date,pain\na,1.2.24,3\nb,2.2.24,4\n"))


def test_empty_optional_tables_are_fine(folder):
    caseload = read(
        folder(
            checkins="person,date\na,2024-01-01\n",
            sessions=SESSIONS,
            people="person\n",
            events="person,date,kind\n",
        )
    )
    assert caseload.counts.set_index("table")["read"].to_dict() == {
        "sessions": 0,
        "checkins": 1,
        "people": 0,
        "events": 0,
    }


def test_other_suffixes_are_refused(folder):
    with pytest.raises(CaseloadError, match=r"ending in '\.ods' are not read"):
        read(folder('[tables.checkins]\nfile = "x.ods"', **{"x.ods": "x"}))


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


def test_missing_values_stay_missing(folder):
    caseload = read(folder(checkins="person,date,pain,flare,time\na,2024-01-01,,,\nb,2024-01-01, ,no,\n"))
    assert caseload.checkins["pain"].isna().all()
    assert caseload.checkins["flare"].isna().tolist() == [True, False]
    assert caseload.checkins["time"].isna().all()
    assert not np.isinf(caseload.checkins["pain"]).any()
    assert isinstance(caseload.checkins, pd.DataFrame)


CLOCKED = "person,date,pain{more}\n" + "".join(
    f"a1,{when},3{{cell}}\n"
    for when in (
        "2024-01-07 18:05",
        "2024-01-14T07:30:00Z",
        "2024-01-21 6:30 pm",
        "2024-01-28 00:00:00",
        "2024-02-04",
    )
)


def test_a_clock_beside_the_date_is_the_time(folder):
    caseload = read(folder(checkins=CLOCKED.format(more="", cell="")))
    assert caseload.checkins["time"].fillna("").tolist() == ["18:05", "07:30", "18:30", "", ""]
    assert caseload.checkins["date"].dt.day.tolist() == [7, 14, 21, 28, 4]
    counted = caseload.remarks.set_index("code")["count"].to_dict()
    assert counted == {"repair_date_times": 4, "repair_time_zones": 1}


def test_a_time_column_of_its_own_is_kept(folder):
    caseload = read(folder(checkins=CLOCKED.format(more=",time", cell=",05:00")))
    assert set(caseload.checkins["time"]) == {"05:00"}


def test_sheets_that_no_table_uses_are_named(folder, write_workbook):
    root = folder()
    (root / "checkins.csv").unlink()
    rows = [["person", "date", "pain"], ["a1", "2024-01-07", 3]]
    write_workbook(root / "caseload.xlsx", {"checkins": rows, "April": rows, "Plan": [["x"]]})
    (remark,) = read(root).remarks.to_dict("records")
    assert (remark["code"], remark["count"], remark["examples"]) == (
        "unused_sheet",
        2,
        "caseload.xlsx: April, Plan",
    )


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


def test_headers_that_are_there_twice(folder):
    with pytest.raises(CaseloadError, match="columns 3 and 4 are both named 'Mon'"):
        read(
            folder(
                "[tables.checkins.wide.pain]\nMon = 0", checkins="person,date,Mon,Mon\na1,2024-01-07,3,4\n"
            )
        )
    caseload = read(folder(checkins="person,date,note,pain,note\na1,2024-01-07,x,3,y\n"))
    assert caseload.remarks["column"].tolist() == ["note", "note (column 5)"]


def test_a_header_in_the_middle_and_sums_at_the_foot_are_no_records(folder):
    text = "Code,date,pain\na1,2024-01-07,3\nCode, date ,pain\nb2,2024-01-14,4\nSumme:,2024-01-14,7\nMax,2024-01-14,7\n"
    caseload = read(folder('[tables.checkins.columns]\nperson = "Code"', checkins=text))
    assert caseload.quarantine[["row", "code"]].to_numpy().tolist() == [[3, "header_again"], [5, "total_row"]]
    assert caseload.checkins["person"].tolist() == ["a1", "b2", "Max"]


def test_repetitions_listed_by_set_give_the_sets_beside_them(folder):
    rows = "a1,2024-01-07,,8/8/9\na1,2024-01-08,3,8/8/9\na1,2024-01-09,2,8/8/9\n"
    caseload = read(
        folder(checkins="person,date,pain\na1,2024-01-07,3\n", sessions=f"person,date,sets,reps\n{rows}")
    )
    assert caseload.sessions["sets"].tolist() == [3.0, 3.0, 2.0]
    assert caseload.sessions["reps"].isna().tolist() == [False, False, True]
    assert caseload.quarantine[["row", "column", "code"]].to_numpy().tolist() == [
        [4, "reps", "sets_and_reps_differ"]
    ]


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


def test_a_week_by_its_number_is_read_in_the_weeks_table_only(folder):
    weeks = read(folder(weeks="person,week,load\na1,2024-W02,10\na1,2024W03,12\na1,2024-W54,12\n"))
    assert weeks.weeks["week"].dt.strftime("%Y-%m-%d").tolist() == ["2024-01-08", "2024-01-15"]
    assert weeks.quarantine["code"].tolist() == ["bad_date"]
