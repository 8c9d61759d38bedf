"""Ratings on other scales than 0-10, set numbers, constants, ranges, and weeks of another length."""

import numpy as np
import pandas as pd
import pytest

from lagwise.caseload import read
from lagwise.core.errors import CaseloadError, StudyError

CHECKED = "person,date,pain\na1,2024-01-01,3\n"
DAYS = [f"2024-01-{day:02d}" for day in range(1, 31)]


def rated(values, column="pain", sep=","):
    return f"person{sep}date{sep}{column}\n" + "".join(
        f"a1{sep}{d}{sep}{v}\n" for d, v in zip(DAYS, values, strict=False)
    )


@pytest.mark.parametrize(
    ("values", "scale", "first"),
    [
        ([35, 60, 8, 100, 20, 10, 55, 0, 70, 42], "0-100", 3.5),
        ([3, 5, 12, 15, 4, 18, 20, 11, 13], "0-20", 1.5),
        ([-2, 0, 4, -5, -1, 3, -3, -4, 5, -2], "-5 to 5", 3.0),
        ([85, 60, 20], "0-100", 8.5),
        ([*range(11), 99, 88, 100, 12, 15, 30], "0-100", 0.0),
    ],
)
def test_ratings_beyond_the_scale_are_a_question_and_its_answer_is_read(folder, values, scale, first):
    with pytest.raises(CaseloadError, match="ratings lie outside 0 to 10") as asked:
        read(folder(checkins=rated(values)))
    answer = f'pain = "{scale}"'
    assert answer in str(asked.value)
    assert "checkins.csv, column pain" in str(asked.value)
    got = read(folder(f"[tables.checkins.units]\n{answer}", checkins=rated(values)))
    assert got.quarantine.empty
    low, high = (
        float(end)
        for end in scale.replace(" to ", "|").replace("-", "|", 0 if low_is_signed(scale) else 1).split("|")
    )
    assert got.checkins["pain"].tolist() == pytest.approx([(v - low) * 10 / (high - low) for v in values])
    assert got.checkins["pain"][0] == pytest.approx(first)
    assert "declared_scale" in got.remarks["code"].tolist()


def low_is_signed(scale):
    return scale.startswith("-")


def test_effort_from_6_to_20_is_asked_about_and_read(folder):
    sessions = rated([6, 9, 13, 20, 15, 11, 12], "effort")
    with pytest.raises(CaseloadError, match='effort = "6-20"'):
        read(folder(checkins=CHECKED, sessions=sessions))
    got = read(folder('[tables.sessions.units]\neffort = "6-20"', checkins=CHECKED, sessions=sessions))
    assert got.sessions["effort"].tolist()[:4] == pytest.approx([0, 30 / 14, 5, 10])


def test_a_few_mistyped_ratings_and_codes_for_not_recorded_are_no_question(folder):
    sound = [3, 4, 2, 5, 6, 1, 0, 7, 3, 4, 2, 5, 6, 1, 0, 7, 3, 4]
    got = read(folder(checkins=rated([*sound, 33, 55, 77, 99])))
    assert got.counts["quarantined"].tolist() == [4]
    got = read(folder(checkins=rated([*sound, *[99] * 10])))
    assert got.counts["quarantined"].tolist() == [10]


def test_a_scale_with_commas_typed_columns_and_values_beyond_it(folder):
    study = '[tables.checkins]\nsep = ";"\ndecimal = ","\n[tables.checkins.units]\npain = "0-100"'
    got = read(folder(study, checkins=rated(["35,5", "80/100", "101"], sep=";")))
    assert got.checkins["pain"].tolist() == pytest.approx([3.55, 8.0])
    assert "from 0 to 100" in got.quarantine["mend"][0]
    root = folder('[tables.checkins.units]\npain = "1-5"', **{"checkins.parquet": b""})
    (root / "checkins.csv").unlink(missing_ok=True)
    pd.DataFrame({"person": ["a1"] * 3, "date": DAYS[:3], "pain": [1, 3, 5]}).to_parquet(
        root / "checkins.parquet"
    )
    assert read(root).checkins["pain"].tolist() == [0, 5, 10]


@pytest.mark.parametrize("unit", ['"points"', '"10-0"', "100", '"sleep"'])
def test_what_is_no_scale_is_refused(folder, unit):
    with pytest.raises(StudyError, match="scale"):
        read(folder(f"[tables.checkins.units]\npain = {unit}", checkins=CHECKED))


