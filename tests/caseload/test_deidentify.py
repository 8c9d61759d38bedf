import stat
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lagwise.caseload import deidentify, read
from lagwise.caseload.deidentify import _key, neutral
from lagwise.core.errors import CaseloadError
from lagwise.panel import build_panel


def lines(header: str, rows) -> str:
    return "\n".join([header, *(",".join(map(str, row)) for row in rows)]) + "\n"


@pytest.fixture(scope="module")
def caseload(tmp_path_factory):
    """Twelve people of two sites, five weeks, with names in unused columns, a rare exercise and a rare event."""
    rng = np.random.default_rng(3)
    people = [f"anna{i}" for i in range(12)]
    days = pd.date_range("2024-01-01", periods=5, freq="7D").strftime("%Y-%m-%d")
    checkins = [(p, d, rng.integers(0, 10), "yes" if rng.random() < 0.2 else "no", f"note of {p}")
                for p in people for d in days]  # fmt: skip
    sessions = [(p, d, "press", 3, 8, 40 + i) for i, p in enumerate(people) for d in days]
    sessions.append(("anna3", "2024-01-03", "handstand on rings", 3, 8, 1))
    who = [(p, "North Street clinic" if i < 6 else "South clinic", "elbow", "30-39" if i else "80-89", "f" if i % 2 else "m", 4 + i)
           for i, p in enumerate(people)]  # fmt: skip
    events = [(p, "2024-01-09", "break") for p in people[:6]] + [("anna3", "2024-01-09", "illness")]
    root = tmp_path_factory.mktemp("caseload")
    plan = 'title = "Elbow pain in lifters"\nsetting = "North Street"\nethics = "NS-17"\n'
    (root / "study.toml").write_text(plan)
    (root / "checkins.csv").write_text(lines("person,date,pain,flare,comment", checkins))
    (root / "sessions.csv").write_text(lines("person,date,exercise,sets,reps,load_kg", sessions))
    (root / "people.csv").write_text(lines("person,site,region,age_band,sex,months_with_pain", who))
    (root / "events.csv").write_text(lines("person,date,kind", events))
    return read(root)


@pytest.fixture(scope="module")
def copied(caseload, tmp_path_factory):
    """A copy, its key and what is said of its risk."""
    place = tmp_path_factory.mktemp("copied")
    risk = deidentify(caseload, place / "out", mapping=place / "key.csv")
    return place / "out", pd.read_csv(place / "key.csv", index_col="person"), risk.set_index("what")["value"]


def everything(root) -> str:
    return "".join(path.read_text(encoding="utf-8") for path in root.iterdir())


def test_nothing_that_names_people_or_places_is_written(copied):
    text = everything(copied[0])
    telling = [
        "anna", "North", "South", "NS-17", "handstand", "illness", "80-89", "comment",
        "Elbow pain in lifters",
    ]  # fmt: skip
    assert [word for word in telling if word in text] == []
    assert "press" in text
    files = {"study.toml", "risk.html", "sessions.csv", "checkins.csv", "people.csv", "events.csv"}
    assert {p.name for p in copied[0].iterdir()} == files


def test_weekdays_intervals_and_values_stay(caseload, copied):
    copy, key = read(copied[0]), copied[1]
    assert (key["days"] % 7 == 0).all() and (key["days"] != 0).all() and len({*key["days"]}) > 1
    assert not key["code"].is_monotonic_increasing and not key["code"].is_monotonic_decreasing
    for table in ("checkins", "sessions"):
        before, after = getattr(caseload, table), getattr(copy, table)
        moved = before.assign(
            date=before["date"] + pd.to_timedelta(before["person"].map(key["days"]), unit="D"),
            person=before["person"].map(key["code"]).astype("str"),
        )
        if table == "sessions":
            moved = moved.assign(exercise=moved["exercise"].replace("handstand on rings", "other"))
        moved = moved.sort_values(["person", "date"], kind="stable").reset_index(drop=True)
        pd.testing.assert_frame_equal(after.drop(columns="row"), moved.drop(columns="row"))
    assert set(copy.checkins["date"].dt.day_of_week) == {0}


@pytest.mark.parametrize(("step_days", "unit"), [(10, 70), (3, 21)])
def test_shifts_are_whole_steps_and_weeks(folder, step_days, unit):
    checkins = "person,date,pain\n" + "".join(f"p{i},2024-01-01,{i % 9}\n" for i in range(30))
    days = {
        *_key(
            read(folder(f"[clock]\nstep_days = {step_days}", checkins=checkins)), None, "shift"
        ).days.values()
    }
    assert not [d for d in days if d % unit or d >= 0]
    assert len(days) > 1


