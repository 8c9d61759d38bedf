"""An export of the practice's gym log: numbers, durations and dates as people type them, marks for 'not recorded', sums."""

from __future__ import annotations

from datetime import date

import numpy as np

from lagwise.synthetic import messy_base as base
from lagwise.synthetic.messy_draft import Draft, Row
from lagwise.synthetic.messy_exports import Export

_STUDY = """title = "Shoulder and elbow pain in lifters, gym log"
setting = "An invented practice"

[tables.checkins]
date_format = "%d.%m.%Y"
missing = ["999", "-99", "wird nachgereicht"]
"""


def gym_log() -> Export:
    """Loads with thousands, fractions, durations, sets in lists, body weight, a header in the middle, sums at the foot."""
    rng = np.random.default_rng(17)
    codes = base.people(5)
    folder = "gym_log"
    rated, trained = base.checkins(folder, codes, 9, rng), base.sessions(folder, codes, 9, rng)
    base.in_form(rated, "%d.%m.%Y")
    _odd_marks(rated)
    _odd_sets(trained)
    known = Draft(folder, "people", ("person", "region", "sex", "training_years"), [])
    for i, person in enumerate(codes):
        known.rows.append(
            {"person": person, "region": ("shoulder", "elbow")[i % 2], "sex": "12"[i % 2], "training_years": str(2 + i)}
        )
    known.write(known.rows[1], "sex", "9", "missing_code", "a code for 'not recorded' among codes")
    known.write(known.rows[3], "training_years", "99", "missing_code", "a code for 'not recorded' among years")
    files = {"study.toml": _STUDY.encode(), **{f"{t.table}.csv": t.text().encode() for t in (rated, trained, known)}}
    return files, [rated, trained, known]


def _odd_marks(t: Draft) -> None:
    a, b, c, d, e = (t.of(code) for code in base.people(5))
    t.write(a[1], "stress", "999", "declared_missing", "a mark that study.toml declares")
    t.write(a[3], "stress", "-99", "declared_missing", "a mark that study.toml declares")
    t.write(b[1], "sleep_hours", "wird nachgereicht", "declared_missing", "words that study.toml declares")
    t.write(b[3], "sleep_hours", "7:30", "repair_hours_and_minutes", "hours and minutes under hours")
    t.write(b[5], "sleep_hours", "7½", "repair_fractions", "a half as a fraction")
    t.write(c[1], "pain", "４", "repair_other_digits", "a digit of full width")
    t.write(c[3], "stress", "nicht erhoben", "repair_missing_words", "'not asked' in German")
    t.write(c[5], "pain", "888", "out_of_range", "a code that study.toml does not declare")
    t.write(c[6], "stress", "#WERT!", "bad_number", "a formula that failed")
    when = date.fromisoformat(_iso(d[1]["date"]))
    t.write(d[1], "date", f"{when:%d.%m.%y}", "repair_date_words", "a year of two digits in the declared order")
    when = date.fromisoformat(_iso(d[2]["date"]))
    t.write(d[2], "date", when.isoformat(), "repair_date_words", "a date as YYYY-MM-DD among declared ones")
    again: Row = dict(zip(t.columns, t.columns, strict=True))
    t.rows.insert(t.rows.index(e[0]), again)
    t.note(again, "", "header_again", "the header in the middle, where two exports were put together")


def _odd_sets(t: Draft) -> None:
    a, b, c = (t.of(code) for code in base.people(3))
    for at, text in ((0, "1 h 15"), (4, "1:15"), (8, "1,5 h"), (12, "1h15")):
        t.write(a[at], "minutes", f'"{text}"', "repair_hours_and_minutes", "a duration in hours")
    b[0]["sets"] = "3"
    t.write(b[0], "reps", '"8,8,9"', "repair_reps_listed", "repetitions set by set")
    b[4]["sets"] = ""
    t.write(b[4], "reps", "8/7/6", "repair_reps_listed", "repetitions set by set, sets left empty")
    b[8]["sets"] = "2"
    t.write(b[8], "reps", "8/7/6", "sets_and_reps_differ", "repetitions of three sets where two are said")
    t.write(b[12], "load_kg", "BW", "repair_body_weight", "body weight")
    t.write(c[0], "reps", "8-10", "bad_number", "a range of repetitions")
    t.write(c[1], "sets", "3x8x40", "bad_number", "sets, repetitions and load in one cell")
    t.write(c[2], "load_kg", '"1,250,000"', "out_of_range", "a number with thousands, and too large")
    sums: Row = {"person": "Summe", "date": "2024-03-10", "sets": "1 080"}
    t.rows.append(sums)
    t.note(sums, "person", "total_row", "a sum at the foot")


def _iso(text: str) -> str:
    day, month, year = text.split(".")
    return f"{year}-{month}-{day}"
