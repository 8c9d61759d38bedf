import pandas as pd
import pytest

from lagwise.caseload import read
from lagwise.caseload.identifiers import codes_that_identify, looks_like


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
        frame.to_csv()
        for frame in (caseload.checkins, caseload.remarks, caseload.quarantine, caseload.counts)
    )
    assert "Zora" not in everything
    assert "q.example" not in everything


def test_codes_that_look_like_names(folder):
    named = read(folder(checkins="person,date,pain\nZora Quill,2024-01-01,3\nAna Voss,2024-01-01,4\n"))
    assert named.remarks[["code", "column", "count"]].to_numpy().tolist() == [
        ["identifier_column", "person", 2]
    ]
    coded = read(folder(checkins="person,date,pain\nP 01,2024-01-01,3\nelbow07,2024-01-01,4\n"))
    assert coded.remarks.empty


@pytest.mark.parametrize(
    ("codes", "count"),
    [
        (["P-01", "P-02", "P-03", "Zora Quill"], 1), (["P-01", "P-02", "zora@quill.example", "P-04"], 1),
        (["Anna", "P-02", "peter2", "P-04"], 2), (["AB1985", "CD_1990", "E-1971", "P-04"], 3),
        (["17.03.1985", "19850317", "MK03.12.1990"], 3)],
)  # fmt: skip
def test_a_few_telling_codes_are_enough(codes, count):
    (remark,) = codes_that_identify("checkins", pd.Series(codes, dtype="str"))
    assert (remark.code, remark.column, remark.count, remark.examples) == (
        "identifier_column", "person", count, "",
    )  # fmt: skip


@pytest.mark.parametrize(
    "codes",
    [
        ["P-01", "P-02", "Max"], ["SE-2024-01", "SE-2024-02", "SE-2024-03"], ["1001", "1002", "2003"], ["AB2024", "CD2024", "EF2023"],
        ["K7Q2M", "P-HMY", "elbow07"], ["AB1985", "P-2", "P-3", "P-4", "P-5"],
    ],
)  # fmt: skip
def test_plain_codes_are_not_accused(codes):
    assert codes_that_identify("checkins", pd.Series(codes, dtype="str")) == []
