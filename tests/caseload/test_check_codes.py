import pytest

from lagwise.caseload import read
from lagwise.caseload.check_values import missing_codes

CHECKINS = "person,date,pain\na1,2024-01-07,3\n"
PEOPLE = "person,sex,age_band,training_years,months_with_pain\n"


def found(folder, *rows: str):
    return missing_codes(read(folder(checkins=CHECKINS, people=PEOPLE + "\n".join(rows) + "\n")))


def test_codes_far_above_the_others_and_among_words_or_codes_are_named(folder):
    rows = ("a1,1,30-39,3,999", "b2,2,-99,99,12", "c3,9,40-49,5,40")
    (finding,) = found(folder, *rows)
    assert (finding.code, finding.table, finding.count) == ("missing_code", "people", 4)
    assert finding.where.split("; ") == [
        "b2, row 3 (age_band -99)", "c3, row 4 (sex 9)", "a1, row 2 (months_with_pain 999)", "b2, row 3 (training_years 99)",
    ]  # fmt: skip
    declared = finding.mend.split("write ")[1].split(" under ")[0]
    assert (
        missing_codes(
            read(folder(f"[tables.people]\n{declared}", checkins=CHECKINS, people=PEOPLE + "\n".join(rows)))
        )
        == []
    )


@pytest.mark.parametrize(
    "rows",
    [
        ("a1,1,30-39,3,99", "b2,2,40-49,5,80"), ("a1,1,30,3,12", "b2,2,66,5,40", "c3,2,77,5,40"),
        ("a1,f,30-39,,999", "b2,m,30-39,,"), ("a1,7,30-39,1,1", "b2,8,40-49,2,2")],
)  # fmt: skip
def test_such_numbers_among_their_like_are_not_accused(folder, rows):
    assert found(folder, *rows) == []


def test_codes_among_loads(folder):
    sessions = "person,date,sets,load_kg\n" + "".join(
        f"a1,2024-01-{d:02d},3,{k}\n" for d, k in ((1, 40), (3, 42.5), (5, 99), (7, 100))
    )
    assert missing_codes(read(folder(checkins=CHECKINS, sessions=sessions))) == []
    (finding,) = missing_codes(read(folder(checkins=CHECKINS, sessions=sessions.replace(",100\n", ",45\n"))))
    assert finding.where == "a1, row 4 (load_kg 99)"