SETS = "person,date,exercise,set,reps\n" + "".join(
    f"a1,{day},{exercise},{n},8\n" for day in DAYS[:3] for exercise in ("row", "press") for n in (1, 2, 3)
)
AS_SETS = '[tables.sessions.columns]\nsets = "set"'


def test_the_number_of_the_set_is_not_taken_for_how_many(folder):
    with pytest.raises(CaseloadError, match="counts up 1, 2, 3") as asked:
        read(folder(AS_SETS, checkins=CHECKED, sessions=SETS))
    assert "constant = { sets = 1 }" in str(asked.value)
    got = read(folder("[tables.sessions]\nconstant = { sets = 1 }", checkins=CHECKED, sessions=SETS))
    assert got.sessions["sets"].tolist() == [1.0] * 18
    assert got.remarks.set_index("code").loc["declared_constant", "count"] == 18
    meant = f'{AS_SETS}\n[tables.sessions.units]\nsets = "count"'
    assert read(folder(meant, checkins=CHECKED, sessions=SETS)).sessions["sets"].sum() == 36
    usual = SETS.replace(",1,8", ",3,8").replace(",2,8", ",4,8")
    assert len(read(folder(AS_SETS, checkins=CHECKED, sessions=usual)).sessions) == 18


@pytest.mark.parametrize(
    ("constant", "what"),
    [("{ sets = 200 }", "cannot be used"), ("{ set = 1 }", "unknown key"), ("{ person = 'a' }", "unknown key"),
     ("{ sets = [1] }", "one number"), ("{ sets = 1 }\ncolumns = { sets = 'set' }", "gives sets a column")],
)  # fmt: skip
def test_constants_that_cannot_be(folder, constant, what):
    with pytest.raises(StudyError, match=what):
        read(folder(f"[tables.sessions]\nconstant = {constant}", checkins=CHECKED, sessions=SETS))


def test_a_row_whose_only_word_cannot_be_read_is_set_aside_whole_in_spite_of_a_constant(folder):
    rows = "person,date,effort\na1,2024-01-01,hard\na1,2024-01-02,7\n"
    got = read(folder("[tables.sessions]\nconstant = { sets = 1 }", checkins=CHECKED, sessions=rows))
    assert got.quarantine["whole_row"].tolist() == [True]


def test_ranges_are_read_only_where_the_study_asks(folder):
    rows = "person,date,sets,reps,load_kg,effort\na1,2024-01-01,3-4,8 - 10,40-45 kg,8–9\na1,2024-01-02,3,8,40,9-8\na1,2024-01-03,3,8,40,9-12\n"
    plain = read(folder(checkins=CHECKED, sessions=rows))
    assert plain.quarantine["code"].tolist() == ["bad_number"] * 3
    assert "ranges = true under [repair]" in plain.quarantine["mend"][0]
    got = read(folder("[repair]\nranges = true", checkins=CHECKED, sessions=rows))
    assert got.sessions[["sets", "reps", "load_kg", "effort"]].to_numpy()[0].tolist() == [3.5, 9, 42.5, 8.5]
    assert got.quarantine[["row", "column", "code"]].to_numpy().tolist() == [
        [3, "effort", "bad_number"], [4, "effort", "out_of_range"],
    ]  # fmt: skip
    assert "repair_ranges" in got.remarks["code"].tolist()


def test_na_for_a_date_is_no_date(folder):
    got = read(folder(checkins=CHECKED + "a1,NA,4\na2,n/a,5\n"))
    assert got.quarantine[["column", "value", "code"]].to_numpy().tolist() == [
        ["date", "NA", "missing_date"], ["date", "n/a", "missing_date"],
    ]  # fmt: skip


@pytest.mark.parametrize(("days", "kept"), [(1, 10), (3, 4), (7, 2), (14, 2)])
def test_a_weeks_table_has_a_row_per_step(folder, days, kept):
    weeks = "person,week,load\n" + "".join(f"a1,{day},{i}\n" for i, day in enumerate(DAYS[:10]))
    got = read(folder(f"[clock]\nstep_days = {days}", weeks=weeks))
    assert len(got.weeks) == kept
    assert got.quarantine["code"].eq("person_twice").all()
    np.testing.assert_equal(got.counts[["read", "used"]].to_numpy(), [[10, kept]])
