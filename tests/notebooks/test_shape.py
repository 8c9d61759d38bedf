"""Every notebook is thin, whole, in order and small, and tells what it asks and what it cannot tell."""

import ast
import re

import nbformat
import pytest
from notebook_files import CLAIM, EVERY, EXERCISES, FOLDER, NAMES, SOLUTIONS, code, name, printed, read, tags

from lagwise.writeup.checker import check_text

LOGIC = (
    ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda, ast.ClassDef, ast.For, ast.While, ast.ListComp, ast.SetComp,
    ast.DictComp, ast.GeneratorExp, ast.If, ast.Try, ast.With,
)  # fmt: skip
OF_A_TEXTBOOK = ("recommend", "relative", "denominator")
"""Rules for statements about results; a notebook also tells its reader what to press and how a ratio is worked out."""
MOST_LINES = 8
OPEN_MODEL, MOST_OF_A_MODEL = "open-model", 45
"""Tag of a cell that writes a model out, to be read and changed, in PyMC's `with`."""
MOST_BYTES = 1_500_000
OF_A_MACHINE = re.compile(r"/(home|root|Users|tmp|work|var)/|[A-Z]:\\\w", re.IGNORECASE)


@pytest.fixture(params=EVERY, ids=name)
def path(request):
    return request.param


@pytest.fixture
def notebook(path):
    return read(path)


def test_code_cells_hold_calls_and_no_logic(notebook):
    for cell in code(notebook):
        model = OPEN_MODEL in tags(cell)
        logic = {type(node).__name__ for node in ast.walk(ast.parse(cell.source)) if isinstance(node, LOGIC)}
        assert logic <= ({"With"} if model else set()), cell.source
        assert len(cell.source.splitlines()) <= (MOST_OF_A_MODEL if model else MOST_LINES), cell.source


def test_cells_were_run_once_in_order_without_error(notebook):
    cells = code(notebook)
    assert [cell.execution_count for cell in cells] == list(range(1, len(cells) + 1))
    kinds = {(o.output_type, o.get("name", "")) for cell in cells for o in cell.outputs}
    assert kinds <= {("stream", "stdout"), ("execute_result", ""), ("display_data", "")}
    shown = [o.data for cell in cells for o in cell.outputs if o.output_type == "display_data"]
    assert all(data.get("text/plain") for data in shown), "every output has words"
    assert not any("widget" in kind for cell in cells for o in cell.outputs for kind in o.get("data", {}))


def test_the_first_code_cell_is_the_parameters(path, notebook):
    first, *others = code(notebook)
    up = "../" * len(path.relative_to(FOLDER).parts)
    invented = "changes" if path.stem.startswith("10_") else "clinic"
    of_a_seed = path in (EXERCISES[8], SOLUTIONS[8])
    line = "SEED = 2" if of_a_seed else f'CASELOAD = "{up}data_synthetic/{invented}"'
    assert first.source.splitlines()[0] == line
    assert [cell.id for cell in code(notebook) if "parameters" in tags(cell)] == [first.id]
    assert all(isinstance(node, ast.Assign) for node in ast.parse(first.source).body)
    again = line.partition("=")[0] + "="
    assert not any(again in cell.source for cell in others)


def test_it_opens_with_question_time_and_what_to_know(notebook):
    opening = notebook.cells[0]
    assert opening.cell_type == "markdown"
    title, *lines = [line for line in opening.source.splitlines() if line]
    assert title.startswith("# ")
    for line, label in zip(lines, ("**Question:** ", "**Time:** ", "**You need to know:** "), strict=False):
        assert line.startswith(label)
    question = lines[0].removeprefix("**Question:** ")
    assert question.endswith("?")
    assert question.count("?") == 1
    assert ". " not in question


def test_it_closes_with_what_it_does_not_tell_and_the_next_step(notebook):
    closing = notebook.cells[-1]
    assert closing.cell_type == "markdown"
    limits = closing.source.index("## What this does not tell you")
    assert closing.source.index("**Next:**") > limits


def test_links_lead_somewhere(path, notebook):
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            for target in re.findall(r"\]\(([^)#]+)", cell.source):
                assert target.startswith("https://") or (path.parent / target).exists(), target


@pytest.mark.parametrize("path", [path for path in EVERY if path not in EXERCISES], ids=name)
def test_it_carries_a_claim_with_a_number(path):
    notebook = read(path)
    claims = [printed(cell) for cell in code(notebook) if CLAIM in tags(cell)]
    assert any(re.search(r"\d", text) for text in claims)
    assert all(claims), "a claim must be shown as text, for only text is compared"


FOLDED = re.compile(r"<details><summary>The formula</summary>\n\n.*?\$\$.+?\$\$.*?</details>", re.DOTALL)
MODELS = re.compile(r"lw\.(fit_\w+|challenge|plan|follow)\(")


def test_a_notebook_with_a_model_has_its_formula_in_a_folded_cell(path, notebook):
    text = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
    of_suite = path.parent == FOLDER and path.stem != "00_start_here"
    if of_suite and any(MODELS.search(cell.source) for cell in code(notebook)):
        assert FOLDED.search(text), (
            "00 and the exercises ask for no statistics, every other notebook with a model shows it"
        )
    assert (
        text.count("<details>") == text.count("</details>") == len(re.findall("<summary>.+</summary>", text))
    )


def test_figures_have_alternative_text(notebook):
    for cell in code(notebook):
        for output in cell.outputs:
            if "image/png" in output.get("data", {}):
                assert len(output.metadata["image/png"]["alt"]) > 40


def test_the_file_is_small_free_of_machines_and_of_metadata(path, notebook):
    text = path.read_text(encoding="utf-8")
    assert len(text.encode()) < MOST_BYTES
    nbformat.validate(notebook)
    spoken = [cell.source for cell in notebook.cells] + [
        str(v)
        for cell in code(notebook)
        for output in cell.outputs
        for v in (output.get("text"), *(output.get("data", {}).get(k) for k in ("text/plain", "text/html")))
    ]
    assert not [text for text in spoken if OF_A_MACHINE.search(text)]
    assert set(notebook.metadata) <= {"kernelspec", "language_info"}
    assert set(notebook.metadata.get("language_info", {})) <= {"name"}
    assert all(
        set(cell.metadata) <= {"tags", "claims", "tolerance", "either", "free"} for cell in notebook.cells
    )


def test_the_words_are_those_of_the_write_up(notebook):
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            slips = [r for r in check_text(cell.source) if r.rule not in OF_A_TEXTBOOK]
            assert [f"{r.rule}: {r.sentence}" for r in slips] == []


def test_the_list_of_notebooks_is_the_notebooks():
    listed = re.findall(
        r"^\| \[(\w+)\]\(\1\.ipynb\) \| .+\? \|$", (FOLDER / "README.md").read_text(), re.MULTILINE
    )
    assert listed == NAMES
    assert len(listed) >= 2


def test_the_list_of_exercises_is_the_exercises():
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    row = r"^\| \[(\w+)\]\(exercises/\1\.ipynb\) \| \[solution\]\(exercises/solutions/\1\.ipynb\) \| .+\? \|$"
    listed = re.findall(row, text, re.MULTILINE)
    assert listed == [path.stem for path in EXERCISES] == [path.stem for path in SOLUTIONS]
