"""Raw exports of an invented practice with every fault that the reader and the checks know, and a list of them."""

from __future__ import annotations

import json
from typing import Any

from lagwise.synthetic.messy_exchange import exchanged_export
from lagwise.synthetic.messy_exports import first_export, second_export
from lagwise.synthetic.messy_forms import ambiguous_dates, clinic_workbook, summed_weeks, weekly_form
from lagwise.synthetic.messy_log import gym_log

EXPORTS = {
    e.__name__: e
    for e in (
        first_export,
        second_export,
        clinic_workbook,
        weekly_form,
        summed_weeks,
        gym_log,
        exchanged_export,
        ambiguous_dates,
    )
}
"""Folder name -> function that makes the folder."""
FAULTS = "faults.json"
_ABOUT = (
    "Every fault planted in the folders beside this file. found_in says where it shows: quarantine (the row is set "
    "aside), remarks (kept, repaired or not used), findings (of check), or stop (the reading ends with a question). "
    "row is counted as in the file, header = row 1; count says how often where that is not once, and names what the place must name. "
    "No person, practice or record in these files exists."
)
_REMARKS = (
    "separator_detected", "ignored_column", "identifier_column", "unused_file", "unused_sheet", "future_date",
    "wide_layout", "repeated_sessions", "contradiction", "declared_missing",
)  # fmt: skip
_FINDINGS = (
    "alike_codes", "shared_checkins", "shared_sessions", "sessions_alone", "people_alone", "events_alone", "far_date",
    "after_last_checkin", "session_in_break", "resumed_without_stop", "repeated_rows", "pound_jump", "frozen_ratings",
    "heaped_ratings", "effort_contradiction", "unlikely_sleep", "ratings_per_step_vary", "missing_code", "exchanged_people", "exchanged_days", "second_ratings", "sent_twice", "straight_lines",
    "out_of_order",
)  # fmt: skip


def messy() -> dict[str, bytes]:
    """Path below data_synthetic/messy -> bytes: one caseload folder per export, and faults.json; always the same."""
    out: dict[str, bytes] = {}
    faults: list[dict[str, Any]] = []
    for folder, make in EXPORTS.items():
        files, tables = make()
        out |= {f"{folder}/{name}": data for name, data in files.items()}
        faults += [{**fault, "found_in": _found_in(fault["code"])} for table in tables for fault in table.faults()]
    lines = ",\n  ".join(json.dumps(fault, ensure_ascii=False) for fault in faults)
    text = f'{{\n "about": {json.dumps(_ABOUT)},\n "faults": [\n  {lines}\n ]\n}}\n'
    return out | {FAULTS: text.encode()}


def _found_in(code: str) -> str:
    if code == "ambiguous_date":
        return "stop"
    if code.startswith("repair_") or code in _REMARKS:
        return "remarks"
    return "findings" if code in _FINDINGS else "quarantine"
