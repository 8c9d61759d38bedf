"""An export of the practice in which sessions changed places, and check-ins are there in two versions."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from lagwise.synthetic import messy_base as base
from lagwise.synthetic.messy_draft import Draft, Row
from lagwise.synthetic.messy_exports import Export

_STUDY = """title = "Shoulder and elbow pain in lifters, exchanged sessions"
setting = "An invented practice"
"""
EXAMPLES = 5
"""So many rows are named where an exchange takes in more; faults.json lists these."""


def exchanged_export() -> Export:
    """Sessions under another one's code or date, check-ins sent twice, corrected, out of order, or filled in without reading."""
    rng = np.random.default_rng(18)
    codes = base.people(6)
    folder = "exchanged_export"
    rated, trained = base.checkins(folder, codes, 12, rng), base.sessions(folder, codes, 12, rng)
    _exchanged(trained)
    _twice(rated)
    files = {"study.toml": _STUDY.encode(), **{f"{t.table}.csv": t.text().encode() for t in (rated, trained)}}
    return files, [rated, trained]


def _exchanged(t: Draft) -> None:
    growing = t.of("SE-06")
    for row in growing:
        week = (date.fromisoformat(row["date"]) - base.MONDAY).days // 7
        row["load_kg"] = f"{round(2 * float(row['load_kg']) * 1.04**week) / 2:g}"
    monday = base.day_text(5)
    one_date = _codes([r for r in t.rows if r["date"] == monday], "SE-01", "SE-04")
    weeks = [r for r in t.rows if base.day_text(4) <= r["date"] < base.day_text(6)]
    two_weeks = _codes(weeks, "SE-03", "SE-05")
    early, late = growing[8:10], growing[36:38]
    for one, other in zip(early, late, strict=True):
        one["date"], other["date"] = other["date"], one["date"]
    t.rows.sort(key=lambda row: (row["person"], row["date"]))
    for rows, what in ((one_date, "one date"), (two_weeks, "two weeks")):
        named = [row for row in t.rows if any(row is one for one in rows)][:EXAMPLES]
        for row in named:
            more = {"count": 1 + len(rows) - len(named)} if row is named[0] else {}
            t.note(row, "", "exchanged_people", f"{what} of two people under each other's code", **more)
    for row in (*early, *late):
        t.note(row, "", "exchanged_days", "two sessions with each other's date")


def _codes(rows: list[Row], one: str, other: str) -> list[Row]:
    """Exchange two people's codes in some rows; the rows exchanged."""
    of = {one: other, other: one}
    told = [row for row in rows if row["person"] in of]
    for row in told:
        row["person"] = of[row["person"]]
    return told


def _twice(t: Draft) -> None:
    t.columns = (*t.columns, "time")
    for i, row in enumerate(t.rows):
        row["time"] = f"19:{10 + i % 40:02d}"
    a, b, c, d, e = (t.of(code) for code in base.people(5))
    minute = int(a[3]["time"][3:])
    t.note(t.copy(a[3], time=f"19:{minute + 2:02d}"), "", "sent_twice", "the same check-in two minutes later")
    t.note(t.copy(b[4], date=_days_on(b[4], 1)), "", "sent_twice", "the same check-in on the next day")
    other = str((int(c[5]["stress"]) + 4) % 10)
    corrected = t.copy(c[5], stress=other, time=f"19:{int(c[5]['time'][3:]) + 1:02d}")
    t.note(corrected, "", "second_ratings", "another answer a minute later")
    d[2]["date"], d[7]["date"] = d[7]["date"], d[2]["date"]
    for row in (d[2], d[7]):
        t.note(row, "", "out_of_order", "two check-ins with each other's date")
    for k, row in enumerate(e[1::2]):
        row |= dict.fromkeys(("pain", "stress", "worry"), "3467"[k % 4])
    t.note(e[1], "", "straight_lines", "one number on every scale", count=len(e[1::2]))


def _days_on(row: Row, days: int) -> str:
    return (date.fromisoformat(row["date"]) + timedelta(days=days)).isoformat()
