"""Two raw exports of the practice: one written the German way, one with faults in who did what when."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from lagwise.synthetic import messy_base as base
from lagwise.synthetic.messy_draft import BEYOND, Draft

Files = dict[str, bytes]
Export = tuple[Files, list[Draft]]
"""Files by name inside the folder, and the tables they hold with their faults."""

_FIRST_STUDY = """title = "Shoulder and elbow pain in lifters, first export"
setting = "An invented practice"

[tables.checkins]
file = "Befinden Herbst.csv"
sep = ";"
decimal = ","
date_format = "%d.%m.%Y"

[tables.checkins.columns]
person = "Code"
date = "Datum"
pain = "NRS (0-10)"
stress = "Stress"
sleep_hours = "Schlaf (h)"
worry = "Sorge"
flare = "Schub"

[tables.sessions]
decimal = ","
"""
_FORM = "%d.%m.%Y"


def first_export() -> Export:
    """Semicolons, decimal commas, a byte-order mark, Windows-1252, units in cells, and cells that mean nothing."""
    rng = np.random.default_rng(11)
    codes = base.people(6)
    folder = "first_export"
    rated, trained = base.checkins(folder, codes, 8, rng), base.sessions(folder, codes, 8, rng)
    base.in_form(rated, _FORM)
    base.with_comma(rated, "sleep_hours")
    base.with_comma(trained, "load_kg", "effort")
    _odd_checkins(rated)
    _odd_sessions(trained)
    names = {
        "person": "Code", "date": "Datum", "pain": "NRS (0-10)", "stress": "Stress", "sleep_hours": "Schlaf (h)",
        "worry": "Sorge", "flare": "Schub", "note": "Bemerkungen", "phone": "Telefon", "version": "App",
    }  # fmt: skip
    files = {
        "study.toml": _FIRST_STUDY.encode(),
        "Befinden Herbst.csv": b"\xef\xbb\xbf" + rated.text(";", names).encode(),
        "sessions.csv": trained.text(";", {"load_kg": "Load kg"}).encode("cp1252"),
    }
    return files, [rated, trained]


def _odd_checkins(t: Draft) -> None:
    t.columns = (*t.columns, "note", "phone", "version")
    for i, row in enumerate(t.rows):
        row |= {"note": "this is an invented remark", "phone": f"+00 000 000{i:04d}", "version": "1.4"}
    t.note(None, "Bemerkungen", "identifier_column", "a column of free text", count=1)
    t.note(None, "Telefon", "identifier_column", "a column of phone numbers", count=1)
    t.note(None, "App", "ignored_column", "a column that is not part of the contract", count=1)
    a, b, c, d, e = (t.of(code) for code in base.people(5))
    t.write(a[1], "pain", f"{a[1]['pain']}/10", "repair_out_of_ten", "a rating written as out of ten")
    t.write(a[3], "stress", "k.A.", "repair_missing_words", "'not stated' in German")
    t.write(a[4], "stress", "-", "repair_missing_words", "a dash for 'not recorded'")
    t.write(b[0], "flare", "nein", "repair_yes_no_words", "no in German")
    t.write(b[1], "flare", "J", "repair_yes_no_words", "yes in one letter")
    t.write(b[2], "flare", "x", "repair_yes_no_words", "yes as a cross")
    t.write(b[3], "flare", "vielleicht", "bad_yes_no", "'perhaps' where yes or no is asked")
    t.write(c[0], "sleep_hours", "7.5", "repair_decimal_sign", "a decimal point among decimal commas")
    t.write(c[1], "sleep_hours", "7 h", "repair_units_in_cell", "a unit behind the number")
    t.write(c[2], "pain", "11", "out_of_range", "a rating above the scale")
    t.write(c[3], "stress", "viel", "bad_number", "a word where a number is asked")
    t.write(d[0], "person", "", "missing_person", "no code")
    t.write(d[1], "date", "", "missing_date", "no date")
    t.write(d[2], "date", "31.02.2024", "bad_date", "a day that no calendar has")
    d[3][BEYOND] = "too much"
    t.note(d[3], "", "too_many_cells", "one cell more than there are headers")
    t.note(t.copy(e[2]), "", "duplicate_row", "a check-in that is there twice")


def _odd_sessions(t: Draft) -> None:
    t.columns = (*t.columns, "time")
    for row in t.rows:
        row["time"] = "17:30"
    t.note(None, "", "separator_detected", "semicolons that study.toml does not declare", count=1)
    t.note(None, "load_kg", "repair_column_names", "a header that differs in case and spaces", count=1)
    a, b, c, d = (t.of(code) for code in base.people(4))
    t.write(a[2], "exercise", "Außenrotation", "repair_encoding", "the first letter that is not UTF-8")
    t.planted[-1][1]["column"] = ""
    t.write(a[5], "time", "6:30 pm", "repair_time_words", "a time in another spelling")
    t.write(a[6], "time", "abends", "bad_time", "a word where a time is asked")
    t.write(b[0], "load_kg", f"{b[0]['load_kg']} kg", "repair_units_in_cell", "a unit behind the number")
    t.write(b[4], "load_kg", "77 lb", "repair_pounds_in_cell", "pounds, said in the cell")
    t.write(b[5], "effort", "RPE 8", "repair_rpe_words", "a rating with the name of its scale")
    t.write(b[6], "sets", f"3x{b[6]['reps']}", "repair_sets_by_reps", "sets and repetitions in one cell")
    t.write(b[7], "sets", "3x5", "sets_and_reps_differ", "repetitions that the next cell contradicts")
    t.write(c[0], "sets", "2,5", "not_whole", "half a set")
    t.write(c[1], "sets", "-1", "out_of_range", "fewer sets than none")
    t.write(c[2], "load_kg", "1.250", "bad_number", "a point that could be thousands or decimals")
    t.write(c[3], "load_kg", "650", "out_of_range", "more than anybody lifts here")
    t.write(d[0], "exercise", "press " * 60, "too_long", "a text of 360 characters where a name is asked")


def second_export() -> Export:
    """Plain CSV whose cells are all legal, with faults in who did what when."""
    rng = np.random.default_rng(12)
    codes = base.people(8)
    folder = "second_export"
    rated, trained = base.checkins(folder, codes, 10, rng), base.sessions(folder, codes, 10, rng)
    changed = Draft(folder, "events", ("person", "date", "kind"), [])
    _odd_sequence(rated, trained, changed)
    _odd_loads(trained)
    _odd_ratings(rated, rng)
    for table in (rated, trained):
        for row in table.of("SE-02"):
            table.copy(row, at_end=True, person="SE-09")
        what = "one person's rows under a second code"
        table.note(None, "person", f"shared_{table.table}", what, count=1, names=["SE-02", "SE-09"])
    rated.note(None, "worry", "heaped_ratings", "ratings in steps of 5", count=_heaped(rated), names=["worry"])
    study = 'title = "Shoulder and elbow pain in lifters, second export"\nsetting = "An invented practice"\n'
    tables = [rated, trained, changed]
    return {"study.toml": study.encode(), **{f"{t.table}.csv": t.text().encode() for t in tables}}, tables


def _odd_sequence(rated: Draft, trained: Draft, changed: Draft) -> None:
    gone = "SE-05"
    rated.drop(rated.of(gone)[4:])
    trained.drop([*trained.of(gone)[16:36], *trained.of(gone)[37:]])
    trained.note(trained.of(gone)[16], "date", "after_last_checkin", "a session five weeks after the last check-in")

    resting = trained.of("SE-04")
    trained.drop([*resting[20:24], *resting[25:28]])
    trained.note(resting[24], "date", "session_in_break", "a session between a break and the return to load")

    def event(person: str, week: int, kind: str) -> dict[str, str]:
        changed.rows.append({"person": person, "date": base.day_text(week), "kind": kind})
        return changed.rows[-1]

    event("SE-04", 5, "break")
    event("SE-04", 7, "load_resumed")
    changed.note(event("SE-06", 4, "load_resumed"), "kind", "resumed_without_stop", "a return without a stop before it")
    changed.write(event("SE-01", 3, ""), "kind", "", "missing_kind", "nothing said about what changed")
    changed.write(event("SE-01", 4, ""), "kind", "holiday", "bad_choice", "a word that is not listed")
    changed.write(
        event("SE-02", 4, ""), "kind", "Load reduced", "repair_choice_words", "a listed word in other spelling"
    )
    changed.write(event("SE-03", 2, "education"), "date", "2099-01-05", "future_date", "a date to come")
    changed.note(changed.copy(changed.rows[0]), "", "duplicate_row", "an event that is there twice")
    event("SE-60", 3, "illness")
    changed.note(None, "person", "events_alone", "a mistyped code", count=1, names=["SE-60"])

    trained.of("SE-01")[0]["person"] = "SE-10"
    trained.note(None, "person", "sessions_alone", "a mistyped code", count=1, names=["SE-10"])
    rated.of("SE-03")[4]["person"] = "se 03"
    rated.note(None, "person", "alike_codes", "one code in two spellings", count=1, names=["SE-03", "se 03"], table="")
    wrong = rated.of("SE-08")[5]
    rated.write(wrong, "date", wrong["date"].replace("2024", "2023"), "far_date", "a mistyped year")


def _odd_loads(t: Draft) -> None:
    t.columns = (*t.columns, "reps_in_reserve")
    for row in t.rows:
        row["reps_in_reserve"] = f"{10 - float(row['effort']):g}"
    press = [row for row in t.of("SE-01") if row["exercise"] == "overhead press"][7]
    pounds = f"{float(press['load_kg']) * 2.2:g}"
    t.write(press, "load_kg", pounds, "pound_jump", "pounds among kilograms")
    torn = t.of("SE-03")[9]
    t.write(torn, "reps_in_reserve", "0", "contradiction", "nothing in reserve at an effort below 9")
    t.planted[-1][1]["column"] = "effort"
    t.note(torn, "effort", "effort_contradiction", "nothing in reserve at an effort below 9")
    for row in t.of("SE-06")[8:10]:
        again = t.copy(row, at_end=True)
        t.note(again, "", "repeated_rows", "a day that was pasted twice")
        t.note(again, "", "repeated_sessions", "a day that was pasted twice")


def _odd_ratings(t: Draft, rng: np.random.Generator) -> None:
    for row in t.rows:
        row["worry"] = str(rng.choice([0, 5, 5, 10, 10, 3, 7]))
    t.write(t.of("SE-04")[2], "sleep_hours", "23", "unlikely_sleep", "hours of a whole day")
    copied = t.of("SE-07")
    for row in copied[1:]:
        row |= {"pain": "4", "stress": "3", "sleep_hours": "7.5", "worry": "5", "flare": "no"}
    t.note(copied[1], "", "frozen_ratings", "the same check-in nine times in a row")
    more = [t.of(code)[week] for code in ("SE-01", "SE-06") for week in range(1, 9)]
    for row in more:
        friday = date.fromisoformat(row["date"]) - timedelta(days=2)
        t.copy(row, date=friday.isoformat(), pain="2", stress="2")
    said = f"2 ratings: {len(more)} steps"
    t.note(
        None, "pain", "ratings_per_step_vary", "two ratings in some weeks, one in others", count=len(more), names=[said]
    )


def _heaped(t: Draft) -> int:
    return sum(row["worry"] in ("5", "10") for row in t.rows)
