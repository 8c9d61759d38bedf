"""Random caseloads and plans for the panel's tests."""

import math
from datetime import date, timedelta

import numpy as np
import pandas as pd

from lagwise.core.results import Caseload
from lagwise.core.study import Clock, LoadPlan, PainPlan, Study

NAN = math.nan
STUDIES = [
    Study("weeks"),
    Study("sunday worst morning", clock=Clock(7, "sunday", "morning"), load=LoadPlan("tonnage", 3, 2, "rest"),
          pain=PainPlan("worst", "end", 1.0)),
    Study("three days", clock=Clock(3), load=LoadPlan("hard_sets", 5, 1, "rest", 7.0, 8.0), pain=PainPlan("last")),
    Study("days", clock=Clock(1, "monday", "evening"), load=LoadPlan("session_rpe", 6, 3), pain=PainPlan("mean", "start")),
    Study("fortnight", clock=Clock(14, "wednesday"), load=LoadPlan("reps", 2, 1), pain=PainPlan("last", "end", 1.5)),
    Study("failure", clock=Clock(7), load=LoadPlan("near_failure_sets", 4, 2, "rest", 8.0, 7.0)),
]  # fmt: skip


def random_caseload(
    seed: int, study: Study, people: int = 5, days: int = 80, *, lost: bool = False
) -> Caseload:
    """Sessions and check-ins drawn at random; with `lost`, cells and whole rows of them are set aside."""
    rng = np.random.default_rng(seed)
    start = date(2024, 1, 3)

    def maybe(value, p):
        return value if rng.random() < p else NAN

    def clock_time(p):
        return f"{rng.integers(6, 22):02d}:{rng.integers(0, 4) * 15:02d}" if rng.random() < p else None

    sessions, checkins = [], []
    for i in range(people):
        offset, span = int(rng.integers(0, 30)), int(rng.integers(1, days))
        for _ in range(int(rng.integers(0, span + 1))):
            sets = maybe(float(rng.choice([0, 0, 1, 2, 3, 4])), 0.93)
            blank = sets == 0 and rng.random() < 0.8
            sessions.append(
                {"person": f"P-{i}", "date": start + timedelta(offset + int(rng.integers(0, span))), "time": clock_time(0.5),
                 "exercise": rng.choice(["press", "row", "carry"]), "sets": sets,
                 "reps": NAN if blank else maybe(float(rng.integers(1, 13)), 0.95),
                 "load_kg": NAN if blank else maybe(float(rng.choice([0, 20, 42.5])), 0.95),
                 "effort": NAN if blank else maybe(float(rng.integers(8, 20)) / 2, 0.8),
                 "reps_in_reserve": NAN if blank else maybe(float(rng.integers(0, 13)), 0.5),
                 "minutes": NAN if blank else maybe(float(rng.choice([0, 15, 40])), 0.9)}
            )  # fmt: skip
        for _ in range(int(rng.integers(0, span + 1))):
            checkins.append(
                {"person": f"P-{i}", "date": start + timedelta(offset + int(rng.integers(0, span))), "time": clock_time(0.6),
                 "pain": maybe(float(rng.integers(0, 11)), 0.8), "stress": maybe(float(rng.integers(0, 11)), 0.7),
                 "sleep_hours": maybe(float(rng.integers(8, 20)) / 2, 0.7), "sleep_quality": maybe(5.0, 0.2),
                 "worry": maybe(float(rng.integers(0, 11)), 0.3), "confidence": NAN,
                 "flare": maybe(float(rng.random() < 0.2), 0.5)}
            )  # fmt: skip
    if not lost:
        return caseload_of(study, sessions, checkins)
    gone = []
    for table, rows in (("sessions", sessions), ("checkins", checkins)):
        for at, record in reversed(list(enumerate(rows, start=2))):
            place = {"table": table, "row": at, "person": record["person"], "date": record["date"]}
            draw = rng.random()
            if draw < 0.04:
                rows[at - 2] = None
                bad = draw < 0.01
                gone.append({**place, "column": "", **({"date": None} if bad else {})})
            elif draw < 0.12:
                column = str(rng.choice(sorted(set(record) - {"person", "date", "time"})))
                record[column] = None if column == "exercise" else NAN
                gone.append({**place, "column": column})
    gone.append({"table": "sessions", "row": 1, "person": "nobody", "date": start, "column": ""})
    rows_of = [
        [(at, r) for at, r in enumerate(rows, start=2) if r is not None] for rows in (sessions, checkins)
    ]
    caseload = caseload_of(study, *([r for _, r in rows] for rows in rows_of), lost=gone)
    for name, rows in zip(("sessions", "checkins"), rows_of, strict=True):
        getattr(caseload, name)["row"] = [at for at, _ in rows]
    return caseload


def caseload_of(study: Study, sessions=(), checkins=(), weeks=(), lost=()) -> Caseload:
    def frame(rows):
        out = pd.DataFrame(list(rows), columns=None if rows else ["person", "date", "week"])
        for name in {"date", "week"} & set(out.columns):
            out[name] = pd.to_datetime(out[name])
        out["person"] = out["person"].astype("str")
        return out.assign(row=np.arange(2, len(out) + 2))

    empty = pd.DataFrame()
    return Caseload(study, frame(sessions), frame(checkins), empty, empty, frame(weeks), empty, empty, empty, "hash",
                    lost=pd.DataFrame(list(lost)).assign(date=lambda d: pd.to_datetime(d["date"])) if lost else empty)  # fmt: skip
