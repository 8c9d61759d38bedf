"""A page for one person: what it says, what it never says, and who may ask for it."""

import math
import re
from functools import cache
from pathlib import Path

import golden
import pytest
import writeup_inputs as made

from lagwise.core.errors import WriteUpError
from lagwise.document.markdown import render_md
from lagwise.findings import Findings
from lagwise.findings.codes import check_codes, page_name, with_pages
from lagwise.pages.report import report
from lagwise.say.report.person import course, grade, page, reading_grade, syllables
from lagwise.writeup.checker import check_text
from lagwise.writeup.collect import collect
from lagwise.writeup.draw_person import course as drawn
from lagwise.writeup.render_person import person_files
from lagwise.writeup.share import shared

pytestmark = pytest.mark.xdist_group("every kind of write-up")  # which are put together once
GOLDEN = Path(__file__).parent / "golden" / "person_pages.md"
HOSTILE = "../<script>alert('x')</script>\u202e=cmd|' /C calc'!A0 " + "long" * 30
KEPT = (
    "one person", "describe", "exploratory, lower, without the ordinal model", "small, the mixed model is not usable", "small, undecided, with the ordinal model",
    "full, higher, with the ordinal model", "no load, practically_none", "fewer, higher", "daily, lower",
)  # fmt: skip
NEVER = re.compile(
    r"\b(fail\w*|adheren\w*|complian\w*|non-\w+|should have|missed|poor|bad week|worse than|better than|rank(?!ed here)\w*|percentile|risk|score|"
    r"damage\w*|injur\w*|danger\w*|safe\w*|must|try to|avoid|reduce|increase|recommend\w*|p-value|significan\w*|regression|model|log unit)\b",
    re.IGNORECASE,
)


@cache
def pages():
    """(name, findings, page) of one person for every gate, kind of result and question."""
    return [(name, found, page(found, found.people[0].person)) for name, found in made.combinations()]


def small(codes=None, **kind):
    return collect(made.caseload(), made.panel(6, 12, codes=codes), [made.mixed(**kind)], None)


def test_pages_are_as_kept():
    parts = [f"<!-- {name} -->\n\n{render_md(tree)}" for name, _, tree in pages() if name in KEPT]
    assert len(parts) == len(KEPT)
    golden.kept(GOLDEN, "\n".join(parts))


def test_every_page_reads_at_grade_eight_or_below(capsys):
    grades = {name: grade(tree) for name, _, tree in pages()}
    with capsys.disabled():
        print(
            f"\nreading grade of {len(grades)} pages for a person: {min(grades.values()):.1f} to {max(grades.values()):.1f}"
        )
    assert len(grades) >= 50
    assert max(grades.values()) <= 8


def test_no_page_judges_frightens_advises_or_claims():
    for text in {block for _, _, tree in pages() for block in render_md(tree).split("\n\n")}:
        assert NEVER.findall(text) == [] == check_text(text), text


def test_the_picture_holds_the_ratings_of_the_findings():
    found = small()
    picture = course(found, "P02")
    one = next(p for p in found.people if p.person == "P02")
    assert picture.data.column("pain") == list(one.pain) and picture.data.column("effort") == list(one.effort)
    assert any(v is not None for v in one.effort)


def test_the_usual_load_stands_beside_the_load_and_is_none_at_rest():
    found = dict(made.combinations())["full, higher, with the ordinal model"]
    one = found.people[0]
    resting = one.model_copy(
        update={"load": (0.0, *one.load[1:]), "jump": (0.0, *one.jump[1:]), "state": "r" + one.state[1:]}
    )
    usual = course(found.model_copy(update={"people": (resting, *found.people[1:])}), one.person).data.column(
        "usual"
    )
    told = [
        (u, load, jump)
        for u, load, jump in zip(usual, resting.load, resting.jump, strict=True)
        if load and jump is not None
    ]
    assert len(told) > 3 and usual[0] is None
    assert all(math.isclose(math.log(load / u), jump) for u, load, jump in told)


