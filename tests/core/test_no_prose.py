"""Rooms hold no sentences: what they find has a reason code, and the room say has the words for it. Nor do they name the
default question, which is a value: the vocabulary, the plan, invented data and texts name it; nor an engine."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[2] / "src" / "lagwise"
NAMES = {"same as last step", "leave one person out", "leave groups of people out"}
NAMES |= {"what is held equal", "mixed model, person intercepts", "person-steps with an answer"}
"""Values of table columns, which others look rows up by."""
ROOMS = {p.name for p in SOURCE.iterdir() if (p / "__init__.py").exists()} - {"say"}
VOCABULARY = {"variable.py", "words.py"}
"""Files of core with the names that tables and texts share."""
MAY = ("core/variable", "core/study", "drafts/", "synthetic/", "say/")
"""Rooms and files that may name the default question."""


@cache
def nodes() -> dict[str, list[ast.AST]]:
    """Every file of the package taken apart."""
    return {p.relative_to(SOURCE).as_posix(): taken_apart(p.read_text("utf-8")) for p in SOURCE.rglob("*.py")}


def taken_apart(text: str) -> list[ast.AST]:
    return [*ast.walk(ast.parse(text))]


def prose(tree: list[ast.AST]) -> list[str]:
    """Texts of four words and more: no docstring, no error's message, no list of names or units, no markup."""
    left = set()
    lists = {getattr(n.value, "id", "") for n in tree if getattr(n, "attr", "") == "split"}
    for node in tree:
        message = isinstance(node, ast.Raise) or (
            isinstance(node, ast.Call) and getattr(node.func, "id", "").endswith("Error")
        )
        names = isinstance(node, ast.Call) and (
            getattr(node.func, "attr", "") == "split" or getattr(node.func, "id", "") == "words"
        )
        target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
        named = getattr(target, "id", "")
        names |= named in lists - {""} or bool(
            re.fullmatch("names|_?mend|legal|load_measures|_bound|_days", named, re.IGNORECASE)
        )
        message |= isinstance(node, ast.FunctionDef) and getattr(node.returns, "id", "").endswith("Error")
        if message or names or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)):
            left |= {id(part) for part in ast.walk(node)}
    texts = [n.value for n in tree if isinstance(n, ast.Constant) and id(n) not in left]
    runs = [n.values for n in tree if isinstance(n, ast.JoinedStr) and id(n) not in left]
    whole = ("".join(part.value for part in run if isinstance(part, ast.Constant)) for run in runs)
    texts += [t for t in whole if t.rstrip().endswith((".", "?")) and len(t.split()) > 4]
    texts = [t for t in texts if isinstance(t, str) and not re.search(r'="|<\w+ [\w-]+=|\{ ', t)]
    return [t for t in texts if len(re.findall(r"[^\W\d_]{2,}\S*(?=\s|$)", t)) >= 4]


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_a_room_of_numbers_holds_no_sentence(room):
    files = {name: tree for name, tree in nodes().items() if name.startswith(f"{room}/")}
    found = {
        name: {*prose(tree)} - NAMES for name, tree in files.items() if Path(name).name not in VOCABULARY
    }
    assert {name: texts for name, texts in found.items() if texts} == {}


def test_a_sentence_would_be_found():
    assert prose(taken_apart('why = f"{n} people are too few for it"\n"""Not a docstring of four words."""'))
    assert prose(taken_apart('why = f"There {is_} not {n} of them here."'))
    told = 'def f():\n    """Does what it says it does."""\n    raise E("this is an error")'
    assert not prose(taken_apart(told))


def literals(tree: list[ast.AST]) -> list[str]:
    """Constants that are the default outcome, exposure, scale or step, docstrings apart."""
    stated = {id(n.value) for n in tree if isinstance(n, ast.Expr)}
    texts = [n.value for n in tree if isinstance(n, ast.Constant) and id(n) not in stated]
    return [t for t in texts if isinstance(t, str) and (t in ("pain", "jump", "week") or "0-10" in t)]


def test_the_default_question_is_a_literal_only_where_it_may_be():
    assert literals(taken_apart('"""pain"""\nx = "pain", f"{a}, 0-10", "pain_next"')) == ["pain", ", 0-10"]
    named = {name for name, tree in nodes().items() if not name.startswith(MAY) and literals(tree)}
    assert named == set(), "take the variable, label, scale or step of the study in its place"


def test_nobody_downstream_asks_for_an_engine_by_name():
    """What differs between engines is declared in their table: intervals, what they answer, whether they may lead."""
    asked = []
    for name, tree in nodes().items():
        for node in tree if name != "core/engine.py" else ():
            sides = [node.left, *node.comparators] if isinstance(node, ast.Compare) else []
            if any("engine" in (getattr(s, "attr", ""), getattr(s, "id", "")) for s in sides):
                flat = [one for side in sides for one in getattr(side, "elts", [side])]
                named = any(isinstance(n, ast.Constant) or getattr(n, "id", "").isupper() for n in flat)
                asked += [f"{name}:{node.lineno}"] if named else []
    assert asked == []