def test_relative_dates_start_everybody_in_one_week(folder, tmp_path):
    root = folder(checkins="person,date,pain\na,2024-01-03,1\na,2024-01-10,2\nb,2023-05-05,3\n")
    deidentify(read(root), tmp_path / "out", dates="relative")
    dates = read(tmp_path / "out").checkins["date"]
    assert dates.min() >= pd.Timestamp(2000, 1, 3)
    assert dates.dt.strftime("%Y-%m-%d").sort_values().tolist() == ["2000-01-05", "2000-01-07", "2000-01-12"]


def test_early_dates_are_moved_forward_and_stay_readable(folder, tmp_path):
    deidentify(read(folder(checkins="person,date,pain\na,1950-01-03,1\n")), tmp_path / "out")
    assert read(tmp_path / "out").checkins["date"][0] > pd.Timestamp(1950, 1, 3)


def test_people_are_coarse(copied):
    people = read(copied[0]).people
    told = [c for c in people.columns if c not in ("person", "row")]
    assert people.groupby(told, dropna=False).size().min() >= 5
    assert int(copied[2]["smallest cell of the people table"]) >= 5
    assert int(copied[2]["events left out"]) == 1


def test_codes_are_random_and_a_seed_repeats_them(folder, tmp_path):
    few = read(folder())
    keys = [_key(few, seed, "shift") for seed in (None, None, 7)]
    assert keys[0] != keys[1] != keys[2]
    deidentify(few, tmp_path / "out", seed=7, mapping=tmp_path / "key.csv")
    key = pd.read_csv(tmp_path / "key.csv", index_col="person")
    assert (key["code"].to_dict(), key["days"].to_dict()) == (keys[2].code, keys[2].days)


def test_exercises_become_their_groups(folder, tmp_path):
    root = folder(
        '[groups]\nelbow = ["curl"]\nshoulder = ["press", "row"]',
        checkins="person,date,pain\na,2024-01-01,3\n",
        sessions="person,date,exercise,sets\na,2024-01-01,Curl,3\na,2024-01-01,row,3\na,2024-01-01,hop,3\na,2024-01-01,,3\n",
    )
    deidentify(read(root), tmp_path / "out")
    copy = read(tmp_path / "out")
    assert copy.sessions["exercise"].fillna("").tolist() == ["elbow", "shoulder", "other", ""]
    assert dict(copy.study.groups) == {"elbow": ("elbow",), "shoulder": ("shoulder",)}


def test_plan_is_kept_but_for_what_names_the_place(caseload, copied):
    study, was = read(copied[0]).study, caseload.study
    assert (study.title, study.setting, study.ethics) == ("De-identified caseload", "", "")
    assert (study.clock, study.load, study.pain, study.analysis) == (
        was.clock, was.load, was.pain, was.analysis,
    )  # fmt: skip


def test_mapping_is_for_its_owner_only_and_elsewhere(caseload, copied, tmp_path):
    key = copied[0].parent / "key.csv"
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    with pytest.raises(CaseloadError, match="beside the data"):
        deidentify(caseload, tmp_path / "out2", mapping=tmp_path / "out2" / "key.csv")
    with pytest.raises(CaseloadError, match="exists already"):
        deidentify(caseload, tmp_path / "out2", mapping=key)
    assert not (tmp_path / "out2").exists()


def test_places_that_are_refused(caseload, tmp_path):
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").touch()
    with pytest.raises(CaseloadError, match="something here already"):
        deidentify(caseload, tmp_path / "full")
    with pytest.raises(CaseloadError, match="inside the caseload"):
        deidentify(caseload, f"{caseload.folder}/out")
    with pytest.raises(CaseloadError, match="k must be"):
        deidentify(caseload, tmp_path / "out", k=0)


def test_a_failed_write_leaves_nothing(folder, tmp_path):
    few = read(folder())
    before = sorted(tmp_path.iterdir())
    with pytest.raises(CaseloadError, match="cannot be written"):
        deidentify(few, tmp_path / "out", mapping=tmp_path / "nowhere" / "key.csv")
    assert sorted(tmp_path.iterdir()) == before


def test_without_mapping_only_the_folder_is_written_and_the_caseload_is_not_changed(folder, tmp_path):
    few = read(folder())
    before, files = few.checkins.copy(), set(tmp_path.iterdir())
    deidentify(few, tmp_path / "out", title="Elbows")
    assert set(tmp_path.iterdir()) - files == {tmp_path / "out"}
    assert read(tmp_path / "out").study.title == "Elbows"
    pd.testing.assert_frame_equal(few.checkins, before)


