"""What notebooks say of a caseload: in its own steps and variables, and true of it."""

import re
from dataclasses import replace
from pathlib import Path

import golden
import numpy as np
import pytest

import lagwise as lw
from lagwise.core.errors import LagwiseError
from lagwise.say import arrows, lessons
from lagwise.synthetic import CLINIC, NO_EFFECT, simulate_panel
from lagwise.writeup.checker import check_text

GOLDEN = Path(__file__).parent / "lessons.md"


@pytest.fixture(scope="module")
def clinic():
    return simulate_panel(replace(CLINIC, n_people=30), np.random.default_rng(2))


@pytest.fixture(scope="module")
def table(clinic):
    """The effect of load without the other exposures and with them."""
    return lw.models.crude_and_adjusted(clinic, lw.fit_mixed(clinic))


def said(clinic, table):
    """(what is special, sentences)."""
    truth = lw.read("data_synthetic/clinic")
    fit = lw.fit_mixed(lw.build_panel(truth))
    twin = simulate_panel(replace(NO_EFFECT, n_people=30), np.random.default_rng(4))
    yield "by hand", lessons.by_hand(worked(clinic))
    yield "courses", lessons.courses(clinic)
    yield "spread", lessons.spread(clinic)
    yield "the sign turns", lessons.first_look(clinic)
    yield "the sign is open", lessons.first_look(twin)
    yield "left out", lessons.crude(clinic, table)
    for name, adjusted, takes in (("suppression", table["crude"] + 0.1, -0.03), ("confounding", table["crude"] / 2, 0.03), ("alike", table["crude"], 0.0)):  # fmt: skip
        yield name, lessons.crude(clinic, table.assign(adjusted=adjusted, takes=takes))
    yield "in truth", lessons.in_truth(truth, fit)
    yield "no truth", lessons.in_truth(replace(truth, folder=""), fit)


def test_what_is_left_out_is_told_in_the_decimals_of_a_small_scale(clinic, table):
    """On 0-1 everything moved the difference by 'less than 0.005', a tenth of what is practically zero."""
    small = replace(clinic, study=clinic.study.with_(ratings={"pain": {"high": 1}}))
    tenth = table.assign(**{name: table[name] / 10 for name in ("crude", "adjusted", "own", "takes")})
    (on_ten, on_one) = (lessons.crude(p, t).markdown for p, t in ((clinic, table), (small, tenth)))
    assert on_one.count("\n- ") == on_ten.count("\n- ") > 1
    assert len(re.findall(r"\d\.\d{3}\b", on_one)) == 2 * on_ten.count("\n- ") + 2


def worked(clinic):
    """The panel's first five weeks with loads that can be worked out by hand."""
    frame = clinic.frame.iloc[:5].assign(
        person="P-1", step=range(5), load=[27.0, 45.0, 22.0, 45.0, 66.0], usual=[np.nan] * 3 + [94 / 3, 34.75],
        jump=[np.nan] * 3 + [0.362, 0.64],
    )  # fmt: skip
    return replace(clinic, frame=frame)


def test_sentences_are_as_kept(clinic, table):
    """They keep to the house rules, but for what is asked of the reader by hand."""
    told = [f"## {name}\n\n{one.markdown}" for name, one in said(clinic, table)]
    golden.kept(GOLDEN, "\n\n".join(told) + "\n")
    assert check_text("\n\n".join([*told[1:], *arrows.arrows(clinic).to_numpy().ravel()])) == []
    without = worked(clinic).frame.assign(load=np.nan)
    with pytest.raises(LagwiseError, match="no week has both"):
        lessons.by_hand(replace(clinic, frame=without))


def test_ways_round_are_those_of_the_plan(clinic):
    rows = arrows.arrows(clinic)
    assert rows["arrows"].tolist() == ["1", "2 and 3", "4", "5 and 6", "7 and 8", "9 and 10"]
    analysis = replace(
        clinic.study.analysis, primary="stress", primary_contrast=1.0, exposures=("stress", "worry")
    )
    other = replace(clinic, study=replace(clinic.study, analysis=analysis))
    told = arrows.arrows(other)
    assert "load" not in told.to_string() and "round by worry about the pain" in told["way"].tolist()
    drawn = lw.picture(arrows.arrows_picture(other))
    assert drawn.alt.startswith("Directed graph of 8 arrows. 1: stress of a week to pain of the next week;")


@pytest.mark.parametrize("more", [(), ("near_failure_share",)])
def test_no_arrow_grazes_a_box_that_it_does_not_belong_to(clinic, more):
    exposures = (*clinic.study.analysis.exposures, *more)
    study = replace(clinic.study, analysis=replace(clinic.study.analysis, exposures=exposures))
    svg = lw.picture(arrows.arrows_picture(replace(clinic, study=study))).svg.decode()
    paths = re.findall(r'<path d="(M [^"]*)"[^>]*style="fill: (#eef1f3|none); [^"]*stroke', svg)
    numbers = [(fill, np.array(re.findall(r"[\d.]+", path), float).reshape(-1, 2)) for path, fill in paths]
    boxes = [(p.min(axis=0), p.max(axis=0)) for fill, p in numbers if fill != "none"]
    ways = [p for fill, p in numbers if fill == "none"]
    assert (len(boxes), len(ways)) == (7, 10)

    def off(points):
        """Points -> how far the nearest of them lies from each box."""
        return [
            np.linalg.norm(np.maximum(np.maximum(low - points, points - high), 0), axis=1).min()
            for low, high in boxes
        ]

    t = np.linspace(0, 1, 200)[:, None]
    for start, middle, end in ways:
        own = {int(np.argmin(off(one[None]))) for one in (start, end)}
        course = (1 - t) ** 2 * start + 2 * t * (1 - t) * middle + t**2 * end
        assert len(own) == 2 and all(d > 3 for i, d in enumerate(off(course)) if i not in own)
