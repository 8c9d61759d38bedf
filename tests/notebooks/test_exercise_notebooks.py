"""Exercises are blank and run; solutions are the same notebooks with the answers filled in, all of them right."""

import ast
import re
from itertools import pairwise

import nbformat
import pytest
from nbclient import NotebookClient
from notebook_files import CLAIM, EXERCISES, FOLDER, SOLUTIONS, code, name, printed, read, tags

from lagwise.exercises import QUESTIONS, TASKS, hint
from lagwise.say.exercises import RIGHT, UNANSWERED
from lagwise.suite import sources

ANSWER, SOLUTION = "answer", "solution"
PAIRS = list(zip(EXERCISES, SOLUTIONS, strict=True))
RESULT = re.compile(
    r"^(\w+): (right|not yet|not answered yet|not possible with this caseload)\.", re.MULTILINE
)


def asked(cell):
    """Task, caseload and part -> the expression handed in, of a cell's check."""
    call = next(n for n in ast.walk(ast.parse(cell.source)) if isinstance(n, ast.Call) and getattr(n.func, "id", "") == "check")  # fmt: skip
    return ast.literal_eval(call.args[0]), ast.unparse(call.args[1]), {k.arg: ast.unparse(k.value) for k in call.keywords}  # fmt: skip


def answers(notebook):
    return [cell for cell in code(notebook) if ANSWER in tags(cell)]


def number_of(path):
    return int(path.stem.partition("_")[0])


def test_there_is_one_for_each_task():
    assert [number_of(path) for path in EXERCISES] == [task.number for task in TASKS]


@pytest.mark.parametrize("path", EXERCISES, ids=name)
def test_an_exercise_is_blank_and_says_so(path):
    for cell in answers(read(path)):
        *blanks, last = ast.parse(cell.source).body
        assert all(isinstance(b, ast.Assign) and ast.unparse(b.value) == "..." for b in blanks)
        assert ast.unparse(last).startswith("print(check(")
        assert {state for _, state in RESULT.findall(printed(cell))} == {UNANSWERED}
        assert CLAIM in tags(cell)


def test_solutions_run_from_top_to_bottom_and_print_what_they_claim():
    """All in one kernel, its names cleared in between: nine kernels would mostly load the same libraries."""
    fresh = f"%reset -f\n%cd -q {(FOLDER / 'exercises' / 'solutions').as_posix()}"
    fresh = nbformat.v4.new_code_cell(fresh)
    cells = [dict(cell) for path in SOLUTIONS for cell in (fresh, *code(read(path)))]
    for at, cell in enumerate(cells):
        cell["id"] = f"cell-{at}"
    book = nbformat.from_dict(nbformat.v4.new_notebook(cells=cells))
    said = [printed(cell) for cell in book.cells if CLAIM in tags(cell)]
    ran = NotebookClient(book, timeout=300, kernel_name="python3").execute()
    outputs = [o for cell in ran.cells for o in cell.outputs]
    assert [o for o in outputs if o.output_type == "error" or o.get("name") == "stderr"] == []
    assert [printed(cell) for cell in ran.cells if CLAIM in tags(cell)] == said and len(said) > 16


@pytest.mark.parametrize(("exercise", "solution"), PAIRS, ids=[path.stem for path in EXERCISES])
def test_every_part_is_asked_and_every_solution_is_right(exercise, solution):
    task = TASKS[number_of(exercise) - 1]
    parts = []
    for cell in answers(read(solution)):
        number, _, handed = asked(cell)
        assert number == task.number
        assert RESULT.findall(printed(cell)) == [(part, RIGHT) for part in handed]
        assert CLAIM in tags(cell)
        parts += handed
    assert list(dict.fromkeys(parts)) == [part.name for part in task.parts]


@pytest.mark.parametrize(("exercise", "solution"), PAIRS, ids=[path.stem for path in EXERCISES])
def test_a_solution_is_its_exercise_with_the_answers_filled_in(exercise, solution):
    blank, filled = read(exercise).cells, [c for c in read(solution).cells if SOLUTION not in tags(c)]
    assert len(blank) == len(filled)
    assert any(SOLUTION in tags(c) for c in read(solution).cells) or exercise.stem.startswith("8")
    assert opening(blank[0]) == opening(filled[0])
    assert f"(../{exercise.name})" in filled[0].source
    for one, other in zip(blank[1:], filled[1:], strict=True):
        assert tags(one) == tags(other)
        if ANSWER in tags(one):
            assert asked(one) == asked(other)
        else:
            assert normal(one.source) == normal(other.source)
            of_answers = one.cell_type == "markdown" or "result(" in one.source
            assert of_answers or printed(one) == printed(other)


def opening(cell):
    """Title, question, time and what to know; after them an exercise says how it works and a solution where to try first."""
    return normal(cell.source).split("\n\n")[:4]


def normal(source):
    """Text of a cell without what differs by the folder it lies in, and without the title's 'Solution of'."""
    return (
        re.sub(r"(\.\./)+", "../", source)
        .replace("](solutions/", "](")
        .replace("# Solution of task", "# Task")
    )


@pytest.mark.parametrize("path", [*EXERCISES, *SOLUTIONS], ids=name)
def test_hints_are_those_of_the_library_folded(path):
    (cell,) = (cell for cell in code(read(path)) if re.search(r"^hints\(", cell.source))
    found = re.findall(r"<details><summary>Hint (\d)</summary>\n\n(.+?)\n\n</details>", printed(cell))
    plain = [(level, re.sub(r"\\([^\w\s]|_)", r"\1", text)) for level, text in found]
    assert plain == [(str(level), hint(number_of(path), level)) for level in (1, 2, 3)]


def test_the_suite_leaves_exercises_out():
    assert not [source.name for source in sources() if "exercises" in source.path.relative_to(FOLDER).parts]
    assert len(sources()) == len(list(FOLDER.glob("*.ipynb")))


def test_a_question_in_passing_stands_as_the_library_asks_it_and_is_left_open():
    """Over each cell that asks stands the text of the question, and its answer is three dots."""
    asks = re.compile(r'my_answer = \.\.\.\n\nprint\(ask\("([\w-]+)", (?:CASELOAD|UNTIDY), my_answer\)\)')
    for path in sorted(FOLDER.glob("*.ipynb")):
        cells = read(path).cells
        for before, cell in pairwise(cells):
            if cell.cell_type == "code" and re.search(r"\bask\(", cell.source):
                question = asks.fullmatch(cell.source)[1]
                assert question.startswith(path.stem[:2])
                assert before.source.endswith(QUESTIONS[question]["asks"])
                assert printed(cell) == f"{question}: not answered yet.\n"
