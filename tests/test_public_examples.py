"""Every public function shows an example in its docstring, and all of them are run."""

from __future__ import annotations

import doctest
import inspect
from dataclasses import replace
from pathlib import Path

import pytest

import lagwise as lw
from lagwise.synthetic import CLINIC, simulate

ROOT = Path(lw.__file__).parents[2]
PUBLIC = [name for name in dir(lw) if inspect.isfunction(getattr(lw, name))]
ELSEWHERE = {"collect", "design_comparable", "draft", "follow", "phases", "since", "stretches"}
"""Run beside the tests of what they need: records with events, spreadsheets, an earlier report."""


@pytest.fixture(scope="module")
def known():
    """Names that examples take for granted."""
    caseload = simulate(replace(CLINIC, n_people=14, n_steps=20), 3)
    panel = lw.build_panel(caseload)
    fit = lw.fit_mixed(panel)
    checks = lw.challenge(panel, fit, only=["same_week_answer"])
    findings = lw.collect(caseload, panel, [], None)
    return {"caseload": caseload, "panel": panel, "fit": fit, "checks": checks, "findings": findings}


def run(name, known):
    found = doctest.DocTestFinder(recurse=False).find(getattr(lw, name), name, globs={"lw": lw, **known})
    assert found and found[0].examples
    assert doctest.DocTestRunner().run(found[0]).failed == 0


@pytest.mark.parametrize("name", sorted({*PUBLIC} - ELSEWHERE - {"fit_ordinal"}))
def test_the_example_holds(name, known, tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    run(name, known | {"folder": tmp_path})


@pytest.mark.mcmc
@pytest.mark.xdist_group("mcmc")
def test_the_example_of_what_samples_holds(known):
    run("fit_ordinal", known)


@pytest.mark.parametrize("name", sorted(ELSEWHERE))
def test_there_is_an_example(name):
    assert ">>> " in inspect.getdoc(getattr(lw, name))
