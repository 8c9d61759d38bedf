"""The tasks on a diary by day."""

import re
from pathlib import Path

import pandas as pd

import lagwise as lw
from lagwise.exercises import TASKS, check, given, hint, hints, words, world
from lagwise.say.exercises import NOT_YET

DATA = Path(__file__).parents[2] / "data_synthetic"


def part_of(number, name):
    return TASKS[number - 1].part(name)


def test_a_daily_diary_that_asks_about_worry_is_spoken_of_in_its_own_words(tmp_path):
    """The clinic's first weeks as days: the sentence that its own table carries is taken, and one on weeks or pain is not."""
    clinic = lw.read(DATA / "clinic")
    tables = {}
    for name in ("sessions", "checkins"):
        table = getattr(clinic, name).drop(columns="row")
        table = table[table["person"].isin(clinic.people["person"].iloc[:12])]
        monday = pd.Timestamp("2024-01-01")
        day = monday + pd.to_timedelta((table["date"] - monday).dt.days // 7, unit="D")
        tables[name] = table.assign(date=day)
    tables["checkins"] = tables["checkins"].groupby(["person", "date"], as_index=False).last()
    plan = lw.Study("My diary").with_(step_days=1, outcome="worry")
    diary = lw.from_frames(**tables, plan=plan)
    sentence = given(5, diary).partition("(c) ")[2].partition("(d)")[0]
    assert sentence.startswith("Days trained") and "followed by worry about the pain" in sentence
    assert check(8, diary, rewrite=sentence).passed
    of_weeks = sentence.replace("Days", "Weeks").replace("day", "week")
    for other, says in (
        (of_weeks, "counts in days"),
        (sentence.replace("worry about the ", ""), "worry about"),
    ):
        (result,) = check(8, diary, rewrite=other).results
        assert result.state == NOT_YET and says in result.says
    assert "week" not in given(8, diary)
    assert all("week" not in str(hints(n, diary)) for n in range(1, 9))
    assert hint(1, 1, diary).startswith("Whether a day was a large one")
    said = str(words(diary))
    assert said.startswith(
        "This caseload counts in days. Its plan asks about worry about the pain on the next day"
    )
    assert "In the texts read *day* for *week*, *worry about the pain* for *pain* and" in said
    assert "read" not in str(words(DATA / "clinic"))
    keys = {at: part_of(*at).key(world(diary)) for at in ((1, "pain_next"), (2, "set_aside"), (3, "held"), (8, "not_carried"))}  # fmt: skip
    spoken = [text for key in keys.values() for text in (key.right, *(slip.says for slip in key.slips))]
    assert "the worry about the pain of the next calendar day" in spoken[0]
    own = " ".join(spoken).replace("rows set aside in weeks", "").replace("worry about the pain", "")
    assert not re.search(r"\b(weeks?|pain)\b", own)


def test_a_small_scale_has_the_decimals_and_tolerances_that_it_needs(tmp_path):
    """On 0-1, two decimals made of 0.05 'practically zero' 0.1, and a slope of 0.04 differed from another by nothing."""
    clinic = lw.read(DATA / "clinic")
    tables = {name: getattr(clinic, name).drop(columns="row") for name in ("sessions", "checkins")}
    tables["checkins"] = tables["checkins"].assign(pain=tables["checkins"]["pain"] / 10)
    rated = {"pain": {"high": 1, "important_change": 0.1, "practically_zero": 0.05, "flare_rise": 0.2}}
    small = lw.from_frames(**tables, plan=lw.Study("Small").with_(ratings=rated))
    told = given(8, small)
    assert "0.05 points" in told and "0.1 points" not in told
    assert re.search(r"followed by pain 0\.0\d\d points higher", given(5, small))
    slopes = given(3, small)["slope"]
    assert (slopes.round(2) != slopes).any()
    row = world(small).primary()
    change = round(slopes.iloc[2] - slopes.iloc[1], 3)
    assert (
        check(5, small, estimate=round(row["estimate"], 3)).passed and check(3, small, change=change).passed
    )
    assert not check(5, small, estimate=row["estimate"] + 0.005).passed
    assert not check(3, small, change=change + 0.01).passed
