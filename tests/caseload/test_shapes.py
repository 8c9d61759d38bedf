"""Shapes of real files, as a plan declares them or as repairs read them."""

import pytest

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError

RATED = "person,date,pain\na1,2024-01-01,3\na1,2024-01-08,3\n"


def told(caseload):
    return caseload.remarks.set_index("code")


def days(frame, column="date"):
    return frame[column].dt.strftime("%Y-%m-%d").tolist()


def test_a_code_and_a_date_written_once_above_their_rows(folder):
    text = (
        "person,date,exercise,sets\na,2024-01-01,row,3\n,,press,2\n,2024-01-03,row,1\nSumme,,,6\n,,row,9\n"
        "b,,row,4\n,2024-01-05,row,5\n"
    )
    caseload = read(
        folder('[tables.sessions]\nfill_down = ["date", "person"]', sessions=text, checkins=RATED)
    )
    used = caseload.sessions
    assert used[["person", "sets"]].to_numpy().tolist() == [["a", 3], ["a", 2], ["a", 1], ["b", 5]]
    assert days(used) == ["2024-01-01", "2024-01-01", "2024-01-03", "2024-01-05"]
    assert caseload.quarantine[["row", "code"]].to_numpy().tolist() == [
        [5, "total_row"],
        [6, "missing_person"],
        [7, "missing_date"],
    ]
    filled = caseload.remarks.query("code == 'filled_down'").set_index("column")
    assert filled["count"].to_dict() == {"person": 3, "date": 1}
    assert filled.loc["person", "examples"].startswith("row 3: 'a'; row 4: 'a'")


def test_columns_that_are_not_wanted_are_neither_read_nor_remarked_on(folder):
    text = "person,date,pain,Stress,My  notes,other\na1,2024-01-01,3,4,x,y\n"
    caseload = read(folder('[tables.checkins]\nignore = ["stress", "my notes"]', checkins=text))
    assert caseload.checkins["stress"].isna().all()
    assert caseload.remarks["column"].tolist() == ["other"]


@pytest.mark.parametrize(
    ("clock", "first"), [("", "2001-01-01"), ("study_start = 2025-09-01\nfirst_day = 0", "2025-09-02")]
)
def test_days_that_are_numbered(folder, clock, first):
    text = "person,date,pain\na1,1,3\na1,Tag 8,4\na1,D15.0,5\na1,x,6\na1,0,2\n"
    plan = f'[tables.checkins]\ndate_format = "day"\n[clock]\n{clock}'
    caseload = read(folder(plan, checkins=text))
    assert days(caseload.checkins)[0] == first and caseload.study.numbered is not bool(clock)
    assert (caseload.checkins["date"].diff().dt.days[1:].tolist()) == [7, 7, -15]
    assert caseload.quarantine["code"].tolist() == ["bad_date"]
    assert ("day_zero" in told(caseload).index) is not bool(clock)


def test_weeks_that_are_numbered_count_steps(folder):
    root = folder('[tables.weeks]\ndate_format = "day"', weeks="person,week,pain\na,1,3\na,2,4\na,12,1\n")
    (root / "checkins.csv").unlink(missing_ok=True)
    assert days(read(root).weeks, "week") == ["2001-01-01", "2001-01-08", "2001-03-19"]


WIDE = """
[tables.weeks]
wide = { pain = { T0 = 0, T1 = 42, T2 = 84 }, worry = { "w0" = 0, "w2" = 84 } }
"""


def test_a_form_longer_than_a_week_whose_only_dates_are_its_headers(folder):
    text = "person,T0,T1,T2,w0,w2\na,5,4,,2,1\nb,7,,77,3,\n"
    caseload = read(folder(WIDE, weeks=text, **{"study.txt": ""}))
    weeks = caseload.weeks
    assert weeks[["person", "pain", "worry", "row"]].fillna(-1).to_numpy().tolist() == [
        ["a", 5, 2, 2], ["a", 4, -1, 2], ["a", -1, 1, 2], ["b", 7, 3, 3]
    ]  # fmt: skip
    assert days(weeks, "week") == ["2001-01-01", "2001-02-12", "2001-03-26", "2001-01-01"]
    assert (
        caseload.study.numbered
        and "whose date is not known" in told(caseload).loc["days_from_headers", "meaning"]
    )
    with pytest.raises(CaseloadError, match="several rows of a"):
        read(folder(WIDE, weeks=text + "a,1,1,1,1,1\n"))
    with pytest.raises(CaseloadError, match="no column 'week'"):
        read(folder(WIDE, weeks="person,from,T0,T1,T2,w0,w2\na,2024-01-01,5,4,,2,1\n"))


def test_hours_after_midnight_belong_to_the_evening_before(folder):
    text = "person,date,time,pain\na1,2024-01-02,01:30,3\na1,2024-01-02,04:01,4\na1,2024-01-02,,5\n"
    caseload = read(folder('[tables.checkins]\nday_ends = "04:00"', checkins=text))
    assert days(caseload.checkins) == ["2024-01-01", "2024-01-02", "2024-01-02"]
    assert caseload.checkins["time"].tolist()[:2] == ["23:59", "04:01"]
    assert told(caseload).loc["evening_before", "examples"] == "row 2: '01:30'"


