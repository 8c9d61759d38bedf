"""A study's own ratings, and the contract's on another scale, from study.toml to the checked tables and a copy."""

import doctest
import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import lagwise as lw
from lagwise.caseload import check, deidentify, load_study, read
from lagwise.caseload.check_reading import read_as_far
from lagwise.caseload.study_file import study_from
from lagwise.caseload.study_text import study_text
from lagwise.core.errors import CaseloadError, StudyError
from lagwise.say.check_record import questions_sentence

OWN = '[ratings.fatigue]\nlow = 1\nhigh = 5\nworse = "high"\n[ratings.pain]\nhigh = 100\n'
ALSO = "[[also]]\noutcome = 'worry'\nprimary = 'jump'\n"
CHECKINS = "person,date,pain,How tired?,worry\n" + "".join(
    f"a{p},2024-01-{day:02d},{10 * ((p + day) % 11)},{1 + (p * day) % 5},{(p + day) % 11}\n"
    for p in range(6)
    for day in range(1, 29, 3)
)
NAMED = f'{OWN}[tables.checkins.columns]\nfatigue = "How tired?"\n'


def test_declared_ratings_are_read_on_their_own_scale(folder):
    got = read(folder(NAMED, checkins=CHECKINS))
    assert list(got.checkins.columns)[-3:] == ["flare", "fatigue", "row"]
    assert sorted(got.checkins["fatigue"].unique()) == [1, 2, 3, 4, 5]
    assert got.checkins["pain"].max() == 100
    assert got.quarantine.empty and got.remarks.empty
    assert not {"scale_question", "heaped_ratings"} & set(check(got)["code"])


def test_a_cell_beyond_a_declared_scale_is_set_aside_and_many_are_a_question(folder):
    odd = CHECKINS + "a0,2024-02-01,80/100,4/5,3\na0,2024-02-02,101,6,3\n"
    got = read(folder(NAMED, checkins=odd))
    assert got.checkins.tail(2)[["pain", "fatigue"]].fillna(-1).to_numpy().tolist() == [[80, 4], [-1, -1]]
    assert got.quarantine[["column", "value", "mend"]].to_numpy().tolist() == [
        ["pain", "101", "Give a number from 0 to 100 points, or leave the cell empty."],
        ["fatigue", "6", "Give a number from 1 to 5 points, or leave the cell empty."],
    ]
    with pytest.raises(CaseloadError, match="lie outside 1 to 3; they run from 1 to 5") as asked:
        read(folder(NAMED.replace("high = 5", "high = 3"), checkins=CHECKINS))
    assert "Correct low and high under [ratings.fatigue]" in str(asked.value)


def test_weeks_hold_them_too_and_a_form_with_a_column_per_day(folder):
    got = read(
        folder(OWN, weeks="person,week,load,pain,fatigue\na1,2024-01-01,30,70,2\na1,2024-01-08,20,,5\n")
    )
    assert got.weeks["fatigue"].tolist() == [2, 5] and got.weeks["pain"][0] == 70
    (folder(OWN) / "weeks.csv").unlink()
    wide = "[ratings.fatigue]\nlow = 1\nhigh = 5\n[tables.checkins.wide.fatigue]\nMon = 0\nTue = 1\n"
    got = read(folder(wide, checkins="person,date,Mon,Tue\na1,2024-01-01,2,5\n"))
    assert got.checkins["fatigue"].tolist() == [2, 5]


def test_both_answers_to_a_question_about_the_scale_are_read(folder):
    with pytest.raises(CaseloadError, match="outside 0 to 10") as asked:
        read(folder(checkins=CHECKINS))
    assert 'write pain = "0-100" under [tables.checkins.units]' in str(asked.value)
    assert "write low = 0 and high = 100 under [ratings.pain] instead" in str(asked.value)
    own = read(folder("[ratings.pain]\nlow = 0\nhigh = 100", checkins=CHECKINS))
    points = read(folder('[tables.checkins.units]\npain = "0-100"', checkins=CHECKINS))
    assert own.checkins["pain"].tolist() == pytest.approx((10 * points.checkins["pain"]).tolist())
    with pytest.raises(
        StudyError, match=r"tables.checkins.units.pain = '0-100' is not allowed; \[ratings.pain\] decl"
    ):
        read(folder('[ratings.pain]\nhigh = 100\n[tables.checkins.units]\npain = "0-100"', checkins=CHECKINS))


