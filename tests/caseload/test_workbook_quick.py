"""A sheet read by its different cells says what it says cell by cell, or is left to be read so."""

import io
import random
from datetime import date, datetime, time, timedelta
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from lagwise.caseload import read, workbook
from lagwise.caseload.places import Place
from lagwise.caseload.workbook_archive import open_book
from lagwise.caseload.workbook_quick import _PIECE, quick_cells
from lagwise.caseload.workbook_sheet import cells_in
from lagwise.core.errors import CaseloadError
from lagwise.core.study import TableSource

PLACE = Place("checkins", Path("log.xlsx"), "log.xlsx", TableSource(decimal=","))


def mixed_book():
    made = openpyxl.Workbook()
    sheet = made.active
    rng = random.Random(5)
    kinds = [
        3, 3.25, -1e20, "a <b> & 'c' \"d\"", "  spaced  ", " ", "ümläut ✓", date(2024, 2, 29), datetime(2024, 1, 2, 7, 30),
        time(22, 15), timedelta(hours=30), True, "=A1+1", "=SUM(B1:B3)", "#N/A", None, None, None,
    ]  # fmt: skip
    for row in range(1, 60):
        for column in (1, 2, 3, 27, 28):
            if row % 7:
                sheet.cell(row, column, rng.choice(kinds))
    sheet.merge_cells("A3:A5")
    sheet.merge_cells("B10:C12")
    held = io.BytesIO()
    made.save(held)
    book = open_book(held.getvalue(), "log.xlsx")
    return book, next(iter(book.sheets))


def slowly(xml, book, sheet):
    found = cells_in(xml, book, sheet)
    return workbook._one_by_one(found, PLACE), found.merges


def quickly(xml, book, sheet):
    found = quick_cells(xml, book, sheet)
    return None if found is None else (workbook._together(found, PLACE), found.merges)


def test_a_sheet_of_every_kind_of_cell():
    book, sheet = mixed_book()
    xml = book.plain_sheet(sheet)
    (quick, merges), (slow, same) = quickly(xml, book, sheet), slowly(xml, book, sheet)
    pd.testing.assert_frame_equal(quick, slow)
    assert merges == same and len(merges) == 2
    assert {"=A1+1", "2024-02-29", "yes", "3,25", "22:15:00"} <= set(quick[27].dropna()) | set(
        quick[0].dropna()
    )


def test_whatever_is_changed_in_its_xml_nothing_else_is_read_from_it():
    book, sheet = mixed_book()
    xml = book.plain_sheet(sheet)
    start = xml.find(b"<sheetData>")
    rng = random.Random(3)
    read_quickly = 0
    for _ in range(120):
        at = rng.randrange(start, len(xml) - 12)
        new = rng.choice(
            [
                b"", b"<", b">", b'"', b"<c ", b"</row>", b'<row r="9">', b"7", b"A", b"<z/>", b"'",
                xml[at : at + 40]],
        )  # fmt: skip
        changed = xml[:at] + new + xml[at + rng.choice([0, 1, len(new)]) :]
        try:
            quick = quickly(changed, book, sheet)
        except CaseloadError:
            quick = None
        if quick is None:
            continue
        read_quickly += 1
        slow, merges = slowly(changed, book, sheet)
        pd.testing.assert_frame_equal(quick[0], slow)
        assert quick[1] == merges
    assert read_quickly > 10


def test_a_big_sheet_in_several_pieces(folder, monkeypatch):
    monkeypatch.setattr("lagwise.caseload.workbook_quick._PIECE", 3000)
    rows = [[f"a{i % 5}", date(2024, 1, 1) + timedelta(days=i), i % 11] for i in range(500)]
    caseload = read(folder("", checkins=[["person", "date", "pain"], *rows]))
    assert caseload.checkins["pain"].tolist() == [i % 11 for i in range(500) if i % 11 <= 10]
    assert caseload.checkins["row"].tolist() == list(range(2, 502)) and _PIECE > 3000


def test_more_cells_than_one_by_one_are_read(folder, monkeypatch):
    rows = [["a", "2024-01-01", 3], ["a", "2024-01-02", 4]]
    root = folder("", checkins=[["person", "date", "pain"], *rows])
    monkeypatch.setattr("lagwise.caseload.workbook_archive.MAX_CELLS", 5)
    assert len(read(root).checkins) == 2
    monkeypatch.setattr(workbook, "quick_cells", lambda *_: None)
    with pytest.raises(CaseloadError, match="more than 5 cells"):
        read(root)
