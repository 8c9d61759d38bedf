"""Descriptive tables against numbers worked out by hand, and against worlds where the answer is known."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lagwise.core.columns import TABLES
from lagwise.core.results import Caseload
from lagwise.core.study import Study
from lagwise.describe import (
    cohort_table,
    coverage_grid,
    events_table,
    floor_and_heaping,
    groups_table,
    missingness_table,
    people_table,
    variance_split,
)
from lagwise.describe.variance import anova_icc
from lagwise.panel import build_panel
from lagwise.synthetic import CLINIC, KINDS, simulate, simulate_panel


@pytest.fixture(scope="module")
def hand():
    """Ann: weekly pain 1, 3, none, 6 and sets 10, rest, none, 20. Bo: pain 4, 4. Cy: one check-in without pain."""
    rows = {
        "sessions": pd.DataFrame({"person": ["Ann"] * 3, "date": ["2024-01-01", "2024-01-08", "2024-01-22"],
                                  "sets": [10.0, 0.0, 20.0], "effort": [6.0, np.nan, 8.0]}),
        "checkins": pd.DataFrame({"person": ["Ann", "Ann", "Ann", "Ann", "Bo", "Bo", "Cy"],
                                  "date": ["2024-01-07", "2024-01-13", "2024-01-14", "2024-01-28", "2024-01-07", "2024-01-14", "2024-01-07"],
                                  "pain": [1.0, 2.0, 4.0, 6.0, 4.0, 4.0, np.nan],
                                  "stress": [3.0, np.nan, np.nan, 5.0, 2.0, 2.0, 9.0]}),
        "people": pd.DataFrame({"person": ["Ann", "Bo"], "site": ["north", None], "sex": ["f", "f"], "training_years": [4.0, 8.0]}),
        "events": pd.DataFrame({"person": ["Ann", "Ann", "Bo"], "date": ["2024-01-02"] * 3, "kind": ["break", "break", "illness"]}),
    }  # fmt: skip
    frames = {}
    for name, columns in TABLES.items():
        frame = rows.get(name, pd.DataFrame()).reindex(columns=[c.name for c in columns])
        for date in {"date", "week"} & set(frame.columns):
            frame[date] = pd.to_datetime(frame[date])
        frames[name] = frame.assign(person=frame["person"].astype("str"), row=np.arange(2, len(frame) + 2))
    empty = pd.DataFrame()
    caseload = Caseload(Study("hand"), **frames, quarantine=empty, counts=empty, remarks=empty, read_hash="")
    return caseload, build_panel(caseload)


def row(table, **wanted):
    found = table.loc[np.logical_and.reduce([table[k] == v for k, v in wanted.items()])]
    assert len(found) == 1
    return found.iloc[0]


def test_cohort_counts_steps_and_people_apart(hand):
    caseload, panel = hand
    table = cohort_table(panel, caseload)
    by_step, by_person = (row(table, variable="pain", level=level) for level in ("step", "person"))
    assert (by_step["n_steps"], by_step["n_people"]) == (5, 2)
    assert by_step["mean"] == pytest.approx((1 + 3 + 6 + 4 + 4) / 5)
    assert by_person["mean"] == pytest.approx((10 / 3 + 4) / 2)
    assert by_person["sd"] == pytest.approx((4 - 10 / 3) / np.sqrt(2))
    assert (by_step["low"], by_step["median"], by_step["high"]) == (1, 4, 6)
    steps = row(table, variable="steps")
    assert (steps["label"], steps["mean"]) == ("weeks per person", pytest.approx((4 + 2 + 1) / 3))
    years = row(table, variable="training_years")
    assert (years["n_people"], years["mean"], years["unit"]) == (2, 6, "years")
    assert "worry" not in set(table["variable"])
    assert "training_years" not in set(cohort_table(panel)["variable"])


def test_groups_count_everyone_in_the_panel(hand):
    table = groups_table(*hand)
    assert row(table, variable="site", value="north")["n_people"] == 1
    assert row(table, variable="site", value="not recorded")["n_people"] == 2
    assert row(table, variable="sex", value="f")["share"] == pytest.approx(2 / 3)
    assert set(table["variable"]) == {"site", "sex"}


def test_events_are_counted_with_their_people(hand):
    table = events_table(hand[0])
    assert row(table, kind="break")[["n_events", "n_people"]].tolist() == [2, 1]
    assert row(table, kind="illness")[["n_events", "n_people"]].tolist() == [1, 1]


def test_the_grid_says_what_each_step_holds(hand):
    grid = coverage_grid(hand[1])
    assert grid["recorded"].tolist() == [
        "training and pain", "training and pain", "nothing", "training and pain", "pain", "pain", "nothing"
    ]  # fmt: skip
    assert len(grid) == len(hand[1].frame)


def test_missing_values_are_counted_over_steps_and_people(hand):
    pain = row(missingness_table(hand[1]), variable="pain")
    assert (pain["n_steps"], pain["n_known"], pain["n_people"], pain["n_people_any"]) == (7, 5, 3, 2)
    assert pain["share_known"] == pytest.approx(5 / 7)
    assert (pain["lowest_share"], pain["highest_share"]) == (0, 1)
    assert pain["after_missing"] == pytest.approx(3 - 1)
    assert pain["n_compared"] == 1
    assert np.isnan(pain["low"])
    assert row(missingness_table(hand[1]), variable="jump")["n_compared"] == 0


def test_people_in_one_row_each(hand):
    table = people_table(*hand).set_index("person")
    ann = table.loc["Ann"]
    assert (ann["steps"], ann["trained"], ann["rest"], ann["unknown"], ann["sessions"], ann["checkins"]) == (
        4, 2, 1, 1, 3, 4,
    )  # fmt: skip
    assert (ann["mean_pain"], ann["lowest_pain"], ann["highest_pain"], ann["events"]) == (
        pytest.approx(10 / 3), 1, 6, 2,
    )  # fmt: skip
    assert ann["pain_trend"] == pytest.approx(np.polyfit([0, 1, 3], [1, 3, 6], 1)[0])
    assert ann["mean_load"] == 10
    assert table.loc["Bo", "pain_trend"] == 0
    assert table.loc["Cy", ["mean_pain", "pain_trend", "site", "flares_reported"]].isna().all()
    assert len(table) == 3


def test_variance_by_hand():
    between, within, icc, low, high = anova_icc(np.array([1.0, 2, 3, 5, 6, 7]), np.array([0, 0, 0, 1, 1, 1]))
    assert (between**2, within, icc) == pytest.approx((23 / 3, 1, 23 / 26))
    assert 0 <= low < icc < high <= 1


@pytest.mark.parametrize("truth", [0.5, 0.0])
def test_variance_split_recovers_its_truth_and_covers_it(truth):
    rng = np.random.default_rng(31)
    group = np.repeat(np.arange(25), rng.integers(4, 12, 25))
    runs = [
        anova_icc(
            np.sqrt(truth) * rng.normal(size=25)[group] + np.sqrt(1 - truth) * rng.normal(size=len(group)),
            group,
        )
        for _ in range(600)
    ]
    estimates, low, high = (np.array([r[i] for r in runs]) for i in (2, 3, 4))
    assert estimates.mean() == pytest.approx(truth, abs=0.04)
    covered = ((low <= truth) & (truth <= high)).mean()
    assert covered > 0.92
    if truth:
        assert covered < 0.98


def test_variance_split_needs_repeats(hand):
    table = variance_split(hand[1])
    assert table["variable"].tolist()[:2] == ["pain", "jump"]
    assert row(table, variable="pain")["n_people"] == 2
    assert np.isnan(row(table, variable="jump")["icc"])


@pytest.mark.parametrize(("per_point", "above"), [(0.9, True), (0.0, False)])
def test_missing_after_worse_steps_is_seen_where_it_happens(per_point, above):
    spec = replace(
        CLINIC, missing=0.3, missing_of_pain=per_point, dropout=0.0, patterns=(0.0, 0.0, 1.0), carry_over=0.7
    )
    panel = simulate_panel(spec, np.random.default_rng(8), n_people=400)
    pain = row(missingness_table(panel), variable="pain")
    if above:
        assert pain["low"] > 0
    else:
        assert abs(pain["after_missing"]) < 0.1


def test_heaping_shows_in_ratings_and_not_without_it():
    def excess(heaping):
        caseload = simulate(replace(CLINIC, heaping=heaping, day_sd=1.0, n_people=60), seed=6)
        five = row(floor_and_heaping(build_panel(caseload), caseload), variable="pain", value=5)
        return five["share"] - five["neighbours_share"]

    assert excess(0.4) > 0.05
    assert abs(excess(0.0)) < 0.05


def test_scale_use_counts_everything_once(hand):
    caseload, panel = hand
    steps = floor_and_heaping(panel).query("variable == 'pain'").set_index("value")
    assert steps["n"].to_dict() == {**dict.fromkeys(range(11), 0), 1: 1, 3: 1, 4: 2, 6: 1}
    assert steps["n_people_only"].to_dict() == {**dict.fromkeys(range(11), 0), 4: 1}
    ratings = floor_and_heaping(panel, caseload).query("variable == 'pain'").set_index("value")
    assert ratings.loc[4, ["n", "n_people"]].tolist() == [3, 2]
    assert ratings["share"].sum() == pytest.approx(1)
    assert ratings["counted"].eq("ratings").all()
    assert set(floor_and_heaping(panel)["variable"]) == {"pain", "stress"}


@pytest.mark.parametrize("kind", ["tiny", "weeks_only", "checkins_only", "changes"])
def test_every_kind_of_caseload_can_be_described(kind):
    caseload = simulate(KINDS[kind].spec, 2, form=KINDS[kind].form)
    panel = build_panel(caseload)
    before = panel.frame.copy()
    people = people_table(caseload, panel)
    assert len(people) == panel.frame["person"].nunique()
    assert people["steps"].sum() == len(panel.frame)
    assert len(coverage_grid(panel)) == len(panel.frame)
    assert missingness_table(panel)["n_steps"].eq(len(panel.frame)).all()
    assert row(variance_split(panel), variable="pain")["n_steps"] == panel.frame["pain"].notna().sum()
    assert cohort_table(panel, caseload)["n_people"].min() > 0
    logs = {
        "n_sessions": len(caseload.sessions) > 0,
        "n_checkins": len(caseload.checkins) + len(caseload.weeks) > 0,
    }
    assert {name: name in set(cohort_table(panel)["variable"]) for name in logs} == logs, (
        "a log not kept is no zero"
    )
    assert groups_table(caseload, panel).groupby("variable")["share"].sum().round(9).eq(1).all()
    assert floor_and_heaping(panel, caseload).groupby("variable")["share"].sum().round(9).eq(1).all()
    pd.testing.assert_frame_equal(before, panel.frame)