def test_a_declared_rating_that_no_row_holds_is_one_remark_and_an_error_where_it_is_asked_about(folder):
    absent = read(folder(OWN, checkins=CHECKINS)).remarks.query("code == 'absent_rating'")
    assert absent[["table", "column"]].to_numpy().tolist() == [["checkins", "fatigue"]]
    assert "columns that are not read: How tired?" in absent["mend"].iloc[0]
    asked = f'{OWN}[analysis]\noutcome = "fatigue"'
    with pytest.raises(CaseloadError, match="no row of checkins holds fatigue; the study asks about it"):
        read(folder(asked, checkins=CHECKINS))
    words = "person,date,fatigue,stress\na,2024-01-07,some,1\na,2024-01-14,much,2\n"
    with pytest.raises(
        CaseloadError, match=r"no value of fatigue .* the first being 'some'; .* Give a plain number"
    ):
        read(folder(asked, checkins=words))
    beside = asked.replace(
        'outcome = "fatigue"', 'outcome = "stress"\nexposures = ["fatigue"]\nprimary = "fatigue"'
    )
    held = read(folder(beside.replace("[ratings.pain]\nhigh = 100\n", ""), checkins=words))
    assert (len(held.quarantine), len(held.remarks)) == (2, 0)
    high = "person,date,fatigue\n" + "".join(f"a,2024-01-{day:02d},{day}\n" for day in range(10, 30))
    (problem,) = read_as_far(folder(asked, checkins=high)).problems
    assert "ratings lie outside" in problem.what


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[analysis]\noutcome = "fatige"\n[ratings.fatigue]\nlow = 1\nhigh = 5', "Did you mean 'fatigue'"),
        ('[analysis]\noutcome = "mood"', "needs [ratings.NAME] with low and high"),
        ('[analysis]\noutcome = "jump"', "analysis.outcome = 'jump' is not allowed"),
        ("[analysis]\nlag = 0", 'order = "exposure_first"'),
        ("[analysis]\nlag = 2", "analysis.lag = 2 is not allowed; it must be a whole number from 0 to 1"),
        ('[analysis]\noutcome = "worry"\nexposures = ["jump", "worry"]', "analysis.exposures = 'worry' is not allowed; it is what"),
        ("[ratings.fatigue]\nlow = 1", "[ratings.fatigue] has no range"),
        ('[ratings.grip]\nlow = 1\nhigh = 5\nlabel = "stress"\n[analysis]\nexposures = ["jump", "grip", "stress"]',
         "ratings.grip.label = 'stress' is not allowed; stress is called so already. Give it a label of its own"),
        ("[ratings.fatigue]\nlow = 5\nhigh = 5", "low must lie below high"),
        ("[ratings.worry]\nimportant_change = 2\npractically_zero = 3", "it is more than important_change, which is 2"),
        ("[pain]\nimportant_change = 2\n[ratings.pain]\nimportant_change = 3",
         "pain.important_change = 2 is not allowed; [ratings.pain] holds another one. Take out one"),
        ("[analysis]\nprimary_contrast = 50", "it is a share of the usual load, from -0.99 to 10. For +50 % write 0.5"),
        ('[analysis]\nexposures = ["stress"]\nprimary = "stress"\nprimary_contrast = -20',
         "the whole scale of stress is 10 wide"),
        ("[ratings.fatigue]\nlow = 1\nhigh = 5\nimportant_change = 5", "important_change = 5.0 is not allowed; the whole"),
        ("[ratings.pain]\nlow = 1\nhigh = 5\n[pain]\nflare_rise = 6", "the whole scale of pain is 4 wide"),
        ("[ratings.fatigue]\nlow = 1\nhigh = 5\nworst = 'high'", "Did you mean 'worse'"),
        ("[ratings.exercise]\nlow = 1\nhigh = 5", "the name of something else"),
        ("[ratings.unknown]\nlow = 1\nhigh = 5", "the name of something else"),
        ("[ratings.usual_pain]\nlow = 1\nhigh = 5", "the name of something else"),
        ("[ratings.'How tired']\nlow = 1\nhigh = 5", "lower-case letters"),
        ("[tables.checkins.columns]\nfatigue = 'x'", "unknown key 'fatigue'"),
        ("[pain]\nimportant_change = 0.3", "practically_zero = 0.5 is not allowed; it is more than important_change"),
        (f"{OWN}practically_zero = 20\n[[also]]\noutcome = 'pain'\nprimary = 'stress'", "ratings.pain.practically_zero = 20"),
        ("[[also]]\noutcome = 'mood'\nprimary = 'jump'", "also[1].outcome = 'mood' is not allowed; legal values are stress"),
        (f"{ALSO}lag = 0", 'also[1].lag = 0 is not allowed; within one step the order must be declared'),
        ("[[also]]\noutcome = 'worry'\nprimary = 'worry'", "also[1].outcome = 'worry' is not allowed; it is its own exposure"),
        ("[ratings.fatigue]\nhigh = 3\n[[also]]\noutcome = 'fatigue'\nprimary = 'jump'", "[ratings.fatigue] has no range"),
        (f"[ratings.worry]\nhigh = 4\nimportant_change = 5\n{ALSO}", "ratings.worry.important_change = 5.0 is not allowed; the whole"),
        (f"{ALSO}{ALSO}", "also[2] = 'worry after jump' is not allowed; that question is asked already"),
        ("[[also]]\noutcome = 'pain'\nprimary = 'jump'", "also[1] = 'pain after jump' is not allowed"),
        (11 * ALSO, "there are 11 sections [[also]], and at most 10 are allowed"),
        (f"{ALSO}contrast = -1", "also[1].contrast = -1.0 is not allowed; it is a share of"),
        (f"{ALSO}contrst = 1", "unknown key 'contrst' in [also[1]]"),
        ("[[also]]\noutcome = 'worry'", "[[also]] number 1 has no primary"),
        ("also = 3", "each further question is a section of its own, written [[also]]"),
        (f"{OWN}[tables.checkins.columns]\nfatige = 'x'", "Did you mean 'fatigue'"),
        (f"{OWN}[tables.sessions.columns]\nfatigue = 'x'", "unknown key 'fatigue'"),
    ],
)  # fmt: skip
def test_bad_plans_are_one_clear_line(text, said):
    with pytest.raises(StudyError) as caught:
        study_from(tomllib.loads(f'title = "x"\n{text}'))
    assert said in str(caught.value) and "\n" not in caught.value.what


