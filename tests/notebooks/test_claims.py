"""A claim whose number was changed by hand does not pass."""

import importlib.util
import os
import re
import subprocess
import sys

import nbformat
from notebook_files import CLAIM, CLINIC, FOLDER, ROOT, code, printed, read, tags


def test_a_changed_number_fails_and_nothing_else_does(tmp_path):
    notebook = read(FOLDER / "01_from_log_to_panel.ipynb")
    claim = next(i for i, c in enumerate(notebook.cells) if CLAIM in tags(c) and "usual" in c.source)
    notebook.cells = notebook.cells[: claim + 1]
    cells = code(notebook)
    cells[0].source = f"CASELOAD = {CLINIC.as_posix()!r}"
    text = printed(cells[-1])
    assert "31.33" in text
    cells[-1].outputs[0].text = text.replace("31.33", "31.34")
    nbformat.write(notebook, tmp_path / "changed.ipynb")

    run = subprocess.run(
        [sys.executable, "-m", "pytest", "--nbval-lax", "--nbval-current-env", "-p", "no:cacheprovider", "-p", "no:xdist",
         "--color=no", "-q", "-c", str(ROOT / "pyproject.toml"), "-o", "addopts=", str(tmp_path / "changed.ipynb")],
        capture_output=True, text=True, check=False, cwd=tmp_path, env={**os.environ, "PYTEST_ADDOPTS": ""},
    )  # fmt: skip

    assert run.returncode == 1, run.stdout + run.stderr
    assert re.findall(r"^FAILED \S+::(Cell \d+)", run.stdout, re.MULTILINE) == [f"Cell {len(cells) - 1}"]
    assert f"1 failed, {len(cells) - 1} passed" in run.stdout


def test_numbers_may_differ_by_the_tolerance_and_words_may_not():
    spec = importlib.util.spec_from_file_location("reading", FOLDER / "conftest.py")
    reading = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(reading)
    said = "0.31 points (8 of 100)"
    assert reading.agrees(said, "0.33 points (8 of 100)", 0.02)
    assert not reading.agrees(said, "0.34 points (8 of 100)", 0.02)
    assert not reading.agrees(said, "0.31 points lower (8 of 100)", 0.02)
    assert reading.agrees(said, "0.33 points (11 of 100)", [0.02, 3])
    assert not reading.agrees(said, "0.34 points (8 of 100)", [0.02, 3])
    assert not reading.agrees(said, "0.31 points (12 of 100)", [0.02, 3])
