import pytest

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError

CHECKINS = "person,date,pain\na1,2024-01-07,3\n"


@pytest.mark.parametrize(
    "name", ["../outside.csv", "/etc/passwd", "..\\\\outside.csv", "C:\\\\x.csv", "a/../../outside.csv", "~/x.csv", "\\\\\\\\host\\\\x"]
)  # fmt: skip
def test_table_files_must_lie_inside(folder, tmp_path, name):
    (tmp_path / "outside.csv").write_text(CHECKINS)
    with pytest.raises(CaseloadError, match="inside the caseload folder"):
        read(folder(f'[tables.checkins]\nfile = "{name}"'))


def test_links_inside_the_folder_are_read(folder):
    root = folder()
    (root / "checkins.csv").rename(root / "real.csv")
    (root / "checkins.csv").symlink_to(root / "real.csv")
    assert len(read(root).checkins) == 3


def test_declared_file_missing_names_the_nearest(folder):
    root = folder('[tables.checkins]\nfile = "export Mach.csv"', **{"export March.csv": CHECKINS})
    with pytest.raises(CaseloadError, match=r"Did you mean 'export March\.csv'"):
        read(root)


def test_two_candidates_are_an_error(folder, write_workbook):
    root = folder()
    write_workbook(root / "checkins.xlsx", {"x": [["person", "date"], ["a", "2024-01-01"]]})
    with pytest.raises(CaseloadError, match="more than once"):
        read(root)


def test_no_table_and_no_checkins(folder):
    root = folder(**{"notes.md": "x"})
    with pytest.raises(CaseloadError, match="no table"):
        read(root)
    (root / "people.csv").write_text("person,region\na,elbow\n")
    with pytest.raises(
        CaseloadError, match="only people in this folder; sessions, checkins or weeks is needed"
    ):
        read(root)


def test_weeks_beside_sessions_or_checkins_is_an_error(folder):
    with pytest.raises(CaseloadError, match="both weeks and checkins"):
        read(folder(checkins=CHECKINS, weeks="person,week,load\na,2024-01-01,3\n"))


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