def test_further_questions_are_part_of_the_plan_and_leave_the_hash_of_others_alone(folder):
    plain = load_study(folder(""))
    study = load_study(folder(f"[analysis]\npractically_zero = 0.25\n{ALSO}{ALSO}contrast = 1\n"))
    assert [(s.outcome.name, s.outcome.zero, s.analysis.primary_contrast) for s in study.further] == [
        ("worry", 0.5, 0.5),
        ("worry", 0.5, 1.0),
    ]
    assert study.further[0].analysis.exposures == ("jump", "effort", "stress", "sleep_hours")
    assert study_from(tomllib.loads(study_text(study))) == study
    assert "also" not in plain.plan() and study.plan_hash() != plain.plan_hash()
    more = plain.with_(also=[{"outcome": "worry", "primary": "jump"}])
    assert more.changed[0].startswith("also: None -> [{'outcome': 'worry'")
    assert more.with_(also=[]).plan_hash() == plain.plan_hash()
    assert questions_sentence(study).startswith(
        "The plan asks 3 questions. Primary: pain in the next week, after weeks"
    )
    assert questions_sentence(plain) == ""
    assert lw.Study.schema()["$defs"]["AlsoPlan"]["required"] == ["outcome", "primary"]
    runner = doctest.DocTestRunner()
    for found in doctest.DocTestFinder().find(lw.Study, "Study", globs={"lw": lw}):
        assert runner.run(found).failed == 0


def test_a_copy_keeps_scales_and_rounds_by_them(folder, tmp_path):
    whole = read(folder(NAMED, checkins=CHECKINS))
    risk = deidentify(whole, tmp_path / "copy", seed=1, rounded_ratings=True)
    copy = read(tmp_path / "copy")
    assert dict(copy.study.ratings) == dict(whole.study.ratings)
    assert set(copy.checkins["fatigue"]) == {1, 3, 5} and set(copy.checkins["pain"]) == {
        0, 20, 40, 60, 80, 100,
    }  # fmt: skip
    assert copy.quarantine.empty and "ignored_column" not in set(copy.remarks["code"])
    assert "singled out by 1 / 2 of: check-ins: every rating, without the date" in set(risk["what"])


WIDE = st.tuples(st.integers(-50, 50), st.integers(1, 100)).map(lambda ends: (ends[0], ends[0] + ends[1]))


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    ends=WIDE,
    shares=st.lists(st.integers(0, 100), min_size=1, max_size=8),
    label=st.text("abc é", max_size=5),
)
def test_any_scale_and_its_ratings_come_back(folder, ends, shares, label):
    low, high = ends
    values = [round(low + share / 100 * (high - low), 2) for share in shares]
    rows = "".join(f"a1,2024-01-{day:02d},{value}\n" for day, value in enumerate(values, start=1))
    named = f'label = "{label}"\n' if label.strip() else ""
    got = read(
        folder(f"[ratings.mood]\nlow = {low}\nhigh = {high}\n{named}", checkins=f"person,date,mood\n{rows}")
    )
    assert got.checkins["mood"].tolist() == values and got.quarantine.empty
    assert study_from(tomllib.loads(study_text(got.study))).plan() == got.study.plan()
