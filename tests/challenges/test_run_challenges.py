from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from challenge_panels import clinic, laid, simple

import lagwise.challenges
from lagwise.challenges import REGISTRY
from lagwise.core.errors import ModelError
from lagwise.core.study import AnalysisPlan, Study
from lagwise.say import Voice, challenge
from lagwise.say.challenge import words_of

CHEAP = ["same_week_answer", "does_pain_drive_load", "shuffled_load"]


def test_modules_have_one_shape():
    names = [one.NAME for one in REGISTRY]
    assert len(set(names)) == len(names)
    for module in REGISTRY:
        assert module.__name__.endswith(f".{module.NAME}")
        words = words_of(module)
        assert words.TITLE
        assert words.QUESTION.endswith("?")
        assert words.LIMITS.endswith(".")
        assert "erdict" in module.run.__doc__


def sentences(source: str) -> list[str]:
    """Texts of four words and more that end in a full stop, outside docstrings and errors that are raised."""
    tree = ast.parse(source)
    errors = {"LagwiseError", "ModelError", "NotApplicable"}
    calls = [e for e in ast.walk(tree) if isinstance(e, ast.Call) and getattr(e.func, "id", "") in errors]
    stated = [e for e in ast.walk(tree) if isinstance(e, ast.Expr)]
    apart = {id(n) for e in (*stated, *calls) for n in ast.walk(e)}
    parts = {id(v) for n in ast.walk(tree) if isinstance(n, ast.JoinedStr) for v in n.values}
    found = []
    for n in (n for n in ast.walk(tree) if id(n) not in apart | parts):
        if isinstance(n, ast.JoinedStr):
            found.append("".join(v.value if isinstance(v, ast.Constant) else "some" for v in n.values))
        elif isinstance(n, ast.Constant) and isinstance(n.value, str):
            found.append(n.value)
    return [text for text in found if text.rstrip().endswith((".", "?")) and len(text.split()) >= 4]


def test_only_the_room_of_words_has_sentences():
    assert sentences('def f(x):\n    """A docstring of four words."""\n    return f"There are {x} of them."')
    room = Path(lagwise.challenges.__file__).parent
    assert {
        path.name: found
        for path in room.glob("*.py")
        if path.stem != "work" and (found := sentences(path.read_text("utf-8")))
    } == {}


def test_only_gives_the_same_numbers_and_registry_order():
    panel, fit = clinic()
    together = challenge(panel, fit, only=CHEAP[::-1], seed=3)
    assert [r.name for r in together] == CHEAP
    alone = challenge(panel, fit, only=["shuffled_load"], seed=3)["shuffled_load"]
    pd.testing.assert_frame_equal(together["shuffled_load"].numbers, alone.numbers)
    other = challenge(panel, fit, only=["shuffled_load"], seed=4)["shuffled_load"]
    assert not other.numbers.equals(alone.numbers)


def test_too_few_draws_are_refused():
    panel, fit = clinic()
    with pytest.raises(ModelError, match="998 shuffles are too few"):
        challenge(panel, fit, draws=998)


def test_constant_load_says_why():
    made = simple()
    panel, fit = laid(made["pain"], np.full_like(made["load"], 20.0), stress=made["stress"])
    for result in challenge(panel, fit, only=["same_week_answer", "shuffled_load"]):
        assert result.verdict == "cannot_tell"
        assert "no primary result" in result.problem


def test_missing_load_says_why():
    made = simple()
    panel, fit = laid(made["pain"], np.full_like(made["load"], np.nan), stress=made["stress"])
    for result in challenge(panel, fit):
        assert result.verdict == "cannot_tell"
        assert result.problem
    assert "jump" in challenge(panel, fit, only=["shuffled_load"])["shuffled_load"].problem


def test_fixed_texts_name_the_exposure_that_is_asked_about():
    of_load = {
        "random_usual_load",
        "unrelated_load",
        "measurement",
    }  # about load or effort whatever is asked, and not run otherwise
    voice = Voice.of(Study("", analysis=AnalysisPlan(exposures=("stress",), primary="stress")))
    for words in (words_of(e) for e in REGISTRY if e.NAME not in of_load):
        for text in (words.TITLE, words.QUESTION, words.LIMITS):
            said = voice.fill(text)
            assert "load" not in said.lower().split() and "{" not in said, said
