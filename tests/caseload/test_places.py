import pytest

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError

CHECKINS = "person,date,pain\na1,2024-01-07,3\n"


WEEKS = "person,week,load\na,2024-01-01,3\n"
BOTH = [["person", "date"], ["a", "2024-01-01"]]


@pytest.mark.parametrize(
    ("file", "tables", "match"),
    [
        *((name, {}, "inside the caseload folder") for name in (
            "../outside.csv", "/etc/passwd", "..\\outside.csv", "C:\\x.csv", "a/../../outside.csv", "~/x.csv", "\\\\host\\x")),
        ("export Mach.csv", {"export March.csv": CHECKINS}, r"Did you mean 'export March\.csv'"),
        ("", {"checkins.csv": CHECKINS, "checkins": BOTH}, "more than once"),
        ("", {"notes.md": "x"}, "no table"),
        ("", {"people": "person,region\na,elbow\n"}, "only people in this folder; sessions, checkins or weeks is needed"),
        ("", {"checkins": CHECKINS, "weeks": WEEKS}, "both weeks and checkins"),
    ],
)  # fmt: skip
def test_tables_that_are_elsewhere_twice_or_nowhere(folder, tmp_path, file, tables, match):
    (tmp_path / "outside.csv").write_text(CHECKINS)
    with pytest.raises(CaseloadError, match=match):
        read(folder(f"[tables.checkins]\nfile = '{file}'" if file else "", **tables))


def test_links_inside_the_folder_are_read(folder):
    root = folder()
    (root / "checkins.csv").rename(root / "real.csv")
    (root / "checkins.csv").symlink_to(root / "real.csv")
    assert len(read(root).checkins) == 3


def test_subfolder_upper_case_and_unused_files(folder):
    root = folder('[tables.people]\nfile = "more/who.csv"')
    (root / "more").mkdir()
    (root / "more" / "who.csv").write_text("person,sex\na1,f\n")
    (root / "checkins.csv").rename(root / "CheckIns.CSV")
    (root / "old.csv").write_text("x")
    caseload = read(root)
    assert caseload.people["sex"].tolist() == ["f"]
    assert len(caseload.checkins) == 3
    assert caseload.remarks.query("code == 'unused_file'")["examples"].tolist() == ["old.csv"]


def test_data_hash_depends_on_table_bytes_only(folder):
    root = folder()
    first = read(root).data_hash
    (root / "study.toml").write_text("title = 'another'\n")
    assert read(root).data_hash == first
    (root / "checkins.csv").write_text(CHECKINS)
    assert read(root).data_hash != first


def test_a_blank_template_beside_a_workbook_stops_nothing(tmp_path):
    from openpyxl import Workbook

    from lagwise.caseload.start import start

    folder = tmp_path / "c"
    start(folder)
    book = Workbook()
    book.active.title = "weeks"
    for row in (["person", "week", "pain"], ["a1", "2024-01-01", 3], ["a1", "2024-01-08", 4]):
        book.active.append(row)
    book.save(folder / "caseload.xlsx")
    caseload = read(folder)
    assert caseload.counts["table"].tolist() == ["people", "events", "weeks"]
    book.active.title = "checkins"
    book.active["B1"] = "date"
    book.save(folder / "caseload.xlsx")
    caseload = read(folder)
    assert (len(caseload.checkins), "unused_file" in {*caseload.remarks["code"]}) == (2, False)
