"""The parts of a run: where notebooks are found, what they are given, how their errors are read, what a page holds."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pandas as pd
import pytest
from bs4 import BeautifulSoup
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

import lagwise
from lagwise.core.errors import ModelError, NotebookError
from lagwise.core.results import Fit
from lagwise.suite import run, sources
from lagwise.suite.execute import only_shows
from lagwise.suite.index import Ran, index_page, took
from lagwise.suite.outcome import DONE, FAILED, STOPPED, Outcome, outcome
from lagwise.suite.page import page, relinked, with_mathml
from lagwise.suite.sources import Source, home, values

ROOT = Path(__file__).resolve().parents[2]


def error(ename: str, evalue: str):
    return new_output("error", ename=ename, evalue=evalue, traceback=[f"Traceback of {ename}"])


def printed(text: str):
    return new_output("stream", name="stdout", text=text)


def executed(*cells):
    return new_notebook(
        cells=[new_markdown_cell("# Title"), *cells, new_markdown_cell("## What this does not tell you")]
    )


def text_of(notebook) -> str:
    return "\n".join(cell.source for cell in notebook.cells)


def test_the_notebooks_come_in_order_with_their_questions_and_without_exercises():
    found = sources()
    assert [s.name for s in found] == sorted(p.stem for p in (ROOT / "notebooks").glob("[0-9]*.ipynb"))
    assert all(s.question.endswith("?") and s.question[0].isupper() and s.title for s in found)
    of = {s.name: s.parameters["CASELOAD"] for s in found}
    assert of.pop("10_what_changed_and_what_followed") == "../data_synthetic/changes"
    assert set(of.values()) == {"../data_synthetic/clinic"}
    assert [s.name for s in sources(["03"])] == ["03_describe_the_caseload"]
    with pytest.raises(NotebookError, match=r"no notebook is called '77'\. There are 00_start_here"):
        sources(["00", "77"])


def test_a_built_wheel_holds_them(tmp_path):
    subprocess.run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)], cwd=ROOT, check=True, capture_output=True)  # fmt: skip
    (wheel,) = tmp_path.glob("*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {f"lagwise/notebooks/{s.name}.ipynb" for s in sources()} <= names
    assert {
        "lagwise/notebooks/glossary.md",
        "lagwise/suite/templates/page.css",
        "lagwise/suite/templates/lagwise-page/index.html.j2",
    } <= names


def test_they_are_found_inside_an_installed_package(tmp_path, monkeypatch):
    package = tmp_path / "site-packages" / "lagwise"
    (package / "notebooks").mkdir(parents=True)
    monkeypatch.setattr(lagwise, "__file__", str(package / "__init__.py"))
    with pytest.raises(NotebookError, match="not in this installation"):
        home()
    (package / "notebooks" / "00_start_here.ipynb").touch()
    assert home() == package / "notebooks"


def test_every_path_becomes_the_caseload_the_invented_twin_or_a_place_to_write():
    source = Source(
        Path("00_a.ipynb"), "A", "?",
        {"CASELOAD": "../data_synthetic/clinic", "UNTIDY": "../data_synthetic/messy/x", "TWIN": "../data_synthetic/no_effect", "HALL": "../data_synthetic/changes", "NOTHING": "../data_synthetic/changes_no_effect",
         "OUT": "../artefacts/start-here", "WORD": "kept"},
    )  # fmt: skip
    given, invented = values(source, Path("/own"))
    own = str(Path("/own"))
    assert given == {
        "CASELOAD": own,
        "UNTIDY": own,
        "TWIN": "invented-no-effect",
        "HALL": own,
        "NOTHING": "invented-changes-no-effect",
        "OUT": "start-here",
    }
    assert invented == {
        "no_effect": "invented-no-effect",
        "changes_no_effect": "invented-changes-no-effect",
    }


@pytest.mark.parametrize(
    ("code", "shows"),
    [
        ("panel.frame.head()", True), ("print(1)\nprint(2)", True), ("a = 1\na", False), ("import os", False),
        ("", True)],
)  # fmt: skip
def test_a_cell_that_makes_nothing_only_shows(code, shows):
    assert only_shows(code) is shows


def test_an_error_of_the_project_stops_it_with_its_message_and_keeps_the_closing_text():
    notebook = executed(
        new_code_cell("fit = f()", outputs=[printed("before"), error("ModelError", "a *star*: too few")]),
        new_markdown_cell("Read the table"),
        new_code_cell("fit.table"),
    )
    made, end = outcome(notebook)
    assert end == Outcome(STOPPED, "a *star*: too few")
    assert "This notebook stops here" in text_of(made)
    assert r"A \*star\*: too few" in text_of(made)
    assert "Read the table" not in text_of(made)
    assert made.cells[-1].source == "## What this does not tell you"
    assert [o.output_type for o in made.cells[1].outputs] == ["stream"]
    assert notebook.cells[1].outputs[1].output_type == "error", "the notebook given is not changed"


def test_a_cell_that_only_shows_is_noted_and_the_rest_goes_on():
    notebook = executed(
        new_code_cell(
            "lw.figure(findings, 'x')", outputs=[error("WriteUpError", "no figure. Use one of a, b-c.")]
        ),
        new_code_cell("b = 2", outputs=[printed("2")]),
    )
    made, end = outcome(notebook)
    assert end == Outcome(DONE, "", ("no figure.",)), "names for who writes code are not for a reader"
    assert "**Not shown for this folder.** No figure." in text_of(made)
    assert "b = 2" in text_of(made)


@pytest.mark.parametrize("debug", [True, False])
def test_another_error_is_a_fault_and_its_traceback_is_kept_on_request(debug):
    made, end = outcome(executed(new_code_cell("d['x']", outputs=[error("KeyError", "'x'")])), debug=debug)
    assert end == Outcome(FAILED, "KeyError: 'x'")
    assert "fault of the notebook or the library" in text_of(made)
    assert bool(made.cells[1].outputs) is debug


def test_links_lead_to_what_lies_beside_or_become_plain_text():
    text = "[a](01_a.ipynb), [place](01_a.ipynb#here), [docs](../docs/x.md), ![p](p.png), [web](https://example.org)"
    notebook = new_notebook(cells=[new_markdown_cell(text)])
    made = relinked(notebook, ["01_a"], ".html").cells[0].source
    assert made == "[a](01_a.html), [place](01_a.html#here), docs, ![p](p.png), [web](https://example.org)"
    assert notebook.cells[0].source == text


def test_formulas_become_mathml_and_money_does_not():
    notebook = new_notebook(
        cells=[new_markdown_cell("A $x_i$ and $$\\frac{a}{b}$$, for 5$ or 6$."), new_code_cell("'$x$'")]
    )
    made = with_mathml(notebook)
    assert made.cells[0].source.count("<math") == 2
    assert "mfrac" in made.cells[0].source
    assert made.cells[0].source.endswith("for 5$ or 6$.")
    assert made.cells[1].source == "'$x$'"


def test_a_page_is_self_contained_escapes_what_is_printed_and_speaks_for_its_figures():
    picture = new_output("display_data", {"image/png": "QUJD\n", "text/plain": "t"}, metadata={"image/png": {"width": 700, "alt": 'Six "people"'}})  # fmt: skip
    cell = new_code_cell("1 < 2", outputs=[printed("<script>x</script>"), picture])
    html = page(executed(cell), "A & B", "Own <folder>")
    assert "&lt;script&gt;x&lt;/script&gt;" in html
    assert "<script" not in html
    (image,) = BeautifulSoup(html, "html.parser").find_all("img")
    assert image["alt"] == 'Six "people"'
    assert image["src"] == "data:image/png;base64,QUJD"
    assert BeautifulSoup(html, "html.parser").find("details", class_="code").pre.text == "1 < 2"
    assert "<details" not in page(executed(cell), "A & B", "Own <folder>", show_code=True)
    assert "<title>A &amp; B: Own &lt;folder&gt;</title>" in html
    assert "default-src 'none'" in html
    assert "http://" not in html.replace("http://www.w3.org/", "")
    assert "https://" not in html


def test_the_index_says_how_each_ended_and_links_only_what_is_there():
    source = Source(Path("03_x.ipynb"), "Describe <it>", "Who?", {})
    ran = [
        Ran(source, Outcome(DONE, "", ("no figure",)), 12.3, True),
        Ran(source, Outcome(STOPPED, "3 people; 5 are needed"), 130.0, True),
        Ran(source, Outcome(FAILED, "the kernel ended"), 1.0, False),
    ]
    html = index_page("A & B", ran, ["start-here/case-series.html"])
    assert (
        "1 of 3 notebooks ran to the end. 1 stopped where the data do not allow it; each says why. 1 failed."
        in html
    )
    assert "3 people; 5 are needed" in html
    assert html.count('href="03_x.html"') == 2
    assert "Describe &lt;it&gt;" in html
    assert "<li>No figure</li>" in html
    assert 'href="start-here/case-series.html"' in html
    assert (took(12.3), took(130.0)) == ("12 s", "2 min")


def test_a_table_that_was_not_made_is_said_in_one_line():
    table = pd.DataFrame({"n": [1]})
    fit = Fit("mixed", "pain_next", pd.DataFrame(), pd.DataFrame(), usable=True, rung="random intercept", tables={"variance": table})  # fmt: skip
    assert fit.table("variance") is table
    with pytest.raises(
        ModelError, match=r"the table 'random_effects' was not made for these data\. There are variance"
    ):
        fit.table("random_effects")


def test_errors_of_the_project_show_one_line_in_a_notebook():
    raised = ModelError("too few people", where="mixed model", mend="Record more.")
    assert raised._render_traceback_() == ["ModelError: mixed model: too few people. Record more."]
    assert (
        str(ModelError("day first or month first?", mend="Say which."))
        == "day first or month first? Say which."
    )


def test_missing_libraries_are_named_with_the_extra(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "papermill", None)
    with pytest.raises(
        NotebookError, match=r"papermill is not installed.*pip install \"lagwise\[notebooks\]\""
    ):
        run(tmp_path, tmp_path / "out")
