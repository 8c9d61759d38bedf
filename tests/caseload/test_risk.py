import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lagwise.caseload import deidentify, read
from lagwise.caseload.knowledge import KINDS, known
from lagwise.caseload.lessen import coarser_loads, dropped, rounded_ratings
from lagwise.caseload.repeats import empty_frame
from lagwise.caseload.risk import Risk, assess, percent, percents
from lagwise.caseload.singled_out import Share
from lagwise.core.columns import TABLES
from lagwise.core.errors import CaseloadError
from lagwise.core.study import Study
from lagwise.pages.weekly import weekly
from lagwise.panel import build_panel
from lagwise.say.check.risk import NOT_ANONYMOUS
from lagwise.say.check.risk_page import risk_page

KIND = {kind.name: kind for kind in KINDS}


@pytest.fixture(scope="module")
def clinic():
    return read(Path(__file__).parents[2] / "data_synthetic" / "clinic")


def test_what_may_be_known_is_said_in_the_steps_of_the_study():
    """'Steps' are the panel's word; who reads the page counts in weeks, or in days."""
    log = Study(title="Log")
    diary = replace(log, clock=replace(log.clock, step_days=1))
    for study, steps in ((log, "weeks"), (diary, "days")):
        told = KIND["week_loads"].about(study)
        assert told.short == f"sets of 3 {steps}" and f"three single {steps}" in told.spoken


def of(caseload, n: int):
    """The first n people of a caseload."""
    who = sorted(set(caseload.checkins["person"]))[:n]
    return replace(
        caseload,
        **{
            t: f[f["person"].isin(who)].reset_index(drop=True) for t in TABLES for f in [getattr(caseload, t)]
        },
    )


@pytest.fixture(scope="module")
def six(clinic):
    """Six people of whom only the site is told: coarsening more is tried elsewhere."""
    few = of(clinic, 6)
    told = [name for name in few.people.columns if name not in ("person", "row", "site")]
    return replace(few, people=few.people.assign(**dict.fromkeys(told, pd.NA)))


def tables(**frames) -> dict[str, pd.DataFrame]:
    return {t: frames.get(t, empty_frame(t)) for t in ("sessions", "checkins", "people", "events", "weeks")}


def checkins(courses: dict[str, list[float]], start: dict[str, int] | None = None) -> pd.DataFrame:
    rows = [
        {
            "person": p,
            "date": pd.Timestamp(2024, 1, 1) + pd.Timedelta(days=7 * (i + (start or {}).get(p, 0))),
            "pain": pain,
        }
        for p, course in courses.items()
        for i, pain in enumerate(course)
    ]
    return pd.DataFrame(rows).reindex(columns=[*empty_frame("checkins").columns])


def sessions(rows) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["person", "day", "load_kg"])
    day = pd.Timestamp(2024, 1, 1) + pd.to_timedelta(frame["day"], unit="D")
    return frame.drop(columns="day").assign(date=day).reindex(columns=[*empty_frame("sessions").columns])


def made(frames, after=None) -> Risk:
    return assess(frames, after or frames, Study("x"), k=5, emptied=0, events_dropped=0)


def values(frames) -> dict[str, str]:
    return made(frames).frame().set_index("what")["value"].to_dict()


def test_unique_courses_are_counted():
    risk = values(
        tables(
            checkins=checkins(
                {"a": [1, 2, 3, 4, 5], "b": [1, 2, 3, 4, 5], "c": [1, 2, 3, 4, 6], "d": [0] * 5}
            )
        )
    )
    assert risk["people"] == "4"
    assert risk["people with a pain course of their own"] == "2"
    assert risk["people with a count of records of their own"] == "0"


def test_twins_cannot_be_told_apart():
    frames = tables(checkins=checkins({p: [3, 4, 3, 4] for p in "abcdef"}))
    assert values(frames)["people with a pain course of their own"] == "0"
    for one in made(frames).told:
        assert not any(share.mean for share in (*one.before, *one.after) if share.people), one.kind.name


def test_heaviest_load_alone():
    frames = tables(
        sessions=sessions([("a", 0, 50), ("b", 0, 50), ("c", 0, 180)]),
        checkins=checkins({"a": [1], "b": [1], "c": [1]}),
    )
    assert values(frames)["people alone with their heaviest load"] == "1"


