"""One figure at a time, with its alternative text and at the size it is drawn for."""

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest
from IPython.core.formatters import DisplayFormatter
from IPython.core.interactiveshell import InteractiveShell
from notebook_files import CLINIC

import lagwise as lw
from lagwise.core.errors import WriteUpError
from lagwise.core.results import Challenge, Challenges, Picture
from lagwise.pages.display import not_there


@pytest.fixture(scope="module")
def findings():
    caseload = lw.read(CLINIC)
    return lw.collect(caseload, lw.build_panel(caseload), [], None)


HISTOGRAM = Picture(
    "histogram", "The mark lies outside", pd.DataFrame({"value": [0.1, 0.2, 0.2, 0.3]}), "points", "shuffles",
    "4 shuffled values from 0.1 to 0.3; the study's own is 0.9.", {"mark": 0.9, "n_people": 1, "n_steps": 12},
)  # fmt: skip


def challenge_with(picture, problem=""):
    return Challenge(
        "shuffled_load", "Shuffled load", "?", "holds", pd.DataFrame(), "s", "l", picture, 0.0, problem
    )  # fmt: skip


def test_a_figure_shows_itself_with_its_words(findings):
    drawn = lw.figure(findings, "coverage")
    shell = InteractiveShell.instance()
    data, metadata = DisplayFormatter(parent=shell).format(drawn)
    InteractiveShell.clear_instance()
    width, height = drawn.size
    assert data["image/png"].startswith(b"\x89PNG")
    assert metadata["image/png"] == {"width": width, "height": height, "alt": drawn.alt}
    assert 600 < width < 800
    assert "people" in drawn.alt
    assert data["text/plain"] == f"{drawn.title}\n{drawn.alt}"


def test_an_unknown_name_lists_those_there_are(findings):
    with pytest.raises(WriteUpError, match=r"'effekts'\. Use one of flow, timeline, coverage, trajectories"):
        lw.figure(findings, "effekts")


def test_what_a_heading_has_to_say(findings):
    assert "Pain was rated in 917 of 953 person-weeks" in lw.answer(findings, "known").markdown
    assert "| --" not in lw.answer(findings, "recorded").markdown
    with pytest.raises(WriteUpError, match=r"no heading called 'konwn'\. Use one of title, summary, .*known"):
        lw.answer(findings, "konwn")


def test_what_is_not_there_says_each_reason_once_and_no_list_of_other_names(findings):
    fits = [
        SimpleNamespace(usable=False, why_not=f"6 people have enough weeks. {what} needs 10 people")
        for what in ("The lag model", "The curve")
    ]
    refused = not_there(findings.model_copy(update={"fits": fits}), "figure", "lags", ("flow",))
    assert (
        refused.mend
        == "6 people have enough weeks. The lag model needs 10 people. The curve needs 10 people."
    )
    with pytest.raises(WriteUpError, match=r"takes recorded loads and a flare model\.$"):
        lw.figure(findings, "aligned")


def test_a_table_without_rows_says_so():
    assert "the table has no rows" in repr(lw.table(pd.DataFrame({"estimate": []})))
    assert "rows" not in repr(lw.table({"estimate": 1}))


def test_a_table_is_whole_in_a_page_and_at_a_prompt():
    told = (
        "smallest eigenvalue of the deviance's Hessian, which is above 0 where the search ended at a minimum"
    )
    frame = pd.DataFrame(
        {
            "gate": ["converged", "hessian"],
            "value": [1.0, None],
            "passed": [True, False],
            "meaning": [told, "x"],
        }
    )
    shown = lw.table(frame.assign(n=[3.0, None], value=[0.126, None]), decimals={"value": 1})
    text = " ".join(repr(shown).split())
    assert max(map(len, repr(shown).splitlines())) <= 100
    assert all(word in text for word in told.split()) and "..." not in text
    assert "converged 0.1 yes" in text and "hessian \u2013 no" in text, (
        "missing is a dash, a count has no decimals"
    )
    html = shown._repr_html_()
    assert told.replace("'", "&#39;") in html and "dataframe" not in html
    named = repr(lw.table({"load": 0.35, "between": 1.0}, decimals=1))
    assert [line.split() for line in named.splitlines()[2:]] == [["load", "0.3"], ["between", "1.0"]]
    many = repr(lw.table(pd.DataFrame({"n": range(300)})))
    assert "The first 200 of 300 rows." in many
    with pytest.raises(WriteUpError, match="int is no table"):
        lw.table(3)


def test_of_several_pages_the_first_needs_no_number(findings):
    more = tuple(p.model_copy(update={"person": f"{p.person}-b"}) for p in findings.people)
    many = findings.model_copy(update={"people": findings.people + more})
    assert lw.figure(many, "trajectories").title.endswith("(people 1 to 48 of 80)")
    assert lw.figure(many, "trajectories-2").title.endswith("(people 49 to 80 of 80)")


def test_a_challenge_shows_its_picture():
    drawn = lw.picture(challenge_with(HISTOGRAM))
    assert (drawn.name, drawn.title, drawn.alt) == ("shuffled-load", HISTOGRAM.title, HISTOGRAM.alt)
    unsized = lw.picture(challenge_with(replace(HISTOGRAM, options={"mark": 0.9})))
    assert drawn.size[1] > unsized.size[1], "the denominators stand under the title"


def test_where_no_challenge_was_run_there_is_a_line_and_no_empty_table():
    none = Challenges(())
    assert repr(none) == "Challenges: none was run"
    assert "none was run" in none._repr_html_() and "What each" not in none._repr_html_()


def test_a_challenge_that_could_not_be_run_says_why():
    with pytest.raises(WriteUpError, match=r"^there is nothing to draw of Shuffled load: too few people$"):
        lw.picture(challenge_with(None, "too few people"))
    with pytest.raises(WriteUpError, match="there is nothing to draw"):
        lw.picture(None)


def test_it_is_saved_as_the_ending_says(findings, tmp_path):
    drawn = lw.figure(findings, "coverage")
    assert drawn.save(tmp_path / "a.png").read_bytes() == drawn.png
    assert drawn.save(str(tmp_path / "a.svg")).read_bytes() == drawn.svg
    with pytest.raises(WriteUpError, match=r"\.png or \.svg"):
        drawn.save(tmp_path / "a.jpg")
    with pytest.raises(WriteUpError, match="cannot be written"):
        drawn.save(tmp_path / "nowhere" / "a.png")


def test_a_table_of_the_write_up_by_its_name_and_errors_beside_figures(findings):
    assert repr(lw.table(findings, "missing")).startswith("What is known, of 953 person-weeks")
    with pytest.raises(WriteUpError, match=r"no table called 'mising'\. Use one of .*missing"):
        lw.table(findings, "mising")
    frame = pd.DataFrame({"bias": [-0.126], "error": [0.021], "runs": [100]})
    text = repr(lw.table(frame, errors={"bias": "error"}))
    assert "\u22120.13 \u00b1 0.02" in text and "error" not in text
