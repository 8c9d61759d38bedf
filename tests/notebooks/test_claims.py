"""What a notebook says is what its run gives: numbers in texts, outputs, tables; and what is planted is found."""

import importlib.util
import os
import re
import shutil
import subprocess
import sys

import nbformat
import pytest
from notebook_files import CLAIM, CLINIC, EVERY, FOLDER, PATHS, ROOT, code, name, printed, read, tags

FREE = "nbval-ignore-output"
NUMBERS = "two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty|thirty|forty|fifty|hundred|thousand"
UNITS = "weeks?|days?|steps?|people|persons?|points?|onsets?|months?|ratings?|draws?|times|percent|fewer|hours?|sets|chains|loads|rows|of"
QUANTITY = re.compile(rf"\b(?:an? )?(?:half|third|quarter)\b|\b(?:twice|double)\b|\b(?:{NUMBERS}) (?:{UNITS})\b|[-\u2212+]?\d+(?:[.,]\d+)?(?: %)?", re.IGNORECASE)  # fmt: skip
NO_CLAIM = [re.compile(pattern, re.DOTALL | re.MULTILINE) for pattern in (
    r"^\*\*Time:\*\*.*?$", r"\[(?:doi:[^\]]*|\d\d?_\w+)\]\([^)]*\)", r"\$\$.*?\$\$", r"\$[^$\n]+\$", r"`[^`]*`", r"\]\([^)]*\)", r"^#+ .*?$",
    r"\[?\b[Tt]ask \d+\b", r"^\d+\. ", r"[A-Z]\w+(?: and others| and [A-Z]\w+) \d{4}", r"<summary>.*?</summary>",
)]  # fmt: skip
"""Where a number is no claim: minutes to read, formulas, code, addresses, headings, lists, years of sources."""

_spec = importlib.util.spec_from_file_location("against_its_run", FOLDER / "conftest.py")
against = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(against)


def texts(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "markdown"]


def unbound(cell):
    text = cell.source
    for words, _ in cell.metadata.get("claims", ()):
        text = text.replace(words, " ")
    for pattern in NO_CLAIM:
        text = pattern.sub(" ", text)
    return QUANTITY.findall(text)


@pytest.mark.parametrize("path", PATHS, ids=name)
def test_every_number_of_a_text_is_bound_to_the_run(path):
    for cell in texts(read(path)):
        assert unbound(cell) == [], cell.source
        for words, gives in cell.metadata.get("claims", ()):
            assert words in cell.source
            assert gives.strip() not in ("True", "1"), "a claim is an expression of the run"
    assert "demo" not in {tag for cell in read(path).cells for tag in tags(cell)}


@pytest.mark.parametrize("path", EVERY, ids=name)
def test_every_output_is_compared_or_free_for_a_reason_and_none_is_cut(path):
    for cell in code(read(path)):
        free = FREE in tags(cell)
        assert free == bool(cell.metadata.get("free", ""))
        assert (CLAIM in tags(cell)) != free or not cell.outputs, cell.source
        for output in cell.outputs:
            shown = {"text": output.get("text", ""), **output.get("data", {})}
            cut = [
                kind
                for kind, said in shown.items()
                if not kind.startswith("image/png") and re.search(r"\.\.\.|\u2026", said)
            ]
            assert not cut, cell.source


@pytest.mark.parametrize("path", EVERY, ids=name)
def test_every_text_was_read_against_its_run(path):
    assert against.changed(path, read(path)) == []


def test_a_tolerance_lets_numbers_differ_and_nothing_else():
    assert against.agrees("0.32 (0.18 to 0.45)", "0.33 (0.17 to 0.46)", 0.011)
    assert not against.agrees("0.32 (0.18 to 0.45)", "0.32 (0.18 to 0.47)", 0.011)
    assert not against.agrees("0.32 higher", "0.32 lower", 0.5)
    assert not against.agrees("0.32", "\u22120.32", 0.011)
    assert not against.agrees("0.32", "0.33", 0)
    assert against.agrees('<a id="lw0123456789-0">1', '<a id="lw9876543210-0">1', 0), "a mark is no content"
    assert not against.agrees("1 2", "1", 1)
    said = "0.31 points (8 of 100)"
    assert against.agrees(said, "0.33 points (11 of 100)", [0.02, 3])
    assert not against.agrees(said, "0.34 points (8 of 100)", [0.02, 3])
    assert not against.agrees(said, "0.31 points (12 of 100)", [0.02, 3])


def test_a_verdict_at_its_limit_may_end_in_the_words_it_declares_and_in_its_row_alone():
    either = {"A known truth": ["Held", "Cannot tell"]}
    row = " Shuffled  {}\n A known truth at this   would it   {}\n  size     be found?\n Leave one out {}"
    stored = row.format("Held", "Cannot tell", "Held")
    assert against.agrees(row.format("Held", "Held       ", "Held"), stored, 0, either)
    assert not against.agrees(row.format("Held", "Did not hold", "Held"), stored, 0, either)
    for others in (("Cannot tell", "Held", "Held"), ("Held", "Held", "Cannot tell")):
        assert not against.agrees(row.format(*others), stored, 0, either)
    assert not against.agrees(row.format("Held", "Held", "Held"), stored, 0)


@pytest.mark.parametrize("path", EVERY, ids=name)
def test_a_declared_limit_is_of_a_row_that_is_shown(path):
    for cell in code(read(path)):
        for row, words in cell.metadata.get("either", {}).items():
            assert len(words) > 1 and re.search(
                rf"{re.escape(row)}.*?({'|'.join(words)})", printed(cell), re.DOTALL
            )


def planted(text, at=0):
    """A text with one digit, or else one word, of it changed."""
    digits = [m.start() for m in re.finditer(r"\d", text)]
    if digits:
        place = digits[at % len(digits)]
        return text[:place] + str((int(text[place]) + 3) % 10) + text[place + 1 :]
    return re.sub(r"\w+", lambda m: m[0][::-1] + "x", text, count=1)


def run(folder, **environment):
    """Names of cells and texts that fail, and what was printed."""
    command = [sys.executable, "-m", "pytest", "--nbval-lax", "--nbval-current-env", "-p", "no:cacheprovider", "-p", "no:xdist", "--color=no",
               "-q", "-c", str(ROOT / "pyproject.toml"), "-o", "addopts=", str(folder)]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=folder, env={**os.environ, "PYTEST_ADDOPTS": "", **environment})  # fmt: skip
    assert done.returncode in (0, 1), done.stdout + done.stderr
    failed = set(re.findall(r"^FAILED \S*?(\w+)\.ipynb::(Cell \d+|text)", done.stdout, re.MULTILINE))
    return failed, done.stdout


@pytest.fixture
def copied(tmp_path):
    """A folder with copies of a notebook, what is done to each, beside the data they read."""
    shutil.copy(FOLDER / "conftest.py", tmp_path)
    shutil.copy(FOLDER / "texts.json", tmp_path)

    def copy(name, change=lambda notebook: None, caseload=CLINIC):
        notebook = read(PATHS[1])
        for cell in code(notebook)[:1]:
            cell.source = re.sub(r'"\.\./data_synthetic/clinic"', repr(caseload.as_posix()), cell.source)
            cell.source = cell.source.replace('"../', f'"{ROOT.as_posix()}/')
        change(notebook)
        nbformat.write(notebook, tmp_path / f"{name}.ipynb")

    copy.folder = tmp_path
    return copy


def test_planted_changes_are_found_each_in_its_cell_and_a_machine_changes_nothing(copied, tmp_path_factory):
    """Every second compared output and a text of a notebook, one rating in the data of its copy; another place, clock,
    seed of hashes and number of threads change nothing."""
    moved = tmp_path_factory.mktemp("data") / "clinic"
    shutil.copytree(CLINIC, moved)
    table = moved / "checkins.csv"
    lines = table.read_text("utf-8").splitlines(keepends=True)
    pain = lines[0].split(",").index("pain")
    cells = lines[1].split(",")
    cells[pain] = "9"
    lines[1] = ",".join(cells)
    table.write_text("".join(lines), "utf-8")

    of_data, planted_in = "of_data", PATHS[1].stem
    compared = [at for at, cell in enumerate(code(read(PATHS[1]))) if CLAIM in tags(cell) and cell.outputs]
    wanted = compared[::2]

    def plant(notebook):
        for at in wanted:
            for output in code(notebook)[at].outputs:
                held, key = (output, "text") if "text" in output else (output.data, "text/plain")
                held[key] = planted(held[key], at)
        cell = next(cell for cell in texts(notebook) if "Nothing" in cell.source or "never" in cell.source)
        cell.source = cell.source.replace("never", "always").replace("Nothing", "Something")

    copied(of_data, caseload=moved)
    copied(planted_in, plant)
    failed, said = run(
        copied.folder, TZ="Asia/Tokyo", PYTHONHASHSEED="7", OPENBLAS_NUM_THREADS="2", LC_ALL="C.UTF-8"
    )
    found = {cell for at, cell in failed if at == planted_in}
    assert found == {"text", *(f"Cell {at}" for at in wanted)} and len(wanted) >= 5, said
    assert len([cell for at, cell in failed if at == of_data and cell != "text"]) >= 3, said
    assert (of_data, "text") not in failed, said


CHANGED = [(path, at) for path in PATHS for at in range(len(texts(read(path))))]


def test_any_word_of_any_text_that_is_changed_is_found():
    """Each text of the suite with its first long word put another way round."""
    for path, at in CHANGED:
        notebook = read(path)
        cell = texts(notebook)[at]
        cell.source = re.sub(r"\b(\w)(\w{2,})\b", r"\2\1", cell.source, count=1)
        assert against.changed(path, notebook) != []
