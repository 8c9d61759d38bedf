from __future__ import annotations

import pandas as pd
import pytest

from lagwise.caseload import read
from lagwise.caseload.identifiers import looks_like


@pytest.mark.parametrize(
    ("header", "kind"),
    [
        ("Name", "a name"), ("First name", "a name"), ("lastName", "a name"), ("Nachname", "a name"),
        ("E-Mail", "an e-mail address"), ("email_address", "an e-mail address"), ("Mobile", "a phone number"),
        ("DOB", "a birth date"), ("Date of birth", "a birth date"), ("Geburtsdatum", "a birth date"),
        ("Street", "an address"), ("PLZ", "an address"), ("Patient ID", "a record number"), ("MRN", "a record number"),
        ("case number", "a record number"), ("Comments", "free text"), ("Free text", "free text"), ("Bemerkung", "free text"),
    ],
)  # fmt: skip
def test_headers_that_look_identifying(header, kind):
    assert looks_like(header) == kind


@pytest.mark.parametrize(
    "header", ["mood", "weather", "Exercise name", "steps", "session name", "bodyweight", "hrv", "vas"]
)
def test_harmless_headers(header):
    assert looks_like(header) == ""


@pytest.mark.parametrize(
    ("values", "kind"),
    [
        (["a@b.example", "c.d@e.example"], "an e-mail address"),
        (["+49 30 1234567", "0171-2345678"], "a phone number"),
        (["slept badly after the trip", "was fine until the last set"], "free text"),
        (["good", "bad"], ""),
        (["3", "4"], ""),
    ],
)
def test_values_that_look_identifying(values, kind):
    assert looks_like("column7", pd.Series(values, dtype="str")) == kind


def test_identifying_columns_are_named_and_never_carried(folder):
    caseload = read(
        folder(
            checkins="person,date,pain,Name,x\na,2024-01-01,3,Zora Quill,zora@q.example\nb,2024-01-02,3,Ana Voss,ana@v.example\n"
        )
    )
    found = caseload.remarks.query("code == 'identifier_column'")
    assert found["column"].tolist() == ["Name", "x"]
    everything = "".join(
        frame.to_csv() for frame in (caseload.checkins, caseload.remarks, caseload.quarantine, caseload.counts)
    )
    assert "Zora" not in everything
    assert "q.example" not in everything


def test_codes_that_look_like_names(folder):
    named = read(folder(checkins="person,date,pain\nZora Quill,2024-01-01,3\nAna Voss,2024-01-01,4\n"))
    assert named.remarks[["code", "column", "count"]].to_numpy().tolist() == [["identifier_column", "person", 2]]
    coded = read(folder(checkins="person,date,pain\nP 01,2024-01-01,3\nelbow07,2024-01-01,4\n"))
    assert coded.remarks.empty