def test_a_date_tells_before_and_only_the_days_between_tell_after():
    same = {"a": [1, 5, 2, 8], "b": [1, 5, 2, 8]}
    frames = tables(checkins=checkins(same, {"b": 3}))
    before = known(KIND["ratings"], frames, Study("x"), moved=False)
    after = known(KIND["ratings"], frames, Study("x"), moved=True)
    assert [s.mean for s in before] == [1, 1, 1, 1]
    assert [s.mean for s in after] == [0, 0, 0, 0]
    other = tables(checkins=checkins({"a": [1, 5, 2, 8], "b": [1, 2, 5, 8]}))
    gaps = known(KIND["ratings"], other, Study("x"), moved=True)
    # of the six pairs of a's ratings 5,8 and 1,2 and 1,5 and 2,8 and 5,2 lie otherwise in b; 1,8 does not
    assert gaps[1].mean == pytest.approx(5 / 6)


def test_a_weekday_is_still_known_after_dates_were_moved():
    frames = tables(sessions=sessions([("a", 0, 40), ("a", 7, 40), ("b", 1, 40), ("b", 8, 40)]))
    assert known(KIND["dated_weights"], frames, Study("x"), moved=True)[0].mean == 1
    assert known(KIND["weights"], frames, Study("x"), moved=True)[0].mean == 0


def test_dates_that_everybody_trained_on_tell_nobody():
    frames = tables(sessions=sessions([(p, d, 40 + i) for i, p in enumerate("abc") for d in range(0, 70, 7)]))
    shares = known(KIND["training_days"], frames, Study("x"), moved=True)
    assert [s.mean for s in shares] == [0, 0, 0, 0]
    assert known(KIND["weights"], frames, Study("x"), moved=True)[0].mean == 1


def test_what_is_left_of_the_clinic_agrees_with_what_was_measured_by_others(clinic):
    """Measured by another program: 2, 3, 4 dated weights 40, 90, 100 %; the weights of one day 92 %; 3, 4, 6 weeks of pain 83, 90, 100 %."""
    frames = {t: getattr(clinic, t) for t in TABLES}
    study = clinic.study
    for kind, counts, expected in (
        ("dated_weights", (2, 3, 4), (40, 90, 100)), ("day_weights", (1,), (92,)), ("weekly_pain", (3, 4, 6), (83, 90, 100)),
    ):  # fmt: skip
        shares = known(KIND[kind], frames, study, moved=True, counts=counts)
        assert [100 * s.mean for s in shares] == pytest.approx(expected, abs=4)


def test_each_measure_is_counted_on_the_tables_it_makes(clinic):
    some = of(clinic, 12)
    frames = {t: getattr(some, t) for t in TABLES}
    told = made(frames)
    at = [t.kind.name for t in told.headlines()]
    by = {m.option: dict(zip(at, m.shares, strict=True)) for m in told.lowered}
    made_of = {
        "--coarser-loads": coarser_loads(frames),
        "--rounded-ratings": rounded_ratings(frames, clinic.study),
    }
    for option, less in made_of.items():
        for name in ("dated_weights", "ratings"):
            (share,) = known(KIND[name], less, clinic.study, moved=True, counts=(KIND[name].headline,))
            assert by[option][name] == share
    now = {t.kind.name: t.after[t.kind.counts.index(t.kind.headline)].mean for t in told.headlines()}
    assert by["--coarser-loads"]["dated_weights"].mean < now["dated_weights"] - 0.3
    assert by["--rounded-ratings"]["ratings"].mean < now["ratings"] - 0.3
    assert by["--coarser-loads"]["ratings"].mean == now["ratings"]
    assert by["--drop load_kg"]["day_weights"].people == 0


def test_page_says_it_first_and_escapes():
    frames = tables(
        sessions=sessions([(p, d, 40 + 5 * i) for i, p in enumerate("abc") for d in range(0, 70, 7)]),
        checkins=checkins({"a": [1, 5, 2, 8], "b": [1, 5, 2, 8]}),
    )
    page = risk_page(made(frames))
    text = re.sub(r"<[^>]+>", " ", page)
    assert "Somebody knows three weights and the dates they were lifted on: in 100 of 100" in text
    assert "four pain ratings and their dates: in 0 of 100" in text
    assert page.index("Somebody knows") < page.index("<table")
    assert NOT_ANONYMOUS in page
    assert "not anonymous" in NOT_ANONYMOUS
    odd = replace(made(frames), facts=(("<script>alert(1)</script>", "a&b", '"x"'),))
    assert "<script>" not in risk_page(odd)
    assert "&lt;script&gt;" in risk_page(odd)


