"""Further exports of the practice: a workbook, a weekly form, summed weeks, and dates that could be either way round."""

from __future__ import annotations

from datetime import date

import numpy as np

from lagwise.synthetic import messy_base as base
from lagwise.synthetic.messy_draft import Draft, Row
from lagwise.synthetic.messy_exports import Export
from lagwise.synthetic.messy_workbook import Cell, Day, Formula, Sheet, workbook

_TITLE = 'title = "Shoulder and elbow pain in lifters, {}"\nsetting = "An invented practice"\n'
_FORM_STUDY = """
[tables.checkins.columns]
date = "Week from"

[tables.checkins.wide.pain]
"Pain Tue" = 1
"Pain Thu" = 3
"Pain Sun" = 6

[tables.checkins.wide.sleep_hours]
"Sleep Sun" = 6
"""


def clinic_workbook() -> Export:
    """One workbook: title rows, merged cells, dates of four kinds, a formula, a people sheet that tells who they are."""
    rng = np.random.default_rng(13)
    codes = base.people(3)
    folder = "clinic_workbook"
    rated, trained = base.checkins(folder, codes, 5, rng), base.sessions(folder, codes, 5, rng)
    known = Draft(folder, "people", ("person", "region", "age_band", "months_with_pain", "E-mail", "Date of birth"), [])
    for i, person in enumerate(codes):
        known.rows.append(
            {
                "person": person, "region": ("shoulder", "elbow")[i % 2], "age_band": "30-39",
                "months_with_pain": str(4 + 3 * i), "E-mail": f"nobody{i}@example.invalid", "Date of birth": "1900-01-01",
            }
        )  # fmt: skip
    _odd_people(known)
    sheets = {
        "sessions": _sessions_sheet(trained),
        "checkins": _checkins_sheet(rated),
        "people": Sheet(
            [list(known.columns), *([_typed(row.get(n, "")) for n in known.columns] for row in known.rows)]
        ),
        "Plan March": Sheet([["Tuesday", "overhead press"]]),
    }
    rated.note(None, "", "unused_sheet", "a sheet that is no table", count=1, names=["Plan March"], table="")
    files = {"study.toml": _TITLE.format("a workbook").encode(), "caseload.xlsx": workbook(sheets)}
    return files, [rated, trained, known]


def _odd_people(t: Draft) -> None:
    t.note(None, "E-mail", "identifier_column", "a column of e-mail addresses", count=1)
    t.note(None, "Date of birth", "identifier_column", "a column of birth dates", count=1)
    t.write(t.rows[0], "months_with_pain", "18 months", "repair_units_in_cell", "a unit behind the number")
    t.note(t.copy(t.rows[1], at_end=True), "", "duplicate_row", "a person who is there twice")
    t.note(t.copy(t.rows[2], at_end=True, age_band="40-49"), "person", "person_twice", "two ages of one person")
    t.copy(t.rows[0], at_end=True, person="SE-30", months_with_pain="9")
    t.note(None, "person", "people_alone", "somebody without any record", count=1, names=["SE-30"])


def _sessions_sheet(t: Draft) -> Sheet:
    t.first = 4
    merged = t.of("SE-02")[:3]
    rows = [[_typed(row[name]) for name in t.columns] for row in t.rows]
    top = t.first + next(i for i, row in enumerate(t.rows) if row is merged[0])
    for row in merged[1:]:
        rows[next(i for i, r in enumerate(t.rows) if r is row)][0] = None
        t.note(row, "", "repair_merged_cells", "a person's code in one merged cell")
    t.note(None, "", "repair_title_rows", "two rows of title above the header", count=2, at_row=3)
    return Sheet(
        [["Shoulder and elbow practice"], ["exported in spring"], list(t.columns), *rows], [f"A{top}:A{top + 2}"]
    )


def _checkins_sheet(t: Draft) -> Sheet:
    cells: list[list[Cell]] = [[_typed(row[name]) for name in t.columns] for row in t.rows]
    when, pain = t.columns.index("date"), t.columns.index("pain")

    def put(at: int, column: int, cell: Cell, code: str, what: str) -> None:
        cells[at][column] = cell
        t.note(t.rows[at], t.columns[column], code, what)

    days = [date.fromisoformat(row["date"]) for row in t.rows]
    put(1, when, days[1].strftime("%d.%m.%Y"), "repair_date_words", "a date as text")
    put(
        2, when, (days[2] - date(1899, 12, 30)).days, "repair_date_serials", "a date as the day number of a spreadsheet"
    )
    put(3, when, Day(days[3], 0.75), "repair_date_times", "a time of day beside the date")
    put(5, when, f"{days[5]}T18:00:00Z", "repair_date_times", "a time stamp with its zone in one cell")
    t.note(t.rows[5], t.columns[when], "repair_time_zones", "the zone of a time stamp")
    put(6, pain, Formula("AVERAGE(C2:C6)"), "formula_without_value", "a formula whose result is not stored")
    put(7, pain, Day(date(2024, 5, 4)), "bad_number", "a rating that the spreadsheet turned into a date")
    return Sheet([list(t.columns), *cells])


