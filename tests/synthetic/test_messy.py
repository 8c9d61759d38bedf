"""The raw exports: every planted fault is found where it was planted, and nothing else is accused."""

import json
import re
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

import lagwise as lw
from lagwise.caseload import check
from lagwise.caseload.check import CHECKS
from lagwise.caseload.repairs import ASKED_FOR, REPAIRS
from lagwise.core.errors import CaseloadError

ROOT = Path(__file__).parents[2] / "data_synthetic" / "messy"
FAULTS = json.loads((ROOT / "faults.json").read_text("utf-8"))["faults"]
FOLDERS = sorted({fault["folder"] for fault in FAULTS if fault["found_in"] != "stop"})
QUARANTINE_CODES = {
    "missing_person", "missing_date", "missing_kind", "missing_week", "bad_date", "bad_time", "bad_number", "bad_yes_no",
    "bad_choice", "formula_without_value", "out_of_range", "not_whole", "too_long", "sets_and_reps_differ",
    "too_many_cells", "duplicate_row", "person_twice", "header_again", "total_row",
}  # fmt: skip


@cache
def looked_at(folder: str):
    """A caseload as it is read, and what checking finds in it."""
    caseload = lw.read(ROOT / folder)
    return caseload, check(caseload)


def rows_in(text: str) -> list[int]:
    """Row numbers in 'row 3: ...; row 9: ...', 'row 3, 9' or 'SE-01, row 3 (82.5)'."""
    found = re.findall(r"(?:row|line) (\d+(?:, \d+)*)", text)
    return [int(number) for part in found for number in part.split(", ")]


def accused(caseload: lw.Caseload, findings) -> set[tuple]:
    """(found_in, table, column, code, row) of everything that reading and checking say; findings name no column."""
    out = {
        ("quarantine", q["table"], q["column"], q["code"], q["row"])
        for q in caseload.quarantine.to_dict("records")
    }
    for remark in caseload.remarks.to_dict("records"):
        for row in rows_in(remark["examples"]) or [None]:
            out.add(("remarks", remark["table"], remark["column"], remark["code"], row))
    for finding in findings.to_dict("records"):
        for row in rows_in(finding["where"]) or [None]:
            out.add(("findings", finding["table"], "", finding["code"], row))
    return out


def planted(folder: str) -> list[tuple]:
    return [
        (f["found_in"], f["table"], "" if f["found_in"] == "findings" else f["column"], f["code"], f["row"])
        for f in FAULTS
        if f["folder"] == folder
    ]


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_planted_fault_is_found_there_and_nothing_else_is_accused(folder):
    expected = planted(folder)
    assert len(expected) == len(set(expected))
    assert accused(*looked_at(folder)) == set(expected)


@pytest.mark.parametrize("folder", FOLDERS)
def test_counts_and_names_are_those_planted(folder):
    caseload, findings = looked_at(folder)
    said = {("remarks", r["table"], r["code"], r["column"]): r for r in caseload.remarks.to_dict("records")}
    said |= {("findings", f["table"], f["code"], ""): f for f in findings.to_dict("records")}
    expected: Counter = Counter()
    for fault in FAULTS:
        if fault["folder"] == folder and fault["found_in"] in ("remarks", "findings"):
            key = (
                fault["found_in"],
                fault["table"],
                fault["code"],
                fault["column"] * (fault["found_in"] == "remarks"),
            )
            expected[key] += fault.get("count", 1)
            where = said[key].get("where", "") + said[key].get("examples", "")
            assert all(name in where for name in fault.get("names", ())), where
    assert {key: one["count"] for key, one in said.items()} == expected
    for table, counts in caseload.counts.set_index("table").iterrows():
        aside = sum(
            f["folder"] == folder and f["table"] == table and f["found_in"] == "quarantine" for f in FAULTS
        )
        whole = caseload.quarantine.query("table == @table")["whole_row"].sum()
        assert (counts["read"], counts["quarantined"]) == (counts["used"] + whole, whole)
        assert counts["cells_quarantined"] == aside - whole
        assert counts["cells_read"] == counts["cells_used"] + counts["cells_quarantined"]


def test_ambiguous_dates_stop_with_a_question():
    (fault,) = (f for f in FAULTS if f["found_in"] == "stop")
    with pytest.raises(CaseloadError, match=r"day first or month first\?") as stopped:
        lw.read(ROOT / fault["folder"])
    assert f"{fault['table']}.csv, column {fault['column']}" in str(stopped.value)


def test_every_repair_reason_and_check_is_planted_somewhere():
    codes = {fault["code"] for fault in FAULTS}
    of_practices = ("row_per_set", "once_per_session", "level_case")  # planted in messy/practices
    assert {f"repair_{name}" for name in REPAIRS if name not in (*ASKED_FOR, *of_practices)} <= codes
    assert codes >= QUARANTINE_CODES
    # A scale in question is no fault of a cell; names that are asked about are none either.
    asked = [one for one in CHECKS if one.__module__.endswith("check_names")]
    assert len({f["code"] for f in FAULTS if f["found_in"] == "findings"}) >= len(CHECKS) - 1 - len(asked)


def test_the_files_are_written_the_way_a_practice_writes_them():
    first = ROOT / "first_export"
    assert (first / "Befinden Herbst.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    with pytest.raises(UnicodeDecodeError):
        (first / "sessions.csv").read_text("utf-8")
    checkins = looked_at("first_export")[0].checkins
    assert (checkins["sleep_hours"] % 1 == 0.5).any()
    assert checkins["date"].dt.year.eq(2024).all()
