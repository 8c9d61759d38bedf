"""A folder read as far as it goes: every problem at once, what is left without it, and what the edits would bring."""

from __future__ import annotations

import pickle
import tomllib

import pytest

from lagwise.caseload import read
from lagwise.caseload.check_edits import Edit, applied, block, edits_of, mending, together, written
from lagwise.caseload.check_reading import read_as_far
from lagwise.core.errors import LagwiseError
from lagwise.say.check.paste import to_paste

RATINGS = "Code,date,pain,stress\n" + "".join(
    f"{code},03/0{month}/2024,{value},{value // 10}\n"
    for code in ("A1", "A2")
    for month, value in enumerate((20, 90, 55), 4)
)
LOG = "person,Tag,sets\n" + "".join(
    f"{code},2024-0{month}-03,3\n" for code in ("A1", "A2") for month in (4, 5, 6)
)


def test_problems_of_the_plan_and_of_all_tables_are_named_together(folder):
    plan = '[load]\nmeasure = "setz"\n[tables.sessions]\nfile = "log.csv"\n[tables.sessions.columns]\nstes = "sets"'
    root = folder(plan, checkins=RATINGS, **{"log.csv": LOG}, events=b"\x00\x01")
    reading = read_as_far(root)
    said = [f"{p.where}: {p.what}" for p in reading.problems]
    for part in ("line 3: load.measure", "line 7: unknown key 'stes'", "log.csv: there is no column 'date'", "events.csv:",
                 "checkins.csv: there is no column 'person'", "day first or month first", "6 of 6 ratings lie"):  # fmt: skip
        assert sum(part in one for one in said) == 1, said
    assert len(said) == 7
    assert (len(reading.caseload.checkins), len(reading.caseload.sessions)) == (6, 6)
    assert reading.assumes
    by_line = {p.line: p.instead for p in reading.problems}
    assert (by_line[3], by_line[7]) == ("", 'sets = "sets"')
    with pytest.raises(LagwiseError, match="There are 6 more such problems; `lagwise check` names them all"):
        read(root)


def test_a_column_in_question_is_read_with_the_edit_proposed_and_left_out_without_one(folder):
    reading = read_as_far(folder(checkins=RATINGS.replace("Code", "person").replace("03/0", "30/0")))
    (problem,) = reading.problems
    assert (problem.table, problem.column, problem.brings) == ("checkins", "pain", (6, 2, 6, 6))
    assert reading.caseload.checkins["pain"].max() == 9
    odd = RATINGS.replace("Code", "person").replace("03/0", "30/0").replace(",20,", ",-2000,")
    (problem,) = (left := read_as_far(folder(checkins=odd))).problems
    assert (problem.column, problem.edits) == ("pain", ())
    assert left.caseload.checkins["pain"].isna().all()
    assert left.caseload.checkins["stress"].notna().all()


def test_a_header_that_is_not_there_keeps_the_place_of_the_one_that_is(folder):
    root = folder('[tables.checkins.columns]\nperson = "Cod"\nstress = "Stres"', checkins=RATINGS)
    by_column = {p.column: p for p in read_as_far(root).problems}
    assert by_column["person"].edits[0].keys == {"person": "Code"}
    assert by_column["stress"].edits[0].keys == {"stress": "stress"}


def test_columns_without_a_likeness_are_all_named_and_the_table_is_left_out(folder):
    odd = RATINGS.replace("Code,date", "xx,yy").replace("03/0", "30/0")
    reading = read_as_far(folder(checkins=odd))
    assert [p.column for p in reading.problems] == ["person", "date", "pain"]
    assert reading.caseload is None


def test_a_header_below_a_title_and_a_sheet_of_another_name_are_looked_for(folder, write_workbook):
    head = [["Elbow group"], ["in the autumn"], ["person", "Tag", "pain", "stress"]]
    root = folder('[tables.checkins]\nfile = "book.xlsx"', **{"x.csv": ""})
    write_workbook(root / "book.xlsx", {"Prices": [["Row", 3]], "Log": [*head, ["a1", "2024-01-07", 3, 4]]})
    reading = read_as_far(root)
    edits = [p.edits[0].keys for p in reading.problems]
    assert edits == [{"sheet": "Log"}, {"header_row": 3}, {"date": "Tag"}]
    assert len(reading.caseload.checkins) == 1


def test_a_folder_without_tables_names_its_files_and_the_way_to_a_draft(folder):
    (problem,) = read_as_far(folder(**{"Log of knees.csv": LOG})).problems
    assert '--from "caseload/Log of knees.csv"' in problem.mend


