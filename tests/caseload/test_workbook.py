import zipfile
from datetime import date

import openpyxl
import pytest

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError

HEADER = ["person", "date", "pain", "flare", "time"]


def test_typed_cells_under_a_declared_decimal_comma_and_date_format(folder):
    study = '[tables.checkins]\ndecimal = ","\ndate_format = "%d.%m.%Y"'
    caseload = read(
        folder(study, checkins=[HEADER[:3], ["a1", date(2024, 1, 7), 3.5], ["a2", "08.01.2024", "4,5"]])
    )
    assert caseload.checkins["pain"].tolist() == [3.5, 4.5]
    assert caseload.checkins["date"].dt.day.tolist() == [7, 8]
    assert caseload.remarks.empty


def test_declared_sheet_and_missing_sheet(folder, write_workbook):
    root = folder('[tables.checkins]\nfile = "book.xlsx"\nsheet = "March"', **{"x.md": ""})
    write_workbook(
        root / "book.xlsx", {"April": [["x"]], "March": [["person", "date"], ["a1", "2024-01-07"]]}
    )
    assert len(read(root).checkins) == 1
    (root / "study.toml").write_text('title = "x"\n[tables.checkins]\nfile = "book.xlsx"\nsheet = "May"')
    with pytest.raises(CaseloadError, match=r"no sheet 'May'.*April, March"):
        read(root)


def test_merged_person_cells_are_a_repair_that_can_be_switched_off(folder):
    root = folder(**{"x.md": ""})
    book = openpyxl.Workbook()
    for row in (HEADER[:3], ["a1", "2024-01-07", 3], [None, "2024-01-14", 4], ["a2", "2024-01-07", 5]):
        book.active.append(row)
    book.active.merge_cells("A2:A3")
    book.save(root / "checkins.xlsx")
    caseload = read(root)
    assert caseload.checkins["person"].tolist() == ["a1", "a1", "a2"]
    assert caseload.remarks[["code", "count"]].to_numpy().tolist() == [["repair_merged_cells", 1]]
    (root / "study.toml").write_text('title = "x"\n[repair]\nmerged_cells = false')
    assert read(root).quarantine["code"].tolist() == ["missing_person"]


def test_archive_that_would_unpack_to_too_much(folder):
    root = folder(**{"x.md": ""})
    with zipfile.ZipFile(root / "checkins.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 30_000_000)
    with pytest.raises(CaseloadError, match="would unpack to 30 MB"):
        read(root)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b'<row r="2"', b'<row r="99999999999"', "more rows than a worksheet can hold"),
        (b'r="C2"', b'r="ZZZ2"', "beyond column"),
        (b'r="C2"', b'r="AAAAAAAA2"', "damaged near row 2"),
        (b'<row r="2"', b'<row r="2">' + b"<z/>" * 140_000 + b'</row><row r="3"', "damaged near row 2"),
        (b"</sheetData>", b"</sheetData>" + b"<z/>" * 5_100, "damaged near row 3"),
        (b"<sheetData>", b"<sheetData" + b"".join(b' a%d="1"' % i for i in range(12_000)) + b">", "no readable Excel"),
        (b"<worksheet ", b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><worksheet ', "no readable Excel workbook"),
    ],
)  # fmt: skip
def test_far_away_cells_and_entities_are_refused(folder, old, new, said, monkeypatch):
    monkeypatch.setattr("lagwise.caseload.workbook_sheet._MOST_OUTSIDE", 5_000)
    root = folder(checkins=[HEADER[:3], ["a1", "2024-01-07", 3]])
    source = root / "checkins.xlsx"
    with zipfile.ZipFile(source) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    sheet = "xl/worksheets/sheet1.xml"
    assert old in parts[sheet]
    parts[sheet] = parts[sheet].replace(old, new)
    with zipfile.ZipFile(source, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    with pytest.raises(CaseloadError, match=said):
        read(root)


def test_serial_numbers_of_the_1904_system(folder):
    book = openpyxl.Workbook()
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    for row in (["person", "date", "pain"], ["a1", date(2024, 1, 7), 3], ["a1", 43838, 3]):
        book.active.append(row)
    root = folder(**{"x.md": ""})
    book.save(root / "checkins.xlsx")
    assert read(root).checkins["date"].dt.strftime("%Y-%m-%d").tolist() == ["2024-01-07", "2024-01-09"]
