import pytest

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError

STUDY = """
[tables.checkins.columns]
date = "week from"
[tables.checkins.wide.pain]
Mon = 0
Tue = 1
Wed = 2
[tables.checkins.wide.sleep_hours]
"Mon h" = 0
"Tue h" = 1
"""
TEXT = (
    "person,week from,Mon,Tue,Wed,Mon h,Tue h,worry\n"
    "a,2024-01-01,3,,5,7,8,2\n"
    "b,2024-01-01,,,,,,4\n"
    "c,2024-01-08,1,,,,,\n"
    "d,2024-01-08,1,77,,,,\n"
)


def test_one_column_per_day_becomes_one_row_per_day(folder):
    caseload = read(folder(STUDY, checkins=TEXT))
    got = caseload.checkins.assign(date=caseload.checkins["date"].dt.strftime("%m-%d"))
    got = (
        got[["person", "date", "pain", "sleep_hours", "worry", "row"]]
        .astype(object)
        .where(lambda f: f.notna(), None)
    )
    assert got.to_numpy().tolist() == [
        ["a", "01-01", 3.0, 7.0, 2.0, 2], ["a", "01-02", None, 8.0, 2.0, 2],
        ["a", "01-03", 5.0, None, 2.0, 2], ["b", "01-01", None, None, 4.0, 3],
        ["c", "01-08", 1.0, None, None, 4], ["d", "01-08", 1.0, None, None, 5],
    ]  # fmt: skip
    assert caseload.quarantine[["row", "column", "value", "code"]].to_numpy().tolist() == [
        [5, "pain", "77", "out_of_range"]
    ]
    assert caseload.counts[["read", "used", "quarantined"]].to_numpy().tolist() == [[7, 6, 1]]
    assert caseload.remarks.query("code == 'wide_layout'")["count"].tolist() == [7]


def test_declared_day_column_missing(folder):
    with pytest.raises(CaseloadError, match="no column 'Tue', named for pain"):
        read(folder(STUDY, checkins=TEXT.replace("Tue,Wed", "Tues,Wed")))


def test_bad_start_date_sets_all_its_days_aside(folder):
    caseload = read(folder(STUDY, checkins=TEXT.replace("a,2024-01-01", "a,2024-01-41")))
    assert caseload.quarantine.query("code == 'bad_date'")["row"].tolist() == [2, 2, 2]


def test_two_columns_of_one_day_are_two_ratings_of_it(folder):
    study = '[tables.checkins.wide.pain]\n"Mon early" = 0\n"Mon late" = 0\nTue = 1\n[tables.checkins.wide.stress]\nS = 0\n'
    text = "person,date,Mon early,Mon late,Tue,S\na,2024-01-01,3,6,5,2\nb,2024-01-01,,4,,\nc,2024-01-01,,,,\n"
    got = read(folder(study, checkins=text)).checkins
    assert got["pain"].fillna(-1).tolist() == [3, 6, 5, 4, -1]
    assert got["stress"].fillna(-1).tolist() == [2, -1, -1, -1, -1]
    assert got["date"].dt.day.tolist() == [1, 1, 2, 1, 1]
