from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from challenge_panels import clinic, laid, simple

from lagwise.challenges import REGISTRY, challenge
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.results import VERDICTS

CHEAP = ["same_week_answer", "does_pain_drive_load", "shuffled_load"]


def test_modules_have_one_shape():
    names = [one.NAME for one in REGISTRY]
    assert len(set(names)) == len(names)
    for module in REGISTRY:
        assert module.__name__.endswith(f".{module.NAME}")
        assert module.TITLE
        assert module.QUESTION.endswith("?")
        assert module.LIMITS.endswith(".")
        assert "erdict" in module.run.__doc__


def test_only_gives_the_same_numbers_and_registry_order():
    panel, fit = clinic()
    together = challenge(panel, fit, only=CHEAP[::-1], seed=3)
    assert [r.name for r in together] == CHEAP
    alone = challenge(panel, fit, only=["shuffled_load"], seed=3)["shuffled_load"]
    pd.testing.assert_frame_equal(together["shuffled_load"].numbers, alone.numbers)
    other = challenge(panel, fit, only=["shuffled_load"], seed=4)["shuffled_load"]
    assert not other.numbers.equals(alone.numbers)


def test_panel_is_not_changed():
    panel, fit = clinic()
    before, blocks = panel.frame.copy(), panel.blocks.copy()
    challenge(panel, fit)
    pd.testing.assert_frame_equal(panel.frame, before)
    pd.testing.assert_frame_equal(panel.blocks, blocks)


def test_every_challenge_says_what_it_found_on_the_clinic():
    panel, fit = clinic()
    for result in challenge(panel, fit):
        assert result.verdict in VERDICTS
        assert result.sentence
        assert "nan" not in result.sentence
        assert result.seconds > 0


def test_progress_is_told_before_each():
    panel, fit = clinic()
    told = []
    challenge(panel, fit, only=CHEAP, progress=lambda name, i, n: told.append((name, i, n)))
    assert told == [(name, i, 3) for i, name in enumerate(CHEAP)]


def test_a_problem_in_one_does_not_stop_the_others(monkeypatch):
    panel, fit = clinic()

    def broken(context):
        raise np.linalg.LinAlgError("Singular matrix")

    monkeypatch.setattr(REGISTRY[0], "run", broken)
    results = challenge(panel, fit, only=CHEAP)
    assert "Singular matrix" in results["same_week_answer"].problem
    assert results["same_week_answer"].verdict == "cannot_tell"
    assert results["shuffled_load"].sentence


def test_unknown_names_and_too_few_draws_are_refused():
    panel, fit = clinic()
    with pytest.raises(LagwiseError, match=r"no challenge called 'shuffle'.*shuffled_load"):
        challenge(panel, fit, only=["shuffle"])
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
        assert "jump" in result.problem
