"""Rooms hold no sentences: what they find has a reason code, and the room say has the words for it."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[2] / "src" / "lagwise"
NAMES = {"same as last step", "leave one person out", "leave groups of people out"}
NAMES |= {"what is held equal", "mixed model, person intercepts", "person-steps with an answer"}
"""Values of table columns, which others look rows up by."""
ROOMS = [
    "core",
    "caseload",
    "drafts",
    "panel",
    "describe",
    "models",
    "events",
    "challenges",
    "planning",
    "output",
]
ROOMS += ["synthetic", "document", "findings", "writeup", "pages", "cli", "suite", "exercises"]
VOCABULARY = {"variable.py", "words.py"}
"""Files of core with the names that tables and texts share."""


def prose(tree: ast.Module) -> list[str]:
    """Texts of four words and more: no docstring, no error's message, no list of names or units, no markup."""
    left = set()
    lists = {getattr(n.value, "id", "") for n in ast.walk(tree) if getattr(n, "attr", "") == "split"}
    for node in ast.walk(tree):
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
    texts = [n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and id(n) not in left]
    texts = [t for t in texts if isinstance(t, str) and not re.search(r'="|<\w+ [\w-]+=|\{ ', t)]
    return [t for t in texts if len(re.findall(r"[^\W\d_]{2,}\S*(?=\s|$)", t)) >= 4]


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_of_numbers_holds_no_sentence(room):
    files = [*(SOURCE / room).rglob("*.py")]
    assert files
    found = {f.name: set(prose(ast.parse(f.read_text()))) - NAMES for f in files if f.name not in VOCABULARY}
    assert {name: texts for name, texts in found.items() if texts} == {}


def test_a_sentence_would_be_found():
    assert prose(ast.parse('why = f"{n} people are too few for it"\n"""Not a docstring of four words."""'))
    assert not prose(
        ast.parse('def f():\n    """Does what it says it does."""\n    raise E("this is an error")')
    )