def test_weeks_are_deidentified_too(folder, tmp_path):
    root = folder(
        weeks="person,week,load,pain,trained\nzora,2024-01-03,3,1,trained\nzora,2024-01-10,,2,rest\n"
    )
    deidentify(read(root), tmp_path / "out")
    copy = read(tmp_path / "out")
    assert copy.weeks["week"].diff().dt.days.tolist()[1] == 7
    assert "zora" not in everything(tmp_path / "out")


def test_formulas_are_neutralised():
    assert all(neutral(text) == "'" + text for text in ("=1+1", "+1", "-1", "@SUM", "\tx", "\rx"))
    assert neutral("press = row") == "press = row"


def test_formulas_from_the_data_are_neutralised_in_the_copy(folder, tmp_path):
    rows = "".join(f"p{i},=cmd(),@x\n" for i in range(6))
    root = folder(
        checkins="person,date,pain\n" + "".join(f"p{i},2024-01-01,{i}\n" for i in range(6)),
        people="person,region,sex\n" + rows,
    )
    deidentify(read(root), tmp_path / "out")
    assert "'=cmd()" in (tmp_path / "out" / "people.csv").read_text()
    assert not any(
        cell.startswith(("=", "@"))
        for line in (tmp_path / "out" / "people.csv").read_text().splitlines()
        for cell in line.split(",")
    )


@pytest.mark.parametrize("name", ["gym_log", "clinic_workbook"])
def test_the_copy_of_a_messy_export_gives_the_same_panel(tmp_path, name):
    original = read(Path(__file__).parents[2] / "data_synthetic" / "messy" / name)
    deidentify(original, tmp_path / "out", mapping=tmp_path / "key.csv")
    copy = read(tmp_path / "out")
    codes = pd.read_csv(tmp_path / "key.csv").set_index("person")["code"]
    one, other = build_panel(original).frame, build_panel(copy).frame
    one = one.assign(person=one["person"].map(codes).astype("str"))
    dates = list(one.select_dtypes("datetime").columns)
    sides = [
        f.drop(columns=dates).sort_values(["person", "step"]).reset_index(drop=True) for f in (one, other)
    ]
    pd.testing.assert_frame_equal(*sides, check_dtype=False)
    assert copy.quarantine.empty


def test_no_new_code_holds_a_former_one(folder):
    def codes(*former: str) -> set[str]:
        checkins = lines("person,date,pain", [(p, "2024-01-01", 3) for p in (*others, *former)])
        return {*_key(read(folder(checkins=checkins)), 1, "shift").code.values()}

    others = [f"anna{i}" for i in range(11)]
    former = min(codes("anna11"))[:5]
    again = codes(former)
    assert len(again) == 12
    assert not [c for c in again if former in c]


def test_a_session_row_that_was_set_aside_makes_no_load_of_the_copy_smaller(folder, tmp_path):
    rows = "a1,2024-01-01,3,8\na1,2024-01-02,three,much\na1,2024-01-08,3,8\na1,spring,3,8\n"
    checkins = "person,date,pain\na1,2024-01-01,3\na1,2024-01-08,4\n"
    was = read(folder(checkins=checkins, sessions=f"person,date,sets,effort\n{rows}"))
    deidentify(was, tmp_path / "copy", k=1)
    copy = build_panel(read(tmp_path / "copy")).frame
    for frame in (build_panel(was).frame, copy):
        assert frame["partly_recorded"].tolist() == [1, 0]
        assert frame["load"].isna().tolist() == [True, False]


def test_no_date_and_no_word_of_the_plan_is_carried_over(folder, tmp_path):
    plan = (
        '[clock]\nstudy_start = 2024-01-03\n[blocks]\nspring = ["2024-01-03", "2024-02-03"]\n'
        '[events]\nkinds = ["moved_to_ulm"]\n[exercises.same]\nrow = ["anna row"]\n'
    )
    checkins = lines(
        "person,date,pain", ((f"p{i}", f"2024-01-{d:02d}", 3) for i in range(12) for d in (3, 10, 17))
    )
    kinds = [(f"p{i}", "2024-01-03", "break", "2024-01-10") for i in range(12)] + [
        ("p1", "2024-01-03", "moved_to_ulm", "")
    ]
    caseload = read(folder(plan, checkins=checkins, events=lines("person,date,kind,until", kinds)))
    deidentify(caseload, tmp_path / "out", mapping=tmp_path / "key.csv")
    text = (tmp_path / "out" / "study.toml").read_text("utf-8")
    assert [told for told in ("2024-", "spring", "ulm", "anna") if told in text] == []
    events = read(tmp_path / "out").events
    assert (events["until"] - events["date"]).dt.days.tolist() == [7] * 12
