"""A run as a user meets it: what is written, what is said, its exit codes, and that a failed run leaves nothing."""

import importlib
import json
import re
import shutil
from pathlib import Path

import browser
import nbformat
import pytest
from bs4 import BeautifulSoup
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook
from typer.testing import CliRunner

from lagwise import synthetic
from lagwise.cli import app

run = CliRunner().invoke
suite_run = importlib.import_module("lagwise.suite.run")
suite_sources = importlib.import_module("lagwise.suite.sources")


@pytest.fixture(scope="module")
def four(tmp_path_factory) -> Path:
    """Four people: too few for a model, enough for the checks of 02."""
    return synthetic.write("tiny", tmp_path_factory.mktemp("caseloads") / "four", seed=1)


@pytest.fixture(scope="module")
def ran(four, tmp_path_factory):
    """A notebook of the suite on four people, and the folder it wrote."""
    out = tmp_path_factory.mktemp("out") / "notebooks"
    result = run(app, ["notebooks", str(four), "--out", str(out), "--only", "02"])
    return result, out


def test_it_leaves_notebooks_pages_and_an_index_and_no_path_of_the_scratch_folder(ran, four):
    result, out = ran
    assert result.exit_code == 0, result.output
    assert "1 of 1 notebooks ran to the end." in result.output and "100%  done" in result.stderr
    (done,) = json.loads((out / "notebooks.json").read_text(encoding="utf-8"))["notebooks"]
    assert (done["notebook"], done["status"], done["left_out"]) == ("02_check_and_deidentify", "done", [])
    assert {p.name for p in out.iterdir()} == {
        "02_check_and_deidentify.html", "02_check_and_deidentify.ipynb", "glossary.html", "index.html", "manifest.json",
        "notebooks.json",
    }  # fmt: skip
    index = (out / "index.html").read_text(encoding="utf-8")
    assert all((out / link["href"]).exists() for link in BeautifulSoup(index, "html.parser").find_all("a") if link["href"][0] != "#")  # fmt: skip
    for path in out.glob("*.ipynb"):
        notebook = nbformat.read(path, as_version=4)
        first = next(cell for cell in notebook.cells if cell.cell_type == "code")
        assert first.metadata["tags"] == ["parameters"]
        assert f'CASELOAD = "{four}"' in first.source
        assert "demo clinic" not in path.read_text(encoding="utf-8")
        assert set(notebook.metadata) == {"kernelspec"}
    for path in out.glob("*.html"):
        assert ".notebooks-" not in path.read_text(encoding="utf-8"), "a path of the scratch folder"


def test_the_pages_open_in_a_browser_and_ask_nothing_of_anybody(ran):
    _, out = ran
    with browser.browser() as opened, browser.page_or_picture(opened, "notebook-page", width=400) as page:
        asked: list[str] = []
        said: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            page.goto((out / "02_check_and_deidentify.html").as_uri())
            wide = page.evaluate(
                "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            assert wide <= 0, "the page itself does not scroll sideways, tables do"
        assert page.evaluate("[...document.images].every(i => i.alt && i.naturalWidth > 0)")
    assert all(url.startswith(("file://", "data:")) for url in asked)
    assert said == []


STOPS = "from lagwise.core.errors import ModelError\nraise ModelError('4 people; 5 are needed', where='mixed model')"


@pytest.fixture
def short(tmp_path, monkeypatch) -> Path:
    """A folder of short notebooks in the place of the suite; no page can be made of the first, and the last stops."""
    home = tmp_path / "short"
    home.mkdir()
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    for name, formula, code in (
        ("00_odd", r"$\frac{$", ""),
        ("01_fine", "$x$", "CASELOAD"),
        ("02_stops", "$x$", STOPS),
    ):
        parameters = new_code_cell('CASELOAD = "../data_synthetic/clinic"', metadata={"tags": ["parameters"]})
        cells = [
            new_markdown_cell(f"# Title\n\n**Question:** why {formula} of the usual load?"),
            parameters,
            new_code_cell(code),
        ]
        nbformat.write(new_notebook(cells=cells, metadata=kernel), home / f"{name}.ipynb")
    monkeypatch.setattr(suite_sources, "home", lambda: home)
    return home


def test_notebooks_that_fail_or_stop_are_listed_with_their_reason_and_the_others_go_on(short, four, tmp_path):
    result = run(app, ["notebooks", str(four), "--out", str(tmp_path / "out")])
    assert result.exit_code == 1, result.output
    assert "1 of 3 notebooks ran to the end. 1 stopped" in result.output and "1 failed." in result.output
    assert "Traceback" not in result.output
    out = tmp_path / "out"
    odd, fine, stopped = json.loads((out / "notebooks.json").read_text(encoding="utf-8"))["notebooks"]
    assert (odd["status"], fine["status"], stopped["status"]) == ("failed", "done", "stopped")
    assert "a formula of a notebook cannot be shown" in odd["why"]
    assert stopped["why"] == "mixed model: 4 people; 5 are needed"
    assert "Mixed model: 4 people; 5 are needed" in (out / "index.html").read_text(encoding="utf-8")
    made = {f"{name}.{kind}" for name in ("01_fine", "02_stops") for kind in ("html", "ipynb")}
    assert {p.name for p in out.iterdir()} == {
        *made,
        "glossary.html",
        "index.html",
        "manifest.json",
        "notebooks.json",
    }


def test_a_second_run_takes_the_place_of_the_first_and_of_nothing_else(short, ran, four, tmp_path):
    """The second is of check-ins alone, and says so below its opening."""
    again = Path(shutil.copytree(ran[1], tmp_path / "again"))
    checkins = synthetic.write("checkins_only", tmp_path / "checkins")
    result = run(app, ["notebooks", str(checkins), "--out", str(again), "--only", "01"])
    assert result.exit_code == 0, result.output
    assert {p.name for p in again.iterdir()} == {
        "01_fine.html", "01_fine.ipynb", "glossary.html", "index.html", "manifest.json", "notebooks.json",
    }  # fmt: skip

    assert "The question of the plan is about stress" in (again / "01_fine.html").read_text(encoding="utf-8")

    other = tmp_path / "other"
    other.mkdir()
    (other / "thesis.docx").touch()
    result = run(app, ["notebooks", str(four), "--out", str(other), "--only", "01"])
    assert result.exit_code == 2
    assert "not empty and holds no earlier run of the notebooks" in result.stderr
    assert [p.name for p in other.iterdir()] == ["thesis.docx"]


def test_a_folder_that_cannot_be_read_ends_it_in_one_line(tmp_path):
    result = run(app, ["notebooks", str(tmp_path / "nowhere"), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2
    assert re.search(r"^lagwise: .*nowhere.*", result.stderr, re.MULTILINE)
    assert list(tmp_path.iterdir()) == []


def test_an_interrupted_run_leaves_nothing(four, tmp_path, monkeypatch):
    def interrupted(*args):
        raise KeyboardInterrupt

    monkeypatch.setattr(suite_run, "_one", interrupted)
    with pytest.raises(KeyboardInterrupt):
        suite_run.run(four, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []
