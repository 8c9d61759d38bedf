"""What DEVELOPERS.md shows of adding one of each from outside the package is run as it stands there."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import lagwise as lw
from lagwise.core import engine
from lagwise.synthetic import CLINIC, simulate
from lagwise.writeup.share import shared

GUIDE = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text("utf-8")
SHOWN = re.findall(r"```python\n(.+?)```", GUIDE, re.DOTALL)


@pytest.fixture(scope="module")
def clinic():
    """Names the guide takes for granted: a small clinic whose people also rate soreness and fatigue."""
    caseload = simulate(replace(CLINIC, n_people=10, n_steps=16), 1)
    sessions, checkins = (t.drop(columns="row") for t in (caseload.sessions, caseload.checkins))
    rng = np.random.default_rng(1)
    rated = {"soreness": rng.integers(0, 11, len(checkins)), "fatigue": rng.integers(1, 6, len(checkins))}
    panel = lw.build_panel(caseload)
    two = replace(panel, frame=panel.frame[panel.frame["person"] < "P-4"])
    names = {"lw": lw, "study": caseload.study, "sessions": sessions, "checkins": checkins.assign(**rated)}
    findings = lw.collect(caseload, two, [], None)
    return names | {"caseload": caseload, "panel": panel, "fit": lw.fit_mixed(panel), "findings": findings}


@pytest.fixture
def known(clinic, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    yield {**clinic}
    engine._REGISTERED.pop("pooled", None)


def test_one_of_each_is_added_as_the_guide_says(known, tmp_path):
    *short, decorated = SHOWN
    assert len(short) == 5
    for code in short:
        assert len(code.splitlines()) <= 10
        assert not re.search(r"lw\.\w+\.", code), "of the package's rooms only what is imported"
        exec(code, known)
    exec(decorated, known)
    mine = known["checks"]["steady"]
    assert (mine.title, mine.applies) == ("Side of load", True)
    assert mine.numbers["quantity"].tolist() == ["difference in pain"] and mine.question and mine.limits
    assert mine.sentence == f"It is {mine.numbers['value'][0]:.2f} points."
    pooled = known["fit_pooled"](known["panel"], known["fit"])
    assert "Pooled least squares" in repr(pooled) and pooled.effects["engine"].tolist() == ["pooled"]
    assert pooled.effects["low"][0] < known["fit"].primary()["estimate"].item() < pooled.effects["high"][0]
    assert {"jump", "soreness"} == set(known["with_soreness"].effects["term"])
    assert known["of_fatigue"].outcome == "fatigue_next"
    text = (tmp_path / "out" / "case-series.md").read_text("utf-8")
    assert text.index("## Thanks\n\n2 people kept this log.") < text.index("## Methods")


def test_a_challenge_from_outside_is_shared_by_its_rounded_numbers(known):
    exec(SHOWN[-1], known)
    panel, fit = known["panel"], known["fit"]
    checks = lw.challenge(panel, fit, only=[], also=[known["halves"]])
    drawn = checks["halves"].picture
    assert (
        drawn.data["label"].tolist()
        == checks["halves"].numbers["quantity"].tolist()
        == ["first half", "second half"]
    )
    assert drawn.alt.startswith("First half: ") and "10 people" in drawn.options["subtitle"]
    findings = lw.collect(known["caseload"], panel, [fit], checks)
    own, (given,) = checks["halves"].numbers, shared(findings).challenges
    numbers = r"\S+ points \(\S+ to \S+\)\."
    assert re.fullmatch(rf"First half: {numbers} Second half: {numbers}", given.sentence)
    told = given.numbers.records()
    for exact, value in zip(own["value"], (r["value"] for r in told), strict=True):
        assert exact != value == pytest.approx(exact, abs=0.25)
