"""JupyterLab as `make lab` starts it, in a real browser: the first notebook runs to its end on this environment's kernel."""

import json
import os
import re
import shlex
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import browser
import nbformat
import pytest
from nbformat.v4 import new_code_cell
from notebook_files import CLINIC, EVERY, FOLDER, ROOT, code, name, read

TOKEN = "of-this-test"
LIMIT = 300
"""Seconds until a lab that does not come up, or a notebook that does not end, counts as failed."""


def lab_options() -> tuple[dict[str, str], list[str]]:
    """Environment and options with which the Makefile starts JupyterLab."""
    line = re.search(r"^LAB := (.*)$", (ROOT / "Makefile").read_text("utf-8"), re.M)
    assert line
    words = shlex.split(line[1])
    at = words.index("lab")
    return dict(w.split("=", 1) for w in words[: at - 1]), words[at + 1 :]


@contextmanager
def lab(folder: Path, home: Path) -> Iterator[str]:
    """Address of a JupyterLab that serves `folder`, with settings of its own."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    settings, options = lab_options()
    own = {name: str(home / name.lower()) for name in ("JUPYTER_CONFIG_DIR", "JUPYTERLAB_SETTINGS_DIR", "JUPYTERLAB_WORKSPACES_DIR", "IPYTHONDIR")}  # fmt: skip
    command = [
        sys.executable, "-m", "jupyterlab", *options, "--no-browser", "--allow-root", "--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0", f"--IdentityProvider.token={TOKEN}", f"--ServerApp.root_dir={folder}",
    ]  # fmt: skip
    log = home / "lab.log"
    with (
        log.open("wb") as sink,
        subprocess.Popen(
            command, env=os.environ | settings | own, stdout=sink, stderr=sink, cwd=folder
        ) as server,
    ):
        try:
            address = f"http://127.0.0.1:{port}"
            until = time.monotonic() + LIMIT
            while True:
                try:
                    asked(address, "/api/status")
                    break
                except OSError:
                    told = log.read_text("utf-8", errors="replace")
                    assert server.poll() is None and time.monotonic() < until, (
                        f"JupyterLab did not come up:\n{told}"
                    )
                    time.sleep(0.5)
            yield address
        finally:
            server.terminate()
            try:
                server.wait(30)
            except subprocess.TimeoutExpired:
                server.kill()


def asked(address: str, path: str) -> dict:
    request = urllib.request.Request(address + path, headers={"Authorization": f"token {TOKEN}"})
    with urllib.request.urlopen(request, timeout=30) as answer:
        return json.load(answer)


def kinds(cell) -> set[str]:
    """What a cell shows, by kind."""
    return {kind for output in cell.get("outputs", []) for kind in output.get("data", {})}


def problems(notebook: nbformat.NotebookNode) -> list[str]:
    """Errors that stand in outputs, and anything on standard error."""
    outputs = [o for cell in code(notebook) for o in cell.outputs]
    return [
        o.get("evalue", "") or o.get("text", "")
        for o in outputs
        if o.output_type == "error" or o.get("name") == "stderr"
    ]


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """A place for notebooks, with the clinic where they look for it."""
    folder = tmp_path_factory.mktemp("repository") / "notebooks"
    folder.mkdir()
    shutil.copytree(CLINIC, folder.parent / "data_synthetic" / "clinic")
    return folder


@pytest.fixture(scope="module")
def address(folder, tmp_path_factory) -> Iterator[str]:
    with lab(folder, tmp_path_factory.mktemp("home")) as address:
        yield address


def run_to_the_end(page, address: str, file: Path) -> nbformat.NotebookNode:
    """Open a notebook, choose Run All Cells, and give what was saved once every cell has run."""
    page.set_default_timeout(LIMIT * 1000)
    # A workspace of its own, so that no notebook opened earlier comes back with it.
    page.goto(f"{address}/lab/workspaces/{file.stem}/tree/{file.name}?token={TOKEN}")
    page.locator(".jp-Notebook .jp-Cell").first.wait_for()
    page.get_by_text(re.compile(r"\| Idle")).first.wait_for()
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name=re.compile("^Run All Cells")).click()
    until = time.monotonic() + LIMIT
    while True:
        page.wait_for_timeout(1500)
        page.keyboard.press("Control+s")
        try:
            ran = read(file)
        except nbformat.reader.NotJSONError:  # it is being saved
            continue
        done = [cell.execution_count for cell in code(ran)]
        if all(done) or problems(ran):
            break
        assert time.monotonic() < until, f"not at the end after {LIMIT} s: {done}"
    page.get_by_text(re.compile(r"\| Idle")).first.wait_for()
    page.keyboard.press("Control+s")
    page.wait_for_timeout(1500)
    ran = read(file)
    assert not problems(ran)
    assert [cell.execution_count for cell in code(ran)] == list(range(1, len(done) + 1))
    return ran


@pytest.mark.xdist_group("browser")
def test_a_notebook_runs_and_its_lists_and_sliders_are_moved_with_the_keyboard(folder, address):
    """The first one to its first picture, then a person's view and the what-if: lists and sliders have their labels,
    pictures their words, what is saved is what was last looked at, and nothing is asked of anybody outside."""
    file, asked_for = folder / "00_start_here.ipynb", []
    notebook = read(FOLDER / file.name)
    shown = next(i for i, c in enumerate(notebook.cells) if {"image/png", "text/html"} & kinds(c))
    notebook.cells = notebook.cells[: shown + 1]  # nbval runs all of it
    want = [len(cell.outputs) > 0 for cell in code(notebook)]
    for cell in code(notebook):
        cell.outputs, cell.execution_count = [], None
    lines = 'lw.person_view(lw.read("../data_synthetic/clinic"))', "lw.what_if(people=8, weeks=12)"
    notebook.cells += [new_code_cell(line) for line in lines]
    nbformat.write(notebook, file)
    found = asked(address, "/api/kernelspecs")["kernelspecs"]["python3"]
    kernel = found["spec"]["argv"][0]
    assert Path(kernel).parent == Path(sys.executable).parent or kernel == "python"
    with browser.browser() as opened, browser.page_or_picture(opened, "lab") as page:
        page.on("request", lambda request: asked_for.append(request.url))
        ran = run_to_the_end(page, address, file)
        assert [len(cell.outputs) > 0 for cell in code(ran)][:-2] == want
        assert page.locator(".jp-RenderedImage img, .jp-RenderedHTMLCommon table").count() > 0
        assert page.locator(".jp-Dialog").count() == page.get_by_text("Jupyter news").count() == 0
        last = len(notebook.cells) - 1
        of_person, of_lab = (
            page.locator(".jp-Cell").nth(i).locator(".jp-OutputArea") for i in (last - 1, last)
        )
        picture = of_person.locator("img")
        alts = [picture.get_attribute("alt")]
        assert alts[0].startswith("Charts on one time line of 26 weeks: pain rated in")
        page.get_by_label("Person").focus()
        for keys in (("Space", "ArrowDown", "Enter"), ("Tab", "Tab", "Space")):
            for key in keys:
                page.keyboard.press(key)
            of_person.locator(f'img:not([alt="{alts[-1]}"])').wait_for()
            alts.append(picture.get_attribute("alt"))
        assert len(set(alts)) == 3
        assert picture.count() == 1
        of_lab.get_by_text("Of 50 such records so far").wait_for()
        labels = of_lab.locator(".widget-label")
        assert labels.count() == 7
        assert labels.evaluate_all("all => all.every(one => one.scrollWidth <= one.clientWidth)"), "cut"
        of_lab.get_by_role("slider").nth(3).press("ArrowRight")
        of_lab.locator('img[alt*="True difference +0.05."]').wait_for()
        of_lab.get_by_text("put in: +0.05.").wait_for()
        of_lab.get_by_role("button", name="Another record").press("Enter")
        of_lab.get_by_text("Of 100 such records so far").wait_for()
        of_lab.get_by_text("Error in pain ratings, ").wait_for()
        assert page.locator(".jp-Cell").count() == last + 1, "no key was taken for a command of the notebook"
        page.keyboard.press("Control+s")
        page.wait_for_timeout(1500)
    saved = read(file)
    shown, lab = (cell.outputs for cell in code(saved)[-2:])
    assert alts[-1] in shown[1].data["text/plain"]
    assert alts[0] not in str(shown[1].data)
    assert "True difference +0.05." in lab[1].data["text/html"]
    assert "widgets" not in saved.metadata
    assert {url.split("/")[2] for url in asked_for if url.startswith(("http", "ws"))} == {
        address.split("/")[2]
    }


def test_errors_and_warnings_in_outputs_are_seen():
    cells = [
        nbformat.v4.new_code_cell(
            "1 / 0", outputs=[nbformat.v4.new_output("error", ename="E", evalue="division")]
        ),
        nbformat.v4.new_code_cell(
            "x", outputs=[nbformat.v4.new_output("stream", name="stderr", text="a warning")]
        ),
        nbformat.v4.new_code_cell(
            "y", outputs=[nbformat.v4.new_output("stream", name="stdout", text="fine")]
        ),
    ]
    assert problems(nbformat.v4.new_notebook(cells=cells)) == ["division", "a warning"]


@pytest.mark.parametrize("path", EVERY, ids=name)
def test_every_notebook_asks_for_the_kernel_that_make_lab_gives(path):
    kernel = read(path).metadata.kernelspec
    assert (kernel.name, kernel.language) == ("python3", "python")
    assert lab_options()[0] == {"JUPYTER_PREFER_ENV_PATH": "1"}
