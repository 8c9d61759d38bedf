"""The question is a value: the default one is named in the vocabulary, the plan, invented data and texts."""

from __future__ import annotations

import ast
from pathlib import Path

import lagwise

HOUSE = Path(lagwise.__file__).parent
MAY = ("core/variable", "core/study", "drafts/", "synthetic/", "say/")
"""Rooms and files that may name it."""


def literals(source: str) -> list[str]:
    """Constants that are the default outcome, exposure, scale or step, docstrings apart."""
    tree = ast.parse(source)
    stated = {id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)}
    texts = [n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and id(n) not in stated]
    return [t for t in texts if isinstance(t, str) and (t in ("pain", "jump", "week") or "0-10" in t)]


def test_the_default_question_is_a_literal_only_where_it_may_be():
    assert literals('"""pain"""\nx = "pain", f"{a}, 0-10", "pain_next"') == ["pain", ", 0-10"]
    rooms = {p.relative_to(HOUSE).with_suffix("").as_posix(): p for p in HOUSE.rglob("*.py")}
    named = {n for n, p in rooms.items() if not n.startswith(MAY) and literals(p.read_text("utf-8"))}
    assert named == set(), "take the variable, label, scale or step of the study in its place"