def _typed(text: str) -> Cell:
    """The cell that a spreadsheet makes of a typed text."""
    try:
        return Day(date.fromisoformat(text))
    except ValueError:
        pass
    try:
        return float(text)
    except ValueError:
        return text


def weekly_form() -> Export:
    """One row per person and week, one column per day, tabs between cells, and codes that look like names."""
    rng = np.random.default_rng(14)
    columns = ("person", "Week from", "Pain Tue", "Pain Thu", "Pain Sun", "Sleep Sun")
    t = Draft("weekly_form", "checkins", columns, [])
    names = ("Example Alpha", "Example Beta", "Example Gamma")
    for person in names:
        for week in range(6):
            ratings = {name: str(rng.integers(1, 8)) for name in columns[2:5]}
            sleep = f"{rng.integers(12, 17) / 2:g}"
            t.rows.append({"person": person, "Week from": base.day_text(week), **ratings, "Sleep Sun": sleep})
    t.note(None, "person", "identifier_column", "codes that look like names", count=len(names))
    t.note(None, "", "separator_detected", "tabs that study.toml does not declare", count=1)
    t.note(None, "pain, sleep_hours", "wide_layout", "one column per day", count=3 * len(t.rows))
    half, high = t.of("Example Beta")[1], t.of("Example Gamma")[2]
    half["Pain Thu"], high["Pain Sun"] = "4/10", "12"
    t.note(half, "pain", "repair_out_of_ten", "a rating written as out of ten")
    t.note(high, "pain", "out_of_range", "a rating above the scale")
    study = _TITLE.format("a weekly form") + _FORM_STUDY
    return {"study.toml": study.encode(), "checkins.csv": t.text("\t").encode()}, [t]


def summed_weeks() -> Export:
    """One row per person and week, already summed, and an old copy of the file."""
    rng = np.random.default_rng(15)
    t = Draft("summed_weeks", "weeks", ("person", "week", "load", "effort", "pain", "flare", "trained"), [])
    for person in base.people(5):
        for week in range(8):
            row: Row = {"person": person, "week": base.day_text(week, 2), "load": str(rng.integers(10, 20))}
            row |= {"effort": f"{6 + rng.integers(0, 5) / 2:g}", "pain": str(rng.integers(1, 8)), "flare": "no"}
            t.rows.append(row | {"trained": "trained"})
    old = t.text().encode()
    a, b, c, d = (t.of(code) for code in base.people(4))
    t.write(a[1], "week", "", "missing_week", "no week")
    t.write(a[2], "load", "-5", "out_of_range", "less load than none")
    t.write(a[3], "trained", "light", "bad_choice", "a word that is not listed")
    t.write(b[1], "trained", "Trained", "repair_choice_words", "a listed word in other case")
    t.write(b[2], "flare", "oui", "repair_yes_no_words", "yes in French")
    t.note(t.copy(c[2]), "", "duplicate_row", "a week that is there twice")
    t.note(t.copy(c[4], load="55"), "person", "person_twice", "two loads for one week")
    t.write(c[0], "load", "1 012.5", "repair_thousands", "thousands set apart by a space")
    t.write(d[1], "pain", "4 points", "repair_units_in_cell", "a unit behind the number")
    t.note(None, "", "unused_file", "an old copy beside the table", count=1, names=["weeks (old).csv"], table="")
    study = _TITLE.format("summed weeks") + '\n[load]\nmeasure = "sets"\n'
    return {"study.toml": study.encode(), "weeks.csv": t.text().encode(), "weeks (old).csv": old}, [t]


def ambiguous_dates() -> Export:
    """Dates that could be day first or month first in every row: the reading stops and asks."""
    rng = np.random.default_rng(16)
    t = base.checkins("ambiguous_dates", base.people(2), 8, rng)
    t.drop([row for row in t.rows if int(row["date"][8:]) > 12])
    base.in_form(t, "%d/%m/%Y")
    t.note(None, "date", "ambiguous_date", "is 03/04 in March or in April?", count=1)
    return {"study.toml": _TITLE.format("ambiguous dates").encode(), "checkins.csv": t.text().encode()}, [t]
