"""One table in several files or sheets; one sheet for several tables."""

import pytest

from lagwise.caseload import check, read
from lagwise.core.errors import CaseloadError
from lagwise.pages.check_page import checked

FIRST, SECOND = (
    "date,pain\n2024-01-01,3\n2024-01-02,77\n",
    "date,pain,worry\n\n2024-01-01,4,1\n2024-01-02,88,x\n",
)


def test_one_file_a_person(folder, write_workbook):
    plan = '[tables.checkins]\nfiles = ["Proband *.csv"]\nperson_from = "file"'
    root = folder(
        plan, **{"Proband MK final.csv": FIRST, "Proband T-R final.csv": SECOND, "other.csv": "a\n"}
    )
    caseload = read(root)
    checkins = caseload.checkins
    assert checkins[["person", "pain"]].fillna(-1).to_numpy().tolist() == [["MK", 3], ["T-R", 4]]
    aside = caseload.quarantine[["file", "row", "column", "value"]].to_numpy().tolist()
    assert aside == [
        ["Proband MK final.csv", 3, "pain", "77"],
        ["Proband T-R final.csv", 4, "pain", "88"],
    ]
    said = caseload.remarks.set_index("code")
    assert "'Proband final' was cut" in said.loc["person_from_name", "meaning"]
    assert said.loc["unused_file", "examples"] == "other.csv"
    assert caseload.counts["file"].tolist() == ["Proband *.csv (2 files)"]
    assert len(check(caseload)) >= 0 and checkins["row"].is_unique


def test_a_check_names_the_file_of_each_row_once(folder):
    days = "".join(f"2024-01-{day:02d},{day % 4}\n" for day in range(1, 29))
    root = folder(
        '[tables.checkins]\nfiles = ["? *.csv"]\nperson_from = "file"',
        **{
            "A one.csv": f"date,pain\n{days}",
            "B two.csv": f"date,pain\n{days}2029-01-05,2\n2024-02-02,3-4\n",
        },
    )
    found = checked(root).noticed.set_index("code")["where"]
    assert (
        found["far_date"].endswith("B two.csv, row 30 (2029-01-05)") and found["far_date"].count(".csv") == 1
    )
    assert found["ranges"] == "checkins, B two.csv, row 31, pain: '3-4'"


def test_one_sheet_a_person_with_a_legend_among_them(folder, write_workbook):
    rows = [["Date", "Pain"], ["2024-01-01", 3], ["2024-01-08", 4]]
    root = folder('[tables.checkins]\nfile = "log.xlsx"\nsheets = "*"\nperson_from = "sheet"')
    (root / "checkins.csv").unlink()
    late = [["title"], [], *rows[:1], ["2031-01-08", 4]]
    write_workbook(root / "log.xlsx", {"MK": rows, "Legend": [["0", "none"]], "TR": late, "leer": []})
    caseload = read(root)
    assert caseload.checkins["person"].tolist() == ["MK", "MK", "TR"]
    told = caseload.remarks.set_index("code")["examples"]
    assert told["other_sheets"] == "Legend, leer" and "TR, row 4: '2031-01-08'" in told["future_date"]
    assert told["repair_title_rows"].startswith("TR: row 3")


def test_some_sheets_below_each_other_keep_their_own_codes(folder, write_workbook):
    def rows(code):
        return [["person", "date", "pain"], [code, "2024-01-01", 3], [code, "2024-01-08", "4 bis 5"]]

    root = folder('[tables.checkins]\nfile = "log.xlsx"\nsheets = ["May", "june "]')
    (root / "checkins.csv").unlink()
    write_workbook(root / "log.xlsx", {"May": rows("a"), "June": rows("b"), "July": rows("c")})
    caseload = read(root)
    assert caseload.checkins["person"].tolist() == ["a", "b"]
    assert caseload.quarantine["file"].tolist() == ["May", "June"]
    assert caseload.remarks.set_index("code").loc["unused_sheet", "examples"] == "log.xlsx: July"


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('files = ["Nobody *.csv"]', "no file of the folder fits"),
        ('files = ["../*.csv"]', "does not lie inside"),
        ('files = ["P*.csv"]\nperson_from = "file"', "has a column person"),
    ],
)
def test_parts_that_cannot_be_put_together(folder, keys, said):
    text = "person,date,pain\na,2024-01-01,3\n"
    with pytest.raises(CaseloadError, match=said):
        read(folder(f"[tables.checkins]\n{keys}", **{"P1.csv": text}))