def test_exact_ages_are_banded_and_levels_in_two_spellings_are_one(folder):
    text = "person,age_band,region,sex\na1,34,Knee,f\na2,30-39,knee ,F\na3,7.0,Knee,f\na4,old,Elbow,\n"
    caseload = read(folder("", checkins=RATED, people=text))
    assert caseload.people["age_band"].tolist() == ["30-39", "30-39", "0-9", "old"]
    assert caseload.people["region"].tolist() == ["Knee", "Knee", "Knee", "Elbow"]
    assert caseload.people["sex"].tolist()[:3] == ["f", "f", "f"]
    said = told(caseload)
    assert said.loc["banded_ages", "count"] == 2 and "34" not in said.loc["banded_ages", "examples"]
    assert said.loc["repair_level_case", "count"].tolist() == [1, 1]
    five = read(
        folder(
            "[tables.people.bands]\nage_band = 5\n[repair]\nlevel_case = false", checkins=RATED, people=text
        )
    )
    assert five.people["age_band"].tolist()[0] == "30-34" and five.people["region"].nunique() == 3


def test_spellings_of_an_exercise_are_one_where_the_plan_says_so(folder):
    text = (
        "person,date,exercise,sets\na1,2024-01-01,Rows,3\na1,2024-01-02,cable  ROW,3\na1,2024-01-03,press,1\n"
    )
    caseload = read(folder('[exercises.same]\n"Row " = ["rows", "Cable row"]', sessions=text, checkins=RATED))
    assert caseload.sessions["exercise"].tolist() == ["row", "row", "press"]
    assert told(caseload).loc["declared_spellings", "count"] == 2


def log_of_sets(effort, header="person,date,exercise,reps,load_kg,effort,minutes"):
    rows = [
        f"a{day % 2},2024-01-{day:02d},{name},{8 - at},50,{effort if (name, at) == ('row', 0) else ''},"
        f"{60 if (name, at) == ('row', 0) else ''}"
        for day in range(1, 9) for name in ("row", "press") for at in range(3)
    ]  # fmt: skip
    return "\n".join([header, *rows]) + "\n"


def test_a_row_per_set_without_a_column_of_sets_and_effort_once_per_session(folder):
    caseload = read(folder("", sessions=log_of_sets(7), checkins=RATED))
    sessions = caseload.sessions
    assert (
        sessions["sets"].eq(1).all() and sessions["effort"].eq(7).all() and sessions["minutes"].eq(10).all()
    )
    said = caseload.remarks.set_index(["code", "column"])["count"]
    assert said["repair_row_per_set", "sets"] == 48
    assert said["repair_once_per_session", "effort"] == said["repair_once_per_session", "minutes"] == 40
    off = read(
        folder(
            "[repair]\nrow_per_set = false\nonce_per_session = false", sessions=log_of_sets(7), checkins=RATED
        )
    )
    assert off.sessions["sets"].isna().all() and off.sessions["effort"].notna().sum() == 8


def test_an_effort_of_single_exercises_stays_theirs(folder):
    lines = log_of_sets(7).splitlines()
    lines[8] = lines[8].replace(",50,,", ",50,6,")
    lines[14] = lines[14].replace(",50,,", ",50,6,")
    caseload = read(folder("", sessions="\n".join(lines), checkins=RATED))
    assert caseload.sessions["effort"].notna().sum() == 10
    assert caseload.sessions["minutes"].eq(10).all()


def test_one_sheet_for_two_tables(folder):
    text = "person,date,exercise,sets,pain,mood\na,2024-01-01,row,3,4,x\na,2024-01-01,press,3,4,\na,2024-01-02,,,2,\na,2024-01-03,row,1,,\n"
    plan = '[tables.sessions]\nfile = "log.csv"\n[tables.checkins]\nfile = "log.csv"'
    root = folder(plan, **{"log.csv": text})
    caseload = read(root)
    assert caseload.sessions["sets"].tolist() == [3, 3, 1]
    assert caseload.checkins[["pain", "row"]].to_numpy().tolist() == [[4, 2], [2, 4]]
    ignored = caseload.remarks.query("code == 'ignored_column'")["column"]
    assert set(ignored) == {"mood"} and caseload.quarantine.empty
    assert told(caseload).loc["rows_of_another_table", "count"].tolist() == [1, 2]


def test_two_sheets_of_one_file_are_no_shared_sheet(folder, write_workbook):
    root = folder('[tables.sessions]\nfile = "log.xlsx"\n[tables.checkins]\nfile = "log.xlsx"')
    (root / "checkins.csv").unlink()
    rows = [["person", "date", "pain"], ["a", "2024-01-01", 3], ["a", "2024-01-01", 3]]
    write_workbook(
        root / "log.xlsx", {"checkins": rows, "Sessions": [["person", "date", "sets"], ["a", "2024-01-01"]]}
    )
    caseload = read(root)
    assert caseload.quarantine["code"].tolist() == ["duplicate_row"] and len(caseload.sessions) == 1


def test_a_date_written_once_a_day_holds_for_all_people_below_it(folder):
    text = "person,date,sets\na1,2024-01-01,5\na2,,6\na1,2024-01-08,7\na2,,8\n"
    caseload = read(folder('[tables.sessions]\nfill_down = ["date"]', sessions=text, checkins=RATED))
    assert caseload.sessions["date"].dt.day.tolist() == [1, 1, 8, 8]