def test_nearly_all_is_not_said_as_all():
    assert [percent(Share(1, m, m, 0, 9)) for m in (0, 0.001, 0.4, 0.999, 1)] == [
        "0", "<1", "40", ">99", "100",
    ]  # fmt: skip
    assert percents([Share(1, 0.4, 0, 0, 9), Share(2, float("nan"), 0, 0, 0)]) == "40 / - %"


def test_coarser_loads_and_ratings():
    frames = tables(
        sessions=sessions([("a", 0, v) for v in (0, 1, 7.4, 7.5, 14.9, 15, 82.5, np.nan)]),
        checkins=checkins({"a": [0, 1, 3, 4, 10]}),
        weeks=empty_frame("weeks").reindex(range(4)).assign(load=[0.0, 7.0, 1234.0, np.nan]),
    )
    loads = coarser_loads(frames)
    assert loads["sessions"]["load_kg"].fillna(-1).tolist() == [0, 5, 5, 10, 10, 20, 80, -1]
    assert loads["weeks"]["load"].fillna(-1).tolist() == [0, 7, 1200, -1]
    assert rounded_ratings(frames, Study("x"))["checkins"]["pain"].tolist() == [0, 0, 4, 4, 10]
    assert frames["checkins"]["pain"].tolist() == [0, 1, 3, 4, 10]


def test_columns_are_left_out_by_name():
    frames = tables(sessions=sessions([("a", 0, 40)]), checkins=checkins({"a": [3]}))
    assert dropped(frames, ["load_kg"])["sessions"]["load_kg"].isna().all()
    assert dropped(frames, ["checkins.pain"])["checkins"]["pain"].isna().all()
    with pytest.raises(CaseloadError, match="Did you mean 'load_kg'"):
        dropped(frames, ["load_kgs"])
    with pytest.raises(CaseloadError, match="cannot be read without 'person'"):
        dropped(frames, ["person"])


def test_what_is_asked_for_is_in_the_copy_and_offered_no_more(six, tmp_path):
    left = deidentify(six, tmp_path / "out", seed=1, coarser_loads=True, drop=["minutes", "checkins.worry"])
    copy = read(tmp_path / "out")
    assert (copy.sessions["load_kg"].dropna() % 5 == 0).all()
    assert copy.sessions["minutes"].isna().all()
    assert copy.checkins["worry"].isna().all()
    assert copy.checkins["stress"].notna().any()
    assert copy.quarantine.empty
    assert "--coarser-loads" not in set(left["meaning"])
    assert "--rounded-ratings" in set(left["meaning"])


def test_rounded_check_ins_are_all_read_again(six, tmp_path):
    deidentify(six, tmp_path / "out", seed=1, rounded_ratings=True)
    copy = read(tmp_path / "out")
    assert copy.quarantine.empty
    assert set(copy.checkins["pain"].dropna() % 2) == {0}


def test_weekly_sums_keep_load_and_pain_of_every_week(six, tmp_path):
    weeks = weekly(six)
    with pytest.raises(CaseloadError, match="needs the caseload as weeks"):
        deidentify(six, tmp_path / "none", weekly_sums=True)
    left = deidentify(six, tmp_path / "out", mapping=tmp_path / "key.csv", weekly=weeks, weekly_sums=True)
    assert {p.name for p in (tmp_path / "out").glob("*.csv")} == {"weeks.csv", "people.csv", "events.csv"}
    assert "--weekly-sums" not in set(left["meaning"])
    codes = pd.read_csv(tmp_path / "key.csv").set_index("person")["code"]
    copy = read(tmp_path / "out")
    assert copy.quarantine.empty
    one, other = build_panel(six).frame, build_panel(copy).frame
    one = one.assign(person=one["person"].map(codes).astype("str"))
    names = ["person", "step", "state", "load", "jump", "pain", "effort", "worry"]
    sides = [f[names].sort_values(["person", "step"]).reset_index(drop=True) for f in (one, other)]
    pd.testing.assert_frame_equal(*sides, check_dtype=False)


def test_weeks_are_made_of_weeks_only(folder):
    daily = read(folder("[clock]\nstep_days = 1"))
    with pytest.raises(CaseloadError, match="cannot be told as a week"):
        weekly(daily)
