"""A student's own sentence on the planned comparison: what is taken, and what is said of what it lacks."""

import re
import tomllib
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import pytest

from lagwise.core.study import Study
from lagwise.core.variable import VARIABLES, Variable
from lagwise.exercises.numbers_said import plain
from lagwise.exercises.sentence import Wanted, lacking
from lagwise.say.exercises import LACKS
from lagwise.say.voice import Voice

LABELLED = tomllib.loads((Path(__file__).parent / "rewrites.toml").read_text("utf-8"))
WEEKS = Voice.of(Study("Weeks of pain"))
ENERGY = Variable("energy", "energy", "point", low=0.0, high=10.0, worse="low", rated=True, own=True)
KNOWN = MappingProxyType({**VARIABLES, "energy": ENERGY})


def asking(variable, **how):
    return replace(WEEKS, question=replace(WEEKS.question, variable=variable), variables=KNOWN, **how)


WANTED = {
    "clinic": Wanted(0.316, 0.18, 0.452, 40, 661, WEEKS),
    "diary": Wanted(-0.42, -0.713, -0.127, 6, 152, asking(ENERGY, step="day", contrast=0.3)),
    "sleep": Wanted(-0.05, -0.21, 0.11, 12, 180, asking(VARIABLES["sleep_hours"])),
}
GOOD = "Such weeks of more load were followed by pain 0.32 points higher (95 % interval 0.18 to 0.45; 40 people)."


@pytest.mark.parametrize("which", ["first", "second"])
def test_of_sixty_answers_as_students_write_them_nearly_all_are_judged_as_they_are_labelled(which):
    right = {says: study for study, each in LABELLED[which].items() for says in each["right"]}
    wrong = {e["says"]: study for study, each in LABELLED[which].items() for e in each["wrong"]}
    assert len(right) == len(wrong) == 30
    refused = [says for says, study in right.items() if lacking(says, WANTED[study])]
    taken = [says for says, study in wrong.items() if not lacking(says, WANTED[study])]
    assert len(refused) <= 0.05 * 30, refused
    assert len(taken) <= 0.05 * 30, taken


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (("were followed by", "caused"), "The words 'caused' say more than the findings do."),
        (("pain", "worry"), "It does not say yet that pain is what differed."),
        (("weeks", "days"), "The record counts in weeks"),
        (("of more load ", ""), "Which weeks it is about is not in it yet"),
        (("were followed by", "had"), "That pain was looked at afterwards"),
        (("Such", "In the same week, such"), "It speaks of the same week"),
        (("0.32", "0.36"), "The size of the difference, in points, is not in it yet."),
        (("points ", ""), "The number stands without its unit."),
        ((" higher", ""), "In which direction pain differed is not in it yet."),
        (("higher", "lower"), "The size fits, but its direction is turned round."),
        (("more load", "less load"), "The size fits, but its direction is turned round."),
        (("0.18 to 0.45", "given"), "A difference alone sounds surer"),
        (("0.45", "0.55"), "A difference alone sounds surer"),
        (("0.18 to 0.45", "−0.18 to 0.45"), "Both ends of the interval are there"),
        (("40 people", "many people"), "How many people or person-weeks"),
        (("40 people", "41 people"), "The number of people is not the one of the table."),
        (("points higher", "% higher"), "One of its percentages"),
        (("Such", "People should avoid such"), "The words 'People should' say more"),
    ],
)
def test_a_sentence_that_lacks_something_is_told_what(changed, says):
    assert lacking(GOOD, WANTED["clinic"]) == ""
    assert changed[0] in GOOD
    assert lacking(GOOD.replace(*changed), WANTED["clinic"]).startswith(says)


@pytest.mark.parametrize(
    "says",
    [
        "Weeks 50 % above the usual load were followed by pain 0.32 points higher than usual weeks (95 % interval 0.18 to 0.45; 661 person-weeks).",
        "In the week after weeks with more load, pain was higher than usual by 0.32 points (0.18 to 0.45) in 40 people.",
    ],
)
def test_higher_than_usual_may_be_said_of_what_was_rated(says):
    assert lacking(says, WANTED["clinic"]) == ""


def test_no_refusal_gives_a_number_away_and_each_is_in_the_words_of_the_study():
    assert not [text for text in LACKS.values() if re.search(r"\d", text.replace("side of 0", ""))]
    said = lacking("Days of more load were followed by pain 0.42 points lower.", WANTED["diary"])
    assert said == "It does not say yet that energy is what differed."


def test_a_plan_that_asks_about_less_load_or_the_same_step_is_answered_in_its_own_way():
    less = replace(WANTED["clinic"], voice=replace(WEEKS, contrast=-0.5))
    assert lacking(GOOD.replace("more load", "less load"), less) == ""
    assert lacking(GOOD, less).startswith("The size fits, but")
    same = replace(WEEKS, question=replace(WEEKS.question, lag=0))
    at_once = GOOD.replace("were followed by", "went along with")
    assert lacking(at_once, replace(WANTED["clinic"], voice=same)) == ""
    assert lacking(GOOD, replace(WANTED["clinic"], voice=same)).startswith("It speaks of a later week")


def test_another_exposure_than_load_is_called_by_its_own_name():
    voice = replace(WEEKS, primary=VARIABLES["stress"], contrast=2)
    said = "Weeks with stress above the person's average were followed by pain 0.32 points higher (0.18 to 0.45), 40 people."
    assert lacking(said, replace(WANTED["clinic"], voice=voice)) == ""
    assert lacking(GOOD, replace(WANTED["clinic"], voice=voice)).startswith("Which weeks it is about")


def test_a_scale_in_whole_tens_may_be_rounded_to_whole_points_and_a_fine_one_not():
    coarse = replace(WANTED["clinic"], estimate=3.16, low=1.8, high=4.52)
    assert lacking(GOOD.replace("0.32", "3").replace("0.18 to 0.45", "2 to 5"), coarse) == ""
    assert lacking(GOOD.replace("0.32", "0").replace("0.18 to 0.45", "0 to 0"), WANTED["clinic"])


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("six hundred and sixty-one weeks", "661 weeks"), ("forty people", "40 people"), ("1,040 weeks", "1040 weeks"),
        ("0,32 (0,2 – 0,5)", "0.32 (0.2 to 0.5)"), ("a third of a point", "0.33~ point"), ("half a point", "0.50~ point"),
        ("−0.21–0.11", "-0.21 to 0.11"), (".3 points", "0.3 points"), ("two fifths of a point", "0.40~ point"),
    ],
)  # fmt: skip
def test_numbers_are_read_as_people_write_them(written, read):
    assert plain(written) == read
