from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

import lagwise as lw
from lagwise.caseload import check, read
from lagwise.caseload.check_people import _fold
from lagwise.caseload.repeats import step_of

START = date(2024, 1, 1)


def tables() -> dict[str, pd.DataFrame]:
    """Four people, twelve weeks, two sessions and one check-in a week, nothing odd."""
    rng = np.random.default_rng(5)
    sessions, checkins = [], []
    for i, person in enumerate(("k1", "k2", "m3", "m4")):
        load = 40 + 10 * i
        for week in range(12):
            for day in (i % 3, 3 + i % 2):
                when = START + timedelta(days=7 * week + day)
                sessions += [
                    (person, when, "press", 3, 8, load + 2.5 * (week // 4), 7),
                    (person, when, "row", 4, 6, load, 6),
                ]
            rated = START + timedelta(days=7 * week + 6)
            checkins.append((person, rated, rng.integers(0, 9), rng.integers(0, 9), rng.integers(10, 17) / 2))
    return {
        "sessions": pd.DataFrame(
            sessions, columns=["person", "date", "exercise", "sets", "reps", "load_kg", "effort"]
        ),
        "checkins": pd.DataFrame(checkins, columns=["person", "date", "pain", "stress", "sleep_hours"]),
        "people": pd.DataFrame({"person": ["k1", "k2", "m3", "m4"], "sex": "f"}),
        "events": pd.DataFrame(columns=["person", "date", "kind"]),
    }


@pytest.fixture
def found(folder) -> Callable[..., pd.DataFrame]:
    def run(study: str = "", **changed: pd.DataFrame) -> pd.DataFrame:
        parts = {**tables(), **changed}
        return check(
            read(folder(study, **{name: frame.to_csv(index=False) for name, frame in parts.items()}))
        )

    return run


def test_nothing_is_accused_without_cause(found):
    result = found()
    assert result.empty
    assert list(result.columns) == ["code", "table", "what", "where", "count", "why", "mend"]


def one(result: pd.DataFrame) -> pd.Series:
    assert len(result) == 1, result[["code", "where"]]
    row = result.iloc[0]
    assert row["why"]
    assert row["mend"]
    return row


@pytest.mark.parametrize(
    ("one_code", "other", "same"),
    [("7", "7.0", 1), ("a 7", "A07", 1), ("p_1-2", "P-1 2", 1), ("1-1", "11", 0), ("a1", "b1", 0), ("10", "1", 0), ("7.5", "75", 0)],
)  # fmt: skip
def test_codes_alike_and_unlike(one_code, other, same):
    assert (_fold(one_code) == _fold(other)) == bool(same)


def marked(*events: tuple[str, str, str]) -> Callable[[dict], None]:
    def change(t: dict) -> None:
        t["events"] = pd.DataFrame(events, columns=["person", "date", "kind"])

    return change


def lasted(*until: str) -> Callable[[dict], None]:
    def change(t: dict) -> None:
        t["events"] = pd.DataFrame(
            {"person": "k1", "date": "2024-02-01", "kind": [*KINDS], "until": [*until]}
        )

    return change


def rows_of_m3(t: dict) -> pd.Index:
    t["sessions"] = t["sessions"].astype({"load_kg": float})
    return t["sessions"].index[(t["sessions"]["person"] == "m3") & (t["sessions"]["exercise"] == "row")]


def times(factor: float) -> Callable[[dict], None]:
    def change(t: dict) -> None:
        at = rows_of_m3(t)[15]
        t["sessions"].loc[at, "load_kg"] *= factor

    return change


def varied(t: dict) -> None:
    at = rows_of_m3(t)
    t["sessions"].loc[at, "load_kg"] = [30.0, 66.0, 40.0, 50.0, 88.0, 36.0] * 4


KINDS = ("education", "technique_change", "exercise_added")
BREAK, RESUMED, REDUCED = "break", "load_resumed", "load_reduced"
ODD = {
    "trained in a break": (
        marked(("k1", "2024-02-01", BREAK), ("k1", "2024-02-12", RESUMED), ("m3", "2024-02-01", BREAK)),
        ("session_in_break", 4, "k1"),
    ),
    "resumed without a stop": (
        marked(("k1", "2024-02-12", RESUMED), ("m3", "2024-02-01", REDUCED), ("m3", "2024-02-05", RESUMED)),
        ("resumed_without_stop", 1, "k1, row 2"),
    ),
    "over before it begins": (
        lasted("2024-01-09", "2024-02-01", "2024-02-20"),
        ("ended_first", 1, "k1, row 2 (2024-01-09)"),
    ),
    "pounds": (times(2.2046), ("pound_jump", 1, "m3, row 129")),
    "kilograms among pounds": (times(1 / 2.2046), ("pound_jump", 1, "m3, row 129")),
    "another jump": (times(1.6), None),
    "loads that vary anyway": (varied, None),
}


@pytest.mark.parametrize("case", ODD)
def test_what_is_odd_is_named_and_nothing_else(found, case):
    change, told = ODD[case]
    changed = tables()
    change(changed)
    result = found(**changed)
    if told is None:
        assert result.empty
    else:
        assert (one(result)["code"], one(result)["count"]) == told[:2]
        assert told[2] in one(result)["where"]


def test_sessions_after_the_last_checkin(found):
    checkins = tables()["checkins"]
    row = one(found(checkins=checkins[(checkins["person"] != "m4") | (checkins["date"] < date(2024, 2, 1))]))
    assert row["code"] == "after_last_checkin"
    assert row["count"] == 2 * 2 * 4
    assert "1 person" in row["what"]


def test_ratings_copied_forward(found):
    checkins = tables()["checkins"]
    at = checkins.index[checkins["person"] == "k2"][2:11]
    checkins.loc[at, ["pain", "stress", "sleep_hours"]] = [4, 3, 7.5]
    row = one(found(checkins=checkins))
    assert (row["code"], row["count"], row["where"]) == ("frozen_ratings", 1, f"k2, row {at[0] + 2}")
    checkins.loc[at[4], "pain"] = 5
    assert found(checkins=checkins).empty


def test_heaped_ratings(found):
    checkins = tables()["checkins"]
    checkins["stress"] = [5, 10, 5, 3, 5, 10] * 8
    row = one(found(checkins=checkins))
    assert (row["code"], row["where"], row["count"]) == ("heaped_ratings", "stress", 40)
    checkins["stress"] = [5] * 11 + [0] + [10] * 12 + [5] * 11 + [6] + [4] * 12
    assert "heaped_ratings" not in set(found(checkins=checkins)["code"])


def test_number_of_ratings_per_step_varies(found):
    checkins = tables()["checkins"]
    more = checkins.iloc[::4].assign(date=lambda f: f["date"] - timedelta(days=2), pain=3)
    row = one(found(checkins=pd.concat([checkins, more])))
    assert row["code"] == "ratings_per_step_vary"
    assert row["where"] == "1 rating: 36 weeks, 2 ratings: 12 weeks"
    worst = one(found('[pain]\nsummary = "worst"', checkins=pd.concat([checkins, more])))
    assert "'worst'" in worst["why"]
    assert found("[clock]\nstep_days = 1", checkins=pd.concat([checkins, more])).empty


@pytest.mark.parametrize("starts", ["monday", "thursday"])
@pytest.mark.parametrize("days", [1, 3, 7, 14, 28])
def test_a_check_counts_in_the_steps_of_the_panel(days, starts):
    rng = np.random.default_rng(days)
    rows = pd.DataFrame({"person": rng.choice(["a", "b", "c"], 90), "pain": rng.integers(0, 11, 90)})
    rows["date"] = pd.Timestamp(2025, 1, 1) + pd.to_timedelta(rng.permutation(120)[:90], unit="D")
    caseload = lw.from_frames(checkins=rows, plan=lw.Study("x").with_(step_days=days, week_starts=starts))
    own = step_of(caseload.checkins["person"], caseload.checkins["date"], caseload.study.clock)
    counted = own.groupby([caseload.checkins["person"], own]).size()
    frame = lw.build_panel(caseload).frame.query("n_checkins > 0")
    assert counted.to_dict() == frame.set_index(["person", "step"])["n_checkins"].to_dict()


@pytest.mark.parametrize(
    "parts",
    [
        {"weeks": "person,week,load,pain\na,2024-01-03,3,1\na,2024-01-10,3,1\n"},
        {"checkins": "person,date\na,2024-01-03\n"},
        {"checkins": "person,date,pain\na,2024-01-03,1\n", "sessions": "person,date,sets\na,2024-01-03,3\n"},
    ],
)
def test_small_caseloads_can_be_checked(folder, parts):
    assert check(read(folder(**parts))).empty
