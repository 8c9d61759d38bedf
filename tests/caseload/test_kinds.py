"""Files that are no table of rows: each is told in one line with the way on."""

import pytest

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError

OLD = bytes.fromhex("D0CF11E0A1B11AE1") + b"\0" * 504
SEALED = OLD + "EncryptedPackage".encode("utf-16-le")
CSV = b"person,date,pain\na,2024-01-01,3\n"


@pytest.mark.parametrize(
    ("name", "content", "what", "way"),
    [
        ("log.pdf", b"%PDF-1.7\n", "is a PDF", "type it into a spreadsheet"),
        ("log.png", b"\x89PNG\r\n", "is a picture", "Type its numbers"),
        ("checkins.csv", b"\xff\xd8\xff\xe0JFIF", "is a picture", "Type its numbers"),
        ("IMG.heic", b"\0\0\0\x18ftypheic", "is a picture", "Type its numbers"),
        ("log.xls", OLD, "old Excel workbook", "save it as .xlsx"),
        ("checkins.xlsx", OLD, "old Excel workbook", "save it as .xlsx"),
        ("checkins.xlsx", SEALED, "protected by a password", "take the password away"),
        ("checkins.xlsx", b"<html><table>", "a web page", "save it as .xlsx"),
        ("checkins.xlsx", CSV, "text with the name of a workbook", "end in .csv"),
        ("checkins.csv", b"PK\x03\x04\0", "a workbook with the name of a text file", "end in .xlsx"),
        ("log.numbers", b"PK\x03\x04", "is a Numbers file", "Export it"),
        ("log.sav", b"$FL2", "statistics program", "Save the table"),
        ("log.xyz", b"abc", "files ending in '.xyz' are not read", ".csv, .xlsx or .parquet"),
    ],
)
@pytest.mark.parametrize("named", [True, False])
def test_what_is_no_table(folder, name, content, what, way, named):
    plan = f'[tables.checkins]\nfile = "{name}"' if named else ""
    with pytest.raises(CaseloadError) as caught:
        read(folder(plan, **{name: content}))
    if named or not name.endswith("xyz"):
        assert what in str(caught.value) and way in str(caught.value)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([["Row Labels", "Sum of pain"], ["a", 33], ["Grand Total", 36]], "is a pivot table"),
        ([["Überblick"], ["Zeilenbeschriftungen", "Mittelwert von NRS"], ["a", 3.3]], "is a pivot table"),
        (
            [["person", "date", "ratings"], [None, None, "pain", "stress"], ["a", "2024-01-01", 3, 2]],
            "in two rows",
        ),
        ([["person", "date", "pain"], ["a", "=DATE(2024,1,1)", 3]], "save it, so that values are stored"),
        ([["person", "date", "pain"], ["=A1", "2024-01-01", 3]], "save it, so that values are stored"),
        ([], "is empty"),
    ],
)
def test_sheets_without_rows_of_a_table(folder, rows, said):
    with pytest.raises(CaseloadError, match=said):
        read(folder("", checkins=rows))


def test_a_workbook_that_is_open_and_codes_written_once(folder):
    root = folder("", checkins="person,date,pain\na,2024-01-01,3\n,2024-01-08,4\n")
    (root / "~$checkins.csv").write_bytes(b"\x05Me")
    caseload = read(root)
    assert caseload.remarks.set_index("code").loc["open_file", "examples"] == "checkins.csv"
    assert "unused_file" not in caseload.remarks["code"].tolist()
    assert 'fill_down = ["person"] under [tables.checkins]' in caseload.quarantine["mend"].iloc[0]
