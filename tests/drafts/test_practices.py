"""Drafts of the six messy practices, held against what was planted in them."""

import json
import tomllib

import pytest
from bench.drafting import PRACTICES, score

import lagwise as lw

NAMES = sorted(p.name for p in PRACTICES.iterdir() if p.is_dir())


@pytest.fixture(scope="module")
def drafts(tmp_path_factory):
    scratch = tmp_path_factory.mktemp("drafts")
    return {name: (lw.draft(PRACTICES / name, scratch / name), scratch / name) for name in NAMES}


def test_nine_of_ten_columns_are_mapped_rightly_and_none_wrongly_without_a_mark(drafts):
    scores = {
        name: score(made, json.loads((PRACTICES / name / "troubles.json").read_text("utf-8")))
        for name, (made, _) in drafts.items()
    }
    assert sum(len(s.right) for s in scores.values()) >= 0.9 * sum(s.asked for s in scores.values())
    for name, s in scores.items():
        assert (s.wrong, s.never, s.settings) == ((), (), ()), name


@pytest.mark.parametrize("name", NAMES)
def test_the_folder_holds_unchanged_copies_and_a_plan_that_is_not_reviewed(drafts, name):
    _, folder = drafts[name]
    for copy in folder.iterdir():
        if copy.name != "study.toml":
            assert copy.read_bytes() == (PRACTICES / name / copy.name).read_bytes()
    text = (folder / "study.toml").read_text("utf-8")
    assert tomllib.loads(text)["reviewed"] is False
    keys = [line for line in text.splitlines() if " = " in line and not line.startswith("#")]
    marks = ("  # sure: ", "  # look at this: ")
    assert all(any(mark in line for mark in marks) for line in keys)