@pytest.mark.parametrize(
    ("plan", "line", "said"),
    [
        ('[analysis]\nlag = 0\norder = "exposure first"', 4, "analysis.order"),
        ('[analysis]\nexposures = ["stress"]\nprimary = "jump"', 4, "analysis.primary"),
        ("[ratings.tired]\nlow = 1\nhigh = inf", 4, "high = inf is not allowed; it must be a number from -1000000 to"),
        ('[[also]]\noutcome = "worry"\n[[also]]\noutcome = "stress"\nprimary = "stress"', 2, "number 1 has no primary"),
        ('[[also]]\noutcome = "worry"\nprimary = "jump"\n[[also]]\noutcome = "stress"\nprimary = "stress"', 6,
         "also[2].outcome"),
        ('[[also]]\noutcom = "worry"', 3, "unknown key 'outcom'"),
        ('[[also]]\noutcome = "pain"\nprimary = "jump"', 2, "also[1] ="),
        ('title = "again"', 2, "write a key, and a section, once"),
        ("[clock]\nstep_days = 7\n[clock]\nstep_days = 1", 4, "write a key, and a section, once"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_the_plan_is_named_with_its_own_line(folder, plan, line, said):
    problem = read_as_far(folder(plan, checkins="person,date,pain\na,2024-01-07,3\n")).problems[0]
    assert f"line {line}: " in f"{problem.where}: "
    assert said in f"{problem.what}. {problem.mend}"


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ("low = 1", 'low = "1"', "ratings.tired.low = '1' is not allowed"),
        ("low = 1\n", "", "[ratings.tired] has no range"),
        ("high = 5", "high = 0", "low must lie below high"),
        ("[ratings.tired]\nlow = 1\nhigh = 5\n", "", "needs [ratings.tired] with low and high"),
        ('["stress"]', '["stress", "tired"]', "analysis.exposures = 'tired' is not allowed; it is what is asked about"),
        ('primary = "stress"', 'primary = "tired"', "it must be one of the exposures: stress"),
    ],
)  # fmt: skip
def test_one_wrong_key_is_one_problem_and_the_question_stays(folder, right, wrong, said):
    plan = (
        '[ratings.tired]\nlow = 1\nhigh = 5\n[analysis]\noutcome = "tired"\nexposures = ["stress"]\n'
        'primary = "stress"\n[tables.checkins.columns]\ntired = "Fatigue now"\n'
    )
    assert right in plan
    rows = "person,date,Fatigue now,stress\na,2024-01-07,3,1\na,2024-01-14,5,2\n"
    reading = read_as_far(folder(plan.replace(right, wrong), checkins=rows))
    assert [said in f"{p.what}. {p.mend}" for p in reading.problems] == [True]
    assert reading.problems[0].instead == ""
    assert reading.plan.study.analysis.outcome == "tired"
    assert reading.caseload.checkins["tired"].tolist() == [3, 5]


def test_lines_that_are_no_toml_are_named_each(folder):
    root = folder(
        '[load]\nmeasure = sets\n[clock]\nstep_days = \nweek_starts = "sunday"',
        checkins="person,date,pain\na,2024-01-07,3\n",
    )
    reading = read_as_far(root)
    assert [p.where for p in reading.problems] == ["study.toml, line 3", "study.toml, line 5"]
    assert reading.plan.study.clock.week_starts == "sunday"


@pytest.mark.parametrize(
    ("edits", "text"),
    [
        ([Edit(("tables", "x"), {"date_format": "%d/%m"}), Edit(("tables", "x"), {"date_format": "%m/%d"})],
         'date_format = "%d/%m" or "%m/%d" under [tables.x]'),
        ([Edit(("ratings", "pain now"), {"low": 0, "high": 100})], 'low = 0 and high = 100 under [ratings."pain now"]'),
        ([Edit(("tables", "x"), {"constant": {"sets": 1}})], "constant = { sets = 1 } under [tables.x]"),
        ([Edit(("tables", "x"), {"missing": ["-9"]})], 'missing = ["-9"] under [tables.x]'),
        ([Edit(("x",), {"pain": 'a "b"'})], 'pain = "a \\"b\\"" under [x]'),
    ],
)  # fmt: skip
def test_what_a_mend_says_is_written_from_its_edits(edits, text):
    assert written(*edits) == text
    mend = pickle.loads(pickle.dumps(mending(f"Write {text}.", *edits)))
    assert (mend, edits_of(mend)) == (f"Write {text}.", tuple(edits))
    for edit in edits:
        assert tomllib.loads(block(edit)) == applied({}, edit)
    assert edits_of(str(mend)) == ()


def test_where_an_edit_goes_is_said(folder):
    text = 'title = "x"\n[tables.checkins.columns]\npain = "NRS"\n'
    person, pain, new = (Edit(("tables", t, "columns"), keys) for keys, t in (
        ({"person": "Code"}, "checkins"), ({"pain": "VAS"}, "checkins"), ({"person": "Code"}, "sessions")))  # fmt: skip
    assert to_paste(person, text, {}) == (
        "Put below [tables.checkins.columns] in line 2 of study.toml:",
        'person = "Code"',
    )
    assert to_paste(pain, text, {}) == ("Write in place of line 3 of study.toml:", 'pain = "VAS"')
    assert to_paste(new, text, {}) == ("Paste at the end of study.toml:", block(new))
    assert to_paste(new, text, {new.section: 2}) == (
        "Put below [tables.sessions.columns] of number 2:",
        'person = "Code"',
    )
    assert [block(e) for e in together([person, new, person])] == [
        '[tables.checkins.columns]\nperson = "Code"', '[tables.sessions.columns]\nperson = "Code"'
    ]  # fmt: skip