def test_a_record_without_ratings_or_effort_says_so():
    found = small()
    one = found.people[0]
    n = len(one)
    none = {"pain": (None,) * n, "effort": (), "load": (None,) * n, "state": "u" * n, "flare": (False,) * n}
    bare = one.model_copy(update=none)
    people = found.tables["people"]
    unknown = ("lowest_pain", "mean_pain", "highest_pain", "flares_reported", "mean_load")
    blank = dict.fromkeys(unknown) | {"pain_steps": 0, "trained": 0, "rest": 0, "unknown": n}
    first = tuple(blank.get(c, v) for c, v in zip(people.columns, people.rows[0], strict=True))
    table = people.model_copy(update={"rows": (first, *people.rows[1:])})
    found = found.model_copy(
        update={"people": (bare, *found.people[1:]), "tables": {**found.tables, "people": table}}
    )
    text = render_md(page(found, one.person))
    assert (
        "No rating of pain was written down" in text and "flare-up" not in text and "You trained" not in text
    )
    assert "nothing was written down" in course(found, one.person).alt
    assert b"<svg" in drawn(course(found, one.person))


def test_written_again_from_the_findings_alone():
    found = with_pages(small(), ["P03", "P01", "P03"])
    assert found.for_person == ("P03", "P01")
    again = person_files(Findings.from_json(found.to_json()))
    assert again == person_files(found)
    assert {n for n in again if n.endswith(".html")} == {"person-P01.html", "person-P03.html"}
    assert {f"figures/person-P03.{kind}" for kind in ("png", "svg", "csv")} <= set(again)
    assert "P02" not in again["person-P03.html"].decode()


def test_hostile_codes_stay_text_and_inside_the_folder():
    codes = [HOSTILE, "..", "CON", "a/b", "p1", "P1"]
    made_of = person_files(with_pages(small(codes), codes))
    assert len({n.casefold() for n in made_of if n.endswith(".html")}) == 6
    name = r"person[A-Za-z0-9_-]{0,60}\.html|figures/person[A-Za-z0-9_-]{0,60}\.(png|svg|csv)"
    assert all(re.fullmatch(name, n) for n in made_of)
    html = made_of[f"{page_name(HOSTILE, codes)}.html"].decode()
    assert "<script" not in html and "&lt;script&gt;" in html and "\u202e" not in html
    assert page_name("P-07") == "person-P-07"


def test_an_unknown_code_names_what_is_near_and_nobody_else():
    codes = ["A-101", "A-102", "A-103", "A-104", "A-105", "ZEBRA"]
    assert check_codes(["ZEBRA", "ZEBRA"], codes) == ("ZEBRA",)
    with pytest.raises(WriteUpError) as error:
        check_codes(["a-10"], codes)
    text = str(error.value)
    assert "nobody in this caseload has the code 'a-10'" in text and "--for-person" in text
    assert sum(c in text for c in codes) == 3 and "ZEBRA" not in text
    with pytest.raises(WriteUpError) as error:
        check_codes(["nothing like it"], codes)
    assert not any(c in str(error.value) for c in codes)


def test_a_version_to_share_has_no_page(tmp_path):
    found = with_pages(small(), ["P01"])
    consent = found.study.model_copy(update={"consent_single_person_plots": True})
    for one in (found, found.model_copy(update={"study": consent})):
        assert shared(one).for_person == ()
    with pytest.raises(WriteUpError, match="made to share"):
        with_pages(shared(found), ["P01"])
    with pytest.raises(WriteUpError, match="private and cannot go into a report to share"):
        report(tmp_path / "nowhere", tmp_path / "out", share=True, for_person=["P01"])
    assert not (tmp_path / "out").exists()


def test_reading_grade_is_that_of_its_formula():
    assert reading_grade("The cat sat on the mat.") == pytest.approx(0.39 * 6 + 11.8 * 1 - 15.59)
    assert reading_grade("Here are 3 of 10 pens.\nA table") == pytest.approx(
        0.39 * 6 / 2 + 11.8 * 7 / 6 - 15.59
    )
    with pytest.raises(ValueError, match="without words"):
        reading_grade("3.2")
    counted = {
        "about": 2, "people": 2, "weeks": 1, "trained": 1, "rested": 2, "average": 3, "every": 3, "table": 2,
    }  # fmt: skip
    counted |= {"Flare-ups": 2, "rehabilitation": 6}
    assert {w: syllables(w) for w in counted} == counted
