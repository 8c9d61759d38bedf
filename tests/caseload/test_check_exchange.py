import itertools
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

import lagwise as lw
from lagwise.caseload import read
from lagwise.caseload.check_exchange import exchanged_days, exchanged_people

LIFTS = {"press": 40.0, "row": 60.0, "curl": 14.0}
WEEKS = 24


def sessions(
    scale: dict[str, float], *, growth: float = 0.01, lifts: dict[str, list[str]] | None = None
) -> pd.DataFrame:
    """Two sessions a week; each person's loads are the lifts times a number, growing by a share each week."""
    rows = []
    for person, times in scale.items():
        for week in range(WEEKS):
            for day in (0, 3):
                for name in (lifts or {}).get(person, LIFTS):
                    load = round(2 * LIFTS[name] * times * (1 + growth) ** week) / 2
                    rows.append((person, date(2024, 1, 1) + timedelta(days=7 * week + day), name, 3, load))
    return pd.DataFrame(rows, columns=["person", "date", "exercise", "sets", "load_kg"])


def exchange(frame: pd.DataFrame, start: int, days: int, a: str = "a", b: str = "b") -> pd.DataFrame:
    """Two people's codes exchanged from day `start` on."""
    first = date(2024, 1, 1) + timedelta(days=start)
    inside = (frame["date"] >= first) & (frame["date"] < first + timedelta(days=days))
    return frame.assign(person=frame["person"].where(~inside, frame["person"].replace({a: b, b: a})))


@pytest.fixture
def caseload(folder):
    def make(frame: pd.DataFrame):
        return read(folder(checkins="person,date,pain\na,2024-01-07,3\n", sessions=frame.to_csv(index=False)))

    return make


@pytest.mark.parametrize(("start", "days"), [(56, 1), (56, 21), (56, 49), (126, 400)])
def test_exchanged_codes_are_found_for_a_day_some_weeks_and_from_then_on(caseload, start, days):
    frame = sessions({"a": 1, "b": 1.5, "c": 1.2}, growth=0.01 if days < 30 else 0.0)
    assert exchanged_people(caseload(frame)) == []
    (finding,) = exchanged_people(caseload(exchange(frame, start, days)))
    last = min(start + days - 1, 7 * WEEKS - 1)
    last_day = max(d for d in range(start, last + 1) if d % 7 in (0, 3))
    span = f"{date(2024, 1, 1) + timedelta(days=start)}"
    span += f" to {date(2024, 1, 1) + timedelta(days=last_day)}" if days > 1 else ""
    assert finding.where.startswith(f"a and b, {span} (row ")
    inside = sum(start <= 7 * w + d <= last for w in range(WEEKS) for d in (0, 3))
    assert finding.count == inside * 3 * 2


def test_people_with_other_exercises_are_told_by_these(caseload):
    frame = sessions({"a": 1, "b": 1}, lifts={"a": ["press", "row"], "b": ["curl", "row"]})
    frame.loc[frame["exercise"] == "row", "exercise"] = frame["person"].map({"a": "row", "b": "pulldown"})
    assert exchanged_people(caseload(frame)) == []
    (finding,) = exchanged_people(caseload(exchange(frame, 56, 1)))
    assert (finding.count, finding.where[:20]) == (4, "a and b, 2024-02-26 ")


def test_alike_loads_unsteady_loads_and_a_light_week_of_one_are_not_accused(caseload):
    assert exchanged_people(caseload(exchange(sessions({"a": 1, "b": 1.05}), 56, 21))) == []
    frame = sessions({"a": 1, "b": 1.5})
    rng = np.random.default_rng(3)
    to_and_fro = np.where(pd.to_datetime(frame["date"]).dt.day_of_week == 0, 0.94, 1.06)
    for times in (rng.choice([0.7, 1.0, 1.4], len(frame)), to_and_fro):
        unsteady = frame.assign(load_kg=(frame["load_kg"] * times).round(1))
        assert exchanged_people(caseload(exchange(unsteady, 56, 21))) == []
    light = frame["person"].eq("b") & (frame["date"] == date(2024, 2, 26))
    assert (
        exchanged_people(
            caseload(frame.assign(load_kg=frame["load_kg"].where(~light, frame["load_kg"] / 1.5)))
        )
        == []
    )
    heavy = light | (frame["person"].eq("a") & (frame["date"] == date(2024, 3, 25)))
    loads = frame["load_kg"].where(~heavy, frame["load_kg"] * frame["person"].map({"a": 1.5, "b": 1 / 1.5}))
    assert exchanged_people(caseload(frame.assign(load_kg=loads))) == []


def test_two_exchanged_dates_of_one_person(caseload):
    frame = sessions({"a": 1, "b": 1.5}, growth=0.03)
    assert exchanged_days(caseload(frame)) == []
    early, late = date(2024, 1, 15), date(2024, 3, 25)
    swapped = frame.assign(
        date=frame["date"].where(frame["person"] != "a", frame["date"].replace({early: late, late: early}))
    )
    (finding,) = exchanged_days(caseload(swapped))
    assert finding.where.startswith(f"a, {early} and {late} (row ")
    assert finding.count == 6
    light = frame["date"].isin([early, late]) & frame["person"].eq("a")
    assert (
        exchanged_days(caseload(frame.assign(load_kg=frame["load_kg"].where(~light, frame["load_kg"] * 0.8))))
        == []
    )


def test_one_load_of_each_is_too_little_to_tell(caseload):
    frame = sessions({"a": 1, "b": 1.5}, lifts={"a": ["press"], "b": ["press"]})
    assert exchanged_people(caseload(exchange(frame, 56, 1))) == []
    assert len(exchanged_people(caseload(exchange(frame, 56, 14)))) == 1


def test_a_session_that_fits_another_time_is_not_exchanged_unless_the_other_one_fits_too(caseload):
    frame = sessions({"a": 1, "b": 1.5}, growth=0.03)
    early, late = date(2024, 1, 15), date(2024, 3, 25)
    times = frame["date"].map({early: 1.03**10, late: 0.5}).fillna(1.0).where(frame["person"] == "a", 1.0)
    assert exchanged_days(caseload(frame.assign(load_kg=frame["load_kg"] * times))) == []


def test_people_who_change_their_loads_at_random_among_the_same_ones_are_not_accused():
    for seed in range(6):
        rng, rows = np.random.default_rng(seed), []
        for person, week in itertools.product("abcdefghi", range(12)):
            for day in sorted(rng.choice(6, 2, replace=False)):
                for lift in rng.choice(4, 2, replace=False):
                    when = pd.Timestamp("2025-09-01") + pd.Timedelta(days=int(7 * week + day))
                    rows.append((person, when, f"lift {lift}", 3, 20 + 7.5 * lift + 2.5 * rng.integers(0, 6)))
        log = pd.DataFrame(rows, columns=["person", "date", "exercise", "sets", "load_kg"])
        assert exchanged_people(lw.from_frames(sessions=log, plan=lw.Study("Elbows"))) == []
