"""One kind of event and one rating: gates, intervals, single people, attempts to break it."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from followed_worlds import KIND, PLAN, World, panel, recorded
from scipy import stats

from lagwise.core.errors import ModelError
from lagwise.core.study_parts import EventsPlan
from lagwise.events import change as room
from lagwise.events.attempts import (
    drawn_dates,
    false_dates,
    horizon_and_history,
    one_person_out,
    other_events,
    own_step,
    rating_before,
    rating_that_cannot_answer,
)
from lagwise.events.change import Change, claim, course, effects, people

SET_OFF, PLANNED = World(36, 18), World(36, 18, trigger="planned")


def asked(world: World, seed: int, **more) -> Change:
    return Change(panel(world, seed), KIND, "pain", quick=True, **more)


@pytest.fixture(scope="module")
def change() -> Change:
    return asked(SET_OFF, 21)


def weeks_of(people: int, weeks: int = 14, seed: int = 4) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(seed)
    return {f"p{i:02}": rng.integers(2, 7, weeks).astype(float) for i in range(people)}


def test_how_many_people_decide_what_is_said():
    reasons = {}
    for events in (4, 5, 14, 15):
        told = recorded(weeks_of(30), [(f"p{i:02}", 3 + i % 7, KIND) for i in range(events)])
        found = claim(Change(told, KIND, "pain"))
        reasons[int(found["enough"].value)] = found.reason.partition(".")[0]
        assert ("risk_set" in found.numbers) == (reasons[found["enough"].value] != "picture")
        assert found["enough"].value + found["alone"].value == found["events"].value == events
    assert reasons == {4: "picture", 5: "exploratory", 14: "exploratory", 15: "estimate"}


def test_three_ratings_either_side_are_asked_for():
    late, lost = weeks_of(30), weeks_of(30)
    lost["p00"][[5, 6, 7, 9, 10, 11, 12, 13]] = np.nan
    for pain, first in ((late, 11), (lost, 4)):
        events = [("p00", first, KIND), *((f"p{i:02}", 6, KIND) for i in range(1, 5))]
        found = claim(Change(recorded(pain, events), KIND, "pain"))
        assert (found.reason, found["enough"].value) == ("picture", 4)


def test_intervals_and_rows_of_the_effect_table(change):
    found, table = change.measured(), effects(change)
    n, error = change.compared.n[-1], change.compared.std_error[-1, 0]
    reach = stats.t.ppf(0.975, n - 1) * error
    assert (found.low, found.high) == pytest.approx((found.value - reach, found.value + reach))
    mean = table[table["contrast"] == "mean of steps 1-4 after"]
    assert mean["engine"].tolist() == ["risk_set", "risk_set", "did", "before_after"]
    assert mean["estimate"].iloc[0] == pytest.approx(found.value) and set(mean["n_people"]) == {n}
    assert table["contrast"].nunique() == 9 and set(table["outcome"]) == {"pain_after"}
    assert set(table["term"]) == {KIND}


def test_single_people_and_the_course(change):
    each, shown, frame = people(change), course(change), change.panel.frame
    of = {(p, s): v for p, s, v in zip(frame["person"], frame["step"], frame["pain"], strict=True)}
    for row in each[each["after"].notna()].to_dict("records"):
        after = [of.get((row["person"], row["step"] + h), np.nan) for h in range(1, 5)]
        assert row["after"] == pytest.approx(np.nanmean(after))
        assert row["before"] == pytest.approx(np.mean([of[row["person"], row["step"] - h] for h in range(3)]))
    np.testing.assert_allclose(each["difference"], each["after"] - each["expected"])
    regression = change.measured("regression").value
    assert each.loc[each["compared"], "difference"].mean() == pytest.approx(regression)
    had = each[each["compared"]]
    for row in shown.to_dict("records"):
        every = pd.Series(
            [of.get((p, s + row["x"]), np.nan) for p, s in zip(had["person"], had["step"], strict=True)]
        )
        assert (row["value"], row["n"]) == (pytest.approx(every.mean()), every.count())
    assert shown["expected"].isna().tolist() == [True] * 3 + [False] * 8


def test_what_set_it_off_shows_in_the_rating_before(change):
    assert rating_before(change)["before"].low > 0
    before = rating_before(asked(PLANNED, 53))["before"]
    assert before.low < 0 < before.high


def test_false_dates_lie_around_nothing(change):
    found = false_dates(change)
    assert found.verdict == "holds" and found["draws"].value == 29
    assert found["spread"].low < found["mean"].low < found["mean"].high < found["spread"].high


def test_a_false_date_is_chosen_by_nothing_that_comes_after_it():
    """Everybody has a step; every other person a later one, nine times as likely."""
    people = 300
    person = np.concatenate([np.arange(people), np.arange(0, people, 2)])
    order = np.argsort(person, kind="stable")
    chance = np.where(np.arange(len(person)) < people, 1.0, 9.0)[order]
    pool, rng, early = np.arange(len(person)), np.random.default_rng(1), np.flatnonzero(chance == 1)
    drawn = np.array([drawn_dates(person[order], pool, chance, 90, rng) for _ in range(200)])
    assert set(drawn.sum(axis=1)) == {90} and (drawn @ np.eye(people)[person[order]]).max() == 1
    alone, followed = drawn[:, early[1::2]].mean(), drawn[:, early[::2]].mean()
    assert followed == pytest.approx(alone, rel=0.1)


def test_a_person_who_carries_the_result_is_found():
    pain = {p: np.full(16, 4.0) + np.arange(16) % 2 for p in weeks_of(20)}
    pain["p00"][6:] = 10
    found = one_person_out(Change(recorded(pain, [(f"p{i:02}", 5, KIND) for i in range(8)]), KIND, "pain"))
    assert found["without"].low < 0.05 < found["own"].value


def test_a_rating_that_moves_with_the_event_is_named(change):
    assert rating_that_cannot_answer(change).verdict == "holds"
    frame = change.panel.frame
    first = change.panel.events.drop_duplicates("person").set_index("person")["after"]
    later = frame["step"] > frame["person"].map(first).fillna(99)
    longer = replace(change.panel, frame=frame.assign(sleep_hours=frame["sleep_hours"] + 2.0 * later))
    assert rating_that_cannot_answer(change.other(panel=longer)).verdict == "does_not_hold"
    plan = replace(PLAN, events=EventsPlan(unmoved={KIND: "worry"}))
    with pytest.raises(ModelError, match="worry is not rated"):
        rating_that_cannot_answer(change.other(panel=replace(change.panel, study=plan)))


def test_other_events_soon_after_are_left_out_and_counted(change):
    assert other_events(change)["left"].value == change.compared.events.sum()
    events = change.panel.events
    soon = events.assign(kind="education", after=events["after"] + 2, step=events["step"] + 2)
    both = replace(change.panel, events=pd.concat([events, soon.iloc[::3]], ignore_index=True))
    found = other_events(change.other(panel=both))
    assert found["left"].value < change.compared.events.sum() and "found" in found.numbers
    most = replace(change.panel, events=pd.concat([events, soon.iloc[5:]], ignore_index=True))
    assert other_events(change.other(panel=most)).verdict == "cannot_tell"


def test_horizons_histories_and_the_own_step(change):
    found, moved = horizon_and_history(change), own_step(change)
    assert len(found.measured) == 5
    assert found["first_4_ratings_3"].value == pytest.approx(change.measured().value)
    assert moved["moved"].value == change.steps.had.sum() and np.isfinite(moved["found"].value)


def test_attempts_draw_people_of_large_records_only_and_never_more_than_there_are(monkeypatch):
    monkeypatch.setattr(room, "ENOUGH", 500)
    few = Change(panel(World(60, 26), 3), KIND, "pain")
    assert len(few.steps.had) > 500 and few.some is few  # long records of few people
    many = Change(panel(World(130, 26), 3), KIND, "pain")
    assert len(many.some.steps.people) == 100
    assert many.some.horizon == many.horizon
