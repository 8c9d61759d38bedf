import pytest

from lagwise.caseload import read
from lagwise.caseload.text_file import Coded, _quick_cells
from lagwise.core.errors import CaseloadError

ROWS = "person{s}date{s}pain\na1{s}2024-01-07{s}3\na2{s}2024-01-07{s}4\n"


@pytest.mark.parametrize(("sep", "name"), [(";", "semicolon"), ("\t", "tab")])
def test_undeclared_separator_is_found_and_remarked(folder, sep, name):
    caseload = read(folder(checkins=ROWS.format(s=sep)))
    assert caseload.checkins["pain"].tolist() == [3.0, 4.0]
    remark = caseload.remarks.query("code == 'separator_detected'")
    assert remark["examples"].tolist() == [f"'{name}'"]


def test_comma_and_declared_separators_need_no_remark(folder):
    assert read(folder(checkins=ROWS.format(s=","))).remarks.empty
    assert read(folder('[tables.checkins]\nsep = "|"', checkins=ROWS.format(s="|"))).remarks.empty


def test_decimal_commas_under_semicolons_do_not_mislead_the_separator(folder):
    text = "person;date;pain;sleep_hours\na1;2024-01-07;3,5;7,25\na2;2024-01-07;4,5;6,5\n"
    caseload = read(folder('[tables.checkins]\ndecimal = ","', checkins=text))
    assert caseload.checkins["sleep_hours"].tolist() == [7.25, 6.5]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_byte_order_marks(folder, encoding):
    caseload = read(folder(checkins=ROWS.format(s=",").encode(encoding)))
    assert caseload.checkins["person"].tolist() == ["a1", "a2"]


def test_declared_utf8_with_byte_order_mark(folder):
    text = ROWS.format(s=",").encode("utf-8-sig")
    assert len(read(folder('[tables.checkins]\nencoding = "UTF-8"', checkins=text)).checkins) == 2


def test_windows_encoding_is_a_repair_that_can_be_switched_off(folder):
    text = "person,date,pain\nMü1,2024-01-07,3\n".encode("cp1252")
    caseload = read(folder(checkins=text))
    assert caseload.checkins["person"].tolist() == ["Mü1"]
    assert caseload.remarks["code"].tolist() == ["repair_encoding"]
    assert "line 2" in caseload.remarks["examples"][0]
    with pytest.raises(CaseloadError, match="line 2 is not text in the encoding utf-8"):
        read(folder("[repair]\nencoding = false", checkins=text))


def test_row_numbers_count_blank_lines_and_header_row(folder):
    text = "an export\n\nperson,date,pain\n\na1,2024-01-07,3\n,,\n\na2,2024-01-07,44\n"
    caseload = read(folder("[tables.checkins]\nheader_row = 3", checkins=text))
    assert caseload.checkins["row"].tolist() == [5]
    assert caseload.quarantine["row"].tolist() == [8]
    assert caseload.counts[["read", "used", "quarantined"]].to_numpy().tolist() == [[2, 1, 1]]


def test_title_rows_above_the_header_are_a_repair(folder):
    text = "Export of March\nmade 2024\nperson,date,pain\na1,2024-01-07,3\n"
    caseload = read(folder(checkins=text))
    assert caseload.checkins["row"].tolist() == [4]
    assert caseload.remarks["code"].tolist() == ["repair_title_rows"]
    with pytest.raises(CaseloadError, match="no column 'person'"):
        read(folder("[repair]\ntitle_rows = false", checkins=text))


def test_rows_with_too_many_or_too_few_cells(folder):
    text = "person,date,pain\na1,2024-01-07,3,5\na2,2024-01-07\na3,2024-01-07,2,\n"
    caseload = read(folder(checkins=text))
    assert caseload.quarantine[["row", "code"]].to_numpy().tolist() == [[2, "too_many_cells"]]
    assert caseload.checkins["person"].tolist() == ["a2", "a3"]


def test_line_breaks_within_a_quoted_cell_keep_rows_right(folder):
    text = 'person,date,pain,note\na1,2024-01-07,3,"slept\nbadly"\na2,2024-01-07,30,x\n'
    caseload = read(folder(checkins=text))
    assert caseload.checkins["row"].tolist() == [2]
    assert caseload.quarantine["row"].tolist() == [3]


def test_a_nameless_column(folder):
    caseload = read(folder(checkins="person,date,,pain\na1,2024-01-07,x,4\n"))
    assert caseload.checkins["pain"].tolist() == [4.0]
    assert caseload.remarks["column"].tolist() == ["column 3"]


def test_quick_and_careful_cells_agree():
    text = ROWS.format(s=",") + "\n , ,\na3,2024-01-07,\n"
    quick = _quick_cells(Coded(text.encode(), "utf-8"), ",", 3)
    assert quick.iloc[:, 0].tolist()[:3] == ["person", "a1", "a2"]
    assert quick.isna().all(axis=1).tolist() == [False, False, False, True, True, False]
    assert _quick_cells(Coded((text + "a,b,c,d\n").encode(), "utf-8"), ",", 3) is None


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("empty", ["", "\n"])
def test_a_large_file_reads_as_a_small_one(folder, monkeypatch, end, empty):
    text = f"\ufeffperson,date,pain,note\na1,2024-01-07,3,h\u00e9\u2009\n{empty}b2,2024-01-08, ,NA\n ,,,\nc3,2024-01-09,x,\n"
    slow = read(folder(checkins=text.replace("\n", end)))
    monkeypatch.setattr("lagwise.caseload.text_file.QUICK_FROM", 0)
    quick = read(folder(checkins=text.replace("\n", end)))
    for name in ("checkins", "quarantine", "counts"):
        assert getattr(quick, name).equals(getattr(slow, name))
    assert quick.quarantine["row"].tolist() == [5 + bool(empty)]


REFUSED = [
    ("", b"", "empty"), ("", b"\n\n  \n", "empty"), ("", b"\xef\xbb\xbf", "empty"), ("", b",,\n,,\n", "empty"),
    ('encoding = "ascii"', "person,date\n\u00e4,2024-01-07\n", "line 2 is not text in the encoding ascii"),
    ("header_row = 30", ROWS.format(s=","), "below the last row"),
    ("header_row = 2", "x\n\nperson,date\na1,2024-01-07\n", "should hold the column names"),
    ("", 'person,date,pain\n"a1,2024-01-07,3\na2,2024-01-07,3\na3,2024-01-07,"3\n', "quotation mark opened in row 2"),
    ("", "person,date" + "," * 1500 + "x\n" + "a\n" * 2000, "nearly all of them empty"),
    ("", "person,date" + "," * 2500 + "x\na\n", "more than 2000 columns"),
]  # fmt: skip


@pytest.mark.parametrize(("plan", "content", "match"), REFUSED)
def test_files_that_are_no_table(folder, plan, content, match):
    with pytest.raises(CaseloadError, match=match):
        read(folder(f"[tables.checkins]\n{plan}", checkins=content))
