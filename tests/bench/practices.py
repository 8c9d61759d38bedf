"""Six invented practices' own spreadsheets, as untidy as such files are, and what was planted in each.

`python tests/bench/practices.py data_synthetic/messy/practices` writes one folder a practice: its files, and
`troubles.json` with the columns a draft should map (`columns`), those it must never map (`never`), and every
trouble planted (`troubles`: the words by which the first round of `check` or the draft must name it).
No person, practice or record in them exists.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from pathlib import Path

import numpy as np
from openpyxl import Workbook

MONDAY = dt.date(2025, 9, 1)
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LIFTS = ("Overhead press", "Row", "Split squat", "Pull-up")


class World:
    """Weeks of invented people: sets, loads, efforts and ratings that hang together loosely."""

    def __init__(self, seed: int, people: int, weeks: int):
        rng = self.rng = np.random.default_rng(seed)
        self.people, self.weeks = people, weeks
        drift = rng.normal(0, 0.25, (people, weeks)).cumsum(1)
        self.sets = np.clip(
            np.round(rng.uniform(8, 16, (people, 1)) * np.exp(0.3 * rng.normal(size=(people, weeks)))), 3, 30
        ).astype(int)
        jump = np.log(self.sets / self.sets.mean(1, keepdims=True))
        pain = rng.uniform(2.5, 5, (people, 1)) + drift
        pain[:, 1:] += 0.7 * jump[:, :-1]
        self.pain = np.clip(np.round(pain + rng.normal(0, 0.6, pain.shape)), 0, 10).astype(int)
        self.worry = np.clip(np.round(0.6 * pain + 1.5 + rng.normal(0, 1, pain.shape)), 0, 10).astype(int)
        self.stress = rng.integers(1, 9, pain.shape)
        self.sleep = np.clip(np.round((7.2 + rng.normal(0, 0.8, pain.shape)) * 2) / 2, 3, 11)
        self.effort = np.clip(np.round((7 + rng.normal(0, 1, pain.shape)) * 2) / 2, 4, 10)

    def day(self, week: int, day: int = 0) -> dt.date:
        return MONDAY + dt.timedelta(days=7 * week + day)

    def sessions(
        self, person: int, week: int
    ) -> list[tuple[dt.date, list[tuple[str, int, int, float, float]]]]:
        """Two sessions: date and (exercise, sets, reps, kg, effort) rows that add up to the week's sets."""
        rng, left, out = self.rng, int(self.sets[person, week]), []
        for n, day in enumerate(sorted(rng.choice(6, 2, replace=False))):
            here = left // 2 if n == 0 else left - left // 2
            lifts = rng.choice(len(LIFTS), 2, replace=False)
            split = (here - here // 2, here // 2)
            rows = [
                (
                    LIFTS[i],
                    s,
                    int(rng.integers(5, 13)),
                    float(20 + 7.5 * i + 2.5 * rng.integers(0, 6)),
                    float(np.clip(self.effort[person, week] + rng.choice([-0.5, 0, 0.5]), 3, 10)),
                )
                for i, s in zip(lifts, split, strict=True)
                if s
            ]
            out.append((self.day(week, int(day)), rows))
        return out


def sheet(book: Workbook, name: str, rows: list[list[object]]) -> None:
    at = book.create_sheet(name)
    for row in rows:
        at.append(row)


def book(path: Path, sheets: dict[str, list[list[object]]]) -> None:
    made = Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet(made, name, rows)
    path.parent.mkdir(parents=True, exist_ok=True)
    made.save(path)


def text(path: Path, rows: list[list[object]], sep: str = ",", encoding: str = "utf-8") -> None:
    def cell(value: object) -> str:
        said = "" if value is None else str(value)
        return f'"{said}"' if sep in said or '"' in said or "\n" in said else said

    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes("".join(sep.join(map(cell, row)) + "\r\n" for row in rows).encode(encoding))


def trouble(what: str, *names: str, **where: object) -> dict[str, object]:
    return {"what": what, "names": list(names), **where}


def note(folder: Path, about: str, columns: dict, never: list[str], settings: dict, troubles: list) -> None:
    files = sorted(
        str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file() and p.name != "troubles.json"
    )
    said = {
        "about": about,
        "files": files,
        "columns": columns,
        "never": never,
        "settings": settings,
        "troubles": troubles,
    }
    (folder / "troubles.json").write_text(
        json.dumps(said, indent=1, ensure_ascii=False) + "\n", encoding="utf-8"
    )


def whiteboard(folder: Path) -> None:
    """One workbook: title rows, code once per session, '3x8', '80kg', ranges; pain in Mon-Sun columns; phones."""
    w = World(4101, 10, 14)
    log: list[list[object]] = [
        ["Shoulder group, autumn"],
        ["kept by the desk, see also sheet 2"],
        [],
        ["Code", "Date", "Exercise", "Sets x Reps", "Weight", "RPE", "Remarks"],
    ]
    ranges = bare = 0
    for week in range(w.weeks):
        for p in range(w.people):
            for date, rows in w.sessions(p, week):
                for n, (lift, sets, reps, kg, rpe) in enumerate(rows):
                    said: object = rpe
                    if w.rng.random() < 0.04:
                        said, ranges = f"{int(rpe)}-{int(rpe) + 1}", ranges + 1
                    weight = f"{kg:g}kg" if w.rng.random() < 0.6 else kg
                    log.append(
                        [
                            f"S{p + 1:02d}" if n == 0 else None,
                            date if n == 0 else None,
                            lift,
                            f"{sets}x{reps}",
                            weight,
                            said,
                            "bar slipped" if w.rng.random() < 0.01 else None,
                        ]
                    )
    form: list[list[object]] = [
        ["Week ratings (NRS 0-10, from the text messages)"],
        ["Code", "Phone", "Week of", *DAYS, "Stress", "Sleep h", "Worry"],
    ]
    for week in range(w.weeks):
        for p in range(w.people):
            if w.rng.random() < 0.06:
                continue
            days = [
                int(np.clip(w.pain[p, week] + w.rng.integers(-1, 2), 0, 10)) if w.rng.random() < 0.8 else "-"
                for _ in DAYS
            ]
            form.append(
                [
                    f"S{p + 1:02d}",
                    f"+00 555 01{p:02d}{p + 3:02d}",
                    w.day(week),
                    *days,
                    w.stress[p, week].item(),
                    w.sleep[p, week].item(),
                    w.worry[p, week].item(),
                ]
            )
            bare += 1
    form[5][3], form[20][4], form[31][10] = 13, "bad", "5 (moving house)"
    book(
        folder / "Shoulder log.xlsx",
        {"Log": log, "Ratings": form, "Prices": [["Course", "Price"], ["Ten visits", 300]]},
    )
    f = {"file": "Shoulder log.xlsx"}
    note(
        folder,
        whiteboard.__doc__ or "",
        {
            "sessions": {
                k: f | {"sheet": "Log", "column": v}
                for k, v in {
                    "person": "Code",
                    "date": "Date",
                    "exercise": "Exercise",
                    "sets": "Sets x Reps",
                    "load_kg": "Weight",
                    "effort": "RPE",
                }.items()
            },
            "checkins": {
                k: f | {"sheet": "Ratings", "column": v}
                for k, v in {
                    "person": "Code",
                    "date": "Week of",
                    "pain": list(DAYS),
                    "stress": "Stress",
                    "sleep_hours": "Sleep h",
                    "worry": "Worry",
                }.items()
            },
        },
        ["Phone", "Remarks"],
        {"sessions.fill_down": ["person", "date"], "sessions.header_row": 4, "checkins.header_row": 2},
        [
            trouble("code and date written once a session", "fill_down"),
            trouble("ranges as effort", "ranges", str(ranges)),
            trouble("a phone column", "Phone"),
            trouble("free text", "Remarks"),
            trouble("a pain of 13", "13"),
            trouble("a word as rating", "bad"),
            trouble("a remark in a cell", "5 (moving house)"),
            trouble("a sheet of prices", "Prices"),
            trouble("one column per weekday", "Mon"),
        ],
    )


def file_per_person(folder: Path) -> None:
    """One file a person, code in the file's name only; German, semicolons, decimal commas, day first; one person twice."""
    w = World(4202, 9, 12)
    head = [
        "Datum",
        "Übung",
        "Sätze",
        "Wdh",
        "Gewicht (kg)",
        "RPE",
        "Schmerz 0-10",
        "Schlaf (h)",
        "Stress",
        "Bemerkung",
    ]
    for p in range(w.people):
        rows: list[list[object]] = [list(head)]
        for week in range(w.weeks):
            for date, lifts in w.sessions(p, week):
                for n, (lift, sets, reps, kg, rpe) in enumerate(lifts):
                    first = n == 0
                    rows.append(
                        [
                            date.strftime("%d.%m.%Y"),
                            {"Row": "Rudern", "Overhead press": "Überkopfdrücken"}.get(lift, lift),
                            sets,
                            reps,
                            f"{kg:.1f}".replace(".", ","),
                            f"{rpe:g}".replace(".", ","),
                            w.pain[p, week] if first else "",
                            f"{w.sleep[p, week]:g}".replace(".", ",") if first else "",
                            w.stress[p, week] if first else "",
                            "Regen" if w.rng.random() < 0.02 else "",
                        ]
                    )
        if p == 3:
            rows[6][0] = "31.11.2025"
        if p == 5:
            rows.append(["Summe", "", sum(int(r[2]) for r in rows[1:]), "", "", "", "", "", "", ""])
        text(folder / f"Proband {p + 1:02d}.csv", rows, ";", "cp1252")
    cols = {
        "date": "Datum",
        "exercise": "Übung",
        "sets": "Sätze",
        "reps": "Wdh",
        "load_kg": "Gewicht (kg)",
        "effort": "RPE",
    }
    rate = {"date": "Datum", "pain": "Schmerz 0-10", "sleep_hours": "Schlaf (h)", "stress": "Stress"}
    note(
        folder,
        file_per_person.__doc__ or "",
        {
            "sessions": {k: {"column": v} for k, v in cols.items()},
            "checkins": {k: {"column": v} for k, v in rate.items()},
        },
        ["Bemerkung"],
        {
            "sessions.sep": ";",
            "sessions.decimal": ",",
            "sessions.date_format": "%d.%m.%Y",
            "person": "file name",
        },
        [
            trouble("the code stands in the file's name", "Proband 01"),
            trouble("a date that does not exist", "31.11.2025"),
            trouble("a sum at the foot", "Summe"),
            trouble("free text", "Bemerkung"),
            trouble("Windows encoding", "1252"),
        ],
    )


def sheet_per_person(folder: Path) -> None:
    """One sheet a person, initials as names, an overview, an empty sheet; two header rows; pounds; one row per set."""
    w = World(4303, 8, 13)
    names = ("MK", "TR", "AB", "JD", "LS", "PO", "EV", "NN")
    sheets: dict[str, list[list[object]]] = {
        "Overview": [["Who", "Since"], *[[n, "autumn"] for n in names]],
        "Spare": [],
    }
    for p, who in enumerate(names):
        rows: list[list[object]] = [
            [None, "Training", None, None, None, "How it was", None, None],
            ["Day", "Lift", "Set", "Reps", "lb", "Session RPE", "Pain /10", "Sleep"],
        ]
        for week in range(w.weeks):
            for date, lifts in w.sessions(p, week):
                first = True
                for lift, sets, reps, kg, rpe in lifts:
                    spelt = {
                        "Row": ("Row", "row ", "Rows")[int(w.rng.integers(0, 3))],
                        "Pull-up": ("Pull-up", "Pullup", "pull up")[int(w.rng.integers(0, 3))],
                    }.get(lift, lift)
                    for n in range(sets):
                        rows.append(
                            [
                                date,
                                spelt,
                                n + 1,
                                reps,
                                round(kg * 2.2046 / 5) * 5,
                                rpe if first else None,
                                f"{w.pain[p, week]}/10" if first else None,
                                f"{int(w.sleep[p, week])}h{30 if w.sleep[p, week] % 1 else 0:02d}"
                                if first
                                else None,
                            ]
                        )
                        first = False
        sheets[who] = rows
    book(folder / "group B.xlsx", sheets)
    cols = {"date": "Day", "exercise": "Lift", "reps": "Reps", "load_kg": "lb", "effort": "Session RPE"}
    note(
        folder,
        sheet_per_person.__doc__ or "",
        {
            "sessions": {k: {"file": "group B.xlsx", "column": v} for k, v in cols.items()},
            "checkins": {
                k: {"file": "group B.xlsx", "column": v}
                for k, v in {"date": "Day", "pain": "Pain /10", "sleep_hours": "Sleep"}.items()
            },
        },
        [],
        {
            "sessions.units.load_kg": "lb",
            "sessions.constant.sets": 1,
            "person": "sheet name",
            "sessions.header_row": 2,
        },
        [
            trouble("initials as codes", "initials"),
            trouble("an empty sheet", "Spare"),
            trouble("an overview that is no log", "Overview"),
            trouble("pounds", "lb"),
            trouble("one row per set", "sets = 1"),
            trouble("spellings of one exercise", "Pullup"),
            trouble("effort once a session", "Session RPE"),
            trouble("two header rows", "header"),
        ],
    )


def form_answers(folder: Path) -> None:
    """A form's export: long questions, a time stamp with AM/PM, e-mail addresses, stress 1-5, marks for no answer; sessions apart."""
    w = World(4404, 14, 12)
    q = {
        "date": "Timestamp",
        "mail": "Email Address",
        "person": "Your code (on your card)",
        "pain": "How strong was your pain on average this week? (0 = none, 10 = worst you can think of)",
        "worry": "How worried were you about the pain? (0-10)",
        "stress": "Stress this week (1 = hardly any, 5 = very much)",
        "sleep_hours": "Hours of sleep per night, roughly",
        "flare": "Would you call this week a flare-up?",
        "say": "Anything else you want to tell us",
    }
    rows: list[list[object]] = [list(q.values())]
    late = 0
    for week in range(w.weeks):
        for p in range(w.people):
            if w.rng.random() < 0.08:
                continue
            hour = int(w.rng.integers(17, 26))
            when = dt.datetime.combine(w.day(week, 6), dt.time()) + dt.timedelta(
                hours=hour, minutes=int(w.rng.integers(0, 60))
            )
            late += hour >= 24
            code = f"k{p + 11}" if w.rng.random() < 0.15 else f"K{p + 11}"
            rows.append(
                [
                    when.strftime("%m/%d/%Y %I:%M:%S %p"),
                    f"person{p}@example.org",
                    code,
                    w.pain[p, week] if w.rng.random() > 0.03 else "prefer not to say",
                    w.worry[p, week],
                    1 + w.stress[p, week] // 2,
                    f"{w.sleep[p, week]:g}" + (" hours" if w.rng.random() < 0.2 else ""),
                    "Yes" if w.pain[p, week] >= w.pain[p].mean() + 2 else "No",
                    "fine" if w.rng.random() < 0.05 else "",
                ]
            )
    rows.append(list(rows[7]))
    text(folder / "responses.csv", rows)
    log: list[list[object]] = [
        ["member code", "session date", "duration (min)", "session RPE (CR10)", "coach"]
    ]
    for week in range(w.weeks):
        for p in range(w.people):
            for date, lifts in w.sessions(p, week):
                log.append(
                    [
                        f"K{p + 11}",
                        date.isoformat(),
                        10 * len(lifts) + 3 * sum(r[1] for r in lifts),
                        999 if w.rng.random() < 0.02 else lifts[0][4],
                        "C. Invented",
                    ]
                )
    text(folder / "attendance.tsv", log, "\t")
    note(
        folder,
        form_answers.__doc__ or "",
        {
            "checkins": {
                k: {"file": "responses.csv", "column": q[k]}
                for k in ("date", "person", "pain", "worry", "stress", "sleep_hours", "flare")
            },
            "sessions": {
                k: {"file": "attendance.tsv", "column": v}
                for k, v in {
                    "person": "member code",
                    "date": "session date",
                    "minutes": "duration (min)",
                    "effort": "session RPE (CR10)",
                }.items()
            },
        },
        ["Email Address", "Anything else you want to tell us", "coach"],
        {"load.measure": "session_rpe", "checkins.scale.stress": "1-5"},
        [
            trouble("e-mail addresses", "Email Address"),
            trouble("free text", "Anything else"),
            trouble("names of the coach", "coach"),
            trouble("stress on 1-5", "1-5"),
            trouble("no answer in words", "prefer not to say"),
            trouble("999 as effort", "999"),
            trouble("a row given twice", "duplicate"),
            trouble("codes in two cases", "k1"),
            trouble("after midnight: which day", "midnight"),
        ],
    )


def visit_export(folder: Path) -> None:
    """A research export: study days, -99, pain 0-100 in columns by week, levels in two cases, exact ages; load of its own."""
    w = World(4505, 12, 16)
    wide: list[list[object]] = [
        [
            "subject_id",
            "age",
            "sex",
            "group",
            *[f"pain_w{k + 1}" for k in range(w.weeks)],
            *[f"fear_w{k + 1}" for k in range(w.weeks)],
        ]
    ]
    load: list[list[object]] = [["subject_id", "study_day", "load_au", "rpe"]]
    for p in range(w.people):
        pains = [
            int(np.clip(10 * w.pain[p, k] + w.rng.integers(-4, 5), 0, 100)) if w.rng.random() > 0.05 else -99
            for k in range(w.weeks)
        ]
        fears = [int(10 * w.worry[p, k]) if w.rng.random() > 0.05 else -99 for k in range(w.weeks)]
        wide.append([100 + p, 21 + 3 * p, ("f", "F", "m", "M")[p % 4], "A", *pains, *fears])
        for week in range(w.weeks):
            for date, lifts in w.sessions(p, week):
                load.append(
                    [
                        100 + p,
                        (date - MONDAY).days + 1,
                        round(sum(s * r * kg for _, s, r, kg, _ in lifts) / 100, 1),
                        lifts[0][4],
                    ]
                )
    text(folder / "ratings_wide.csv", wide)
    text(folder / "training_daily.csv", load)
    note(
        folder,
        visit_export.__doc__ or "",
        {
            "checkins": {
                "person": {"file": "ratings_wide.csv", "column": "subject_id"},
                "pain": {"file": "ratings_wide.csv", "column": [f"pain_w{k + 1}" for k in range(w.weeks)]},
                "worry": {"file": "ratings_wide.csv", "column": [f"fear_w{k + 1}" for k in range(w.weeks)]},
            },
            "people": {
                "sex": {"file": "ratings_wide.csv", "column": "sex"},
                "age_band": {"file": "ratings_wide.csv", "column": "age"},
            },
            "sessions": {
                k: {"file": "training_daily.csv", "column": v}
                for k, v in {
                    "person": "subject_id",
                    "date": "study_day",
                    "load": "load_au",
                    "effort": "rpe",
                }.items()
            },
        },
        [],
        {"sessions.date_format": "day", "ratings.pain.high": 100, "missing": "-99"},
        [
            trouble("study days instead of dates", "day"),
            trouble("-99 for missing", "-99"),
            trouble("0-100 ratings", "0-100"),
            trouble("one column per week", "pain_w1"),
            trouble("exact ages", "age"),
            trouble("levels in two cases", "sex"),
            trouble("a column that is the same throughout", "group"),
        ],
    )


def phone_notes(folder: Path) -> None:
    """Parquet-free odds and ends: daily ratings and sessions in one sheet, ambiguous dates, merged header, formulas without values."""
    w = World(4606, 7, 11)
    rows: list[list[object]] = [
        ["Client", "Date", "Knee pain (0 to 10)", "Stress 0-10", "Slept", "Worry", "Sets", "RIR", "Total"]
    ]
    for week in range(w.weeks):
        for p in range(w.people):
            trained = dict(w.sessions(p, week))
            for day in range(7):
                date = w.day(week, day)
                if date not in trained and w.rng.random() < 0.25:
                    continue
                lifts = trained.get(date)
                rows.append(
                    [
                        f"C-{p + 1}",
                        date.strftime("%d/%m/%y"),
                        int(np.clip(w.pain[p, week] + w.rng.integers(-1, 2), 0, 10)),
                        int(w.stress[p, week]),
                        w.sleep[p, week].item(),
                        int(w.worry[p, week]),
                        sum(r[1] for r in lifts) if lifts else None,
                        f"{10 - lifts[0][4]:g}" if lifts else None,
                        f"=G{len(rows) + 1}*8" if lifts else None,
                    ]
                )
    rows[12][2], rows[30][2], rows[44][5] = "4,5", "NRS 6", "?"
    events: list[list[object]] = [
        ["Client", "When", "What"],
        ["C-1", "06/10/25", "technique change"],
        ["C-2", "13/10/25", "holiday"],
        ["C-3", "20/10/25", "pain education"],
        ["C-4", "27/10/25", "load reduced"],
        ["C-9", "27/10/25", "illness"],
    ]
    book(
        folder / "knee clients.xlsx",
        {
            "Daily": rows,
            "Changes": events,
            "Pivot": [["Sum of Sets", None], ["Row labels", "Total"], ["C-1", 120], ["C-2", 96]],
        },
    )
    f = {"file": "knee clients.xlsx"}
    note(
        folder,
        phone_notes.__doc__ or "",
        {
            "checkins": {
                k: f | {"sheet": "Daily", "column": v}
                for k, v in {
                    "person": "Client",
                    "date": "Date",
                    "pain": "Knee pain (0 to 10)",
                    "stress": "Stress 0-10",
                    "sleep_hours": "Slept",
                    "worry": "Worry",
                }.items()
            },
            "sessions": {
                k: f | {"sheet": "Daily", "column": v}
                for k, v in {
                    "person": "Client",
                    "date": "Date",
                    "sets": "Sets",
                    "reps_in_reserve": "RIR",
                }.items()
            },
            "events": {
                k: f | {"sheet": "Changes", "column": v}
                for k, v in {"person": "Client", "date": "When", "kind": "What"}.items()
            },
        },
        ["Total"],
        {"checkins.date_format": "%d/%m/%y"},
        [
            trouble("two-digit years, day first", "%d/%m/%y"),
            trouble("a kind of its own", "holiday"),
            trouble("an event of nobody", "C-9"),
            trouble("formulas without values", "Total"),
            trouble("a pivot table", "Pivot"),
            trouble("words before a rating", "NRS 6"),
            trouble("sessions and ratings in one sheet", "Daily"),
        ],
    )


PRACTICES = (whiteboard, file_per_person, sheet_per_person, form_answers, visit_export, phone_notes)


def main(out: str) -> None:
    for make in PRACTICES:
        make(Path(out) / make.__name__)


if __name__ == "__main__":
    main(sys.argv[1])
