"""What notebooks say of a caseload: in its own steps and variables, and true of it."""

import re
from dataclasses import replace

import numpy as np
import pytest

import lagwise as lw
from lagwise.core.errors import LagwiseError
from lagwise.say import arrows, lessons
from lagwise.synthetic import CLINIC, NO_EFFECT, simulate_panel
from lagwise.writeup.checker import check_text


@pytest.fixture(scope="module")
def clinic():
    return simulate_panel(replace(CLINIC, n_people=30), np.random.default_rng(2))


@pytest.fixture(scope="module")
def table(clinic):
    """The effect of load without the other exposures and with them."""
    return lw.models.crude_and_adjusted(clinic, lw.fit_mixed(clinic))


def test_the_arithmetic_is_the_panels_own(clinic):
    frame = clinic.frame.iloc[:5].assign(
        person="P-1", step=range(5), load=[27.0, 45.0, 22.0, 45.0, 66.0], usual=[np.nan] * 3 + [94 / 3, 34.75],
        jump=[np.nan] * 3 + [0.362, 0.64],
    )  # fmt: skip
    text = str(lessons.by_hand(replace(clinic, frame=frame)))
    assert "Take week 3 of P-1. Of the 4 weeks before it, 3 have a known load: 27, 45 and 22" in text
    assert "- usual = (27 + 45 + 22) / 3 = 94 / 3 = 31.33\n" in text
    assert (
        "- load / usual = 45 / 31.33 = 1.44, that is 44 % above the usual\n- jump = log(1.44) = +0.36" in text
    )
    assert "Work out week 4 yourself: 4 known loads stand before it." in text
    with pytest.raises(LagwiseError, match="no week has both"):
        lessons.by_hand(replace(clinic, frame=frame.assign(load=np.nan)))


def test_the_sign_turns_where_it_does_and_is_open_where_it_is(clinic):
    twin = simulate_panel(replace(NO_EFFECT, n_people=30), np.random.default_rng(4))
    turned, open_ = str(lessons.first_look(clinic)), str(lessons.first_look(twin))
    assert "- Same week: pain 0." in turned and "the sign is the opposite" in turned
    assert "The sign is not clearly another" in open_ and "the direction is open" in open_


def test_what_is_left_out_is_named_with_its_share(clinic, table):
    text = str(lessons.crude(clinic, table))
    assert text.startswith(f"On the same {table['n_steps'][0]} person-weeks of 29 people, the difference is ")
    assert "Effort goes along with higher load jump (r = +0." in text
    grown = table.assign(adjusted=table["crude"] + 0.1, takes=-0.03)
    assert "this is called suppression" in str(lessons.crude(clinic, grown))
    shrunk = table.assign(adjusted=table["crude"] / 2, takes=0.03)
    assert "called confounding" in str(lessons.crude(clinic, shrunk))
    assert "nearly the same" in str(lessons.crude(clinic, table.assign(adjusted=table["crude"], takes=0.0)))


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


def test_truth_is_told_of_invented_caseloads_alone():
    caseload = lw.read("data_synthetic/clinic")
    panel = lw.build_panel(caseload)
    fit = lw.fit_mixed(panel)
    assert "would give +0.28 points, inside the interval" in str(lessons.in_truth(caseload, fit))
    assert "cannot be looked up" in str(lessons.in_truth(replace(caseload, folder=""), fit))


def test_sentences_keep_to_the_house_rules(clinic, table):
    said = [
        lessons.courses(clinic),
        lessons.spread(clinic),
        lessons.first_look(clinic),
        lessons.crude(clinic, table),
    ]
    text = "\n\n".join([*map(str, said), *arrows.arrows(clinic).to_numpy().ravel()])
    assert [f"{slip.rule}: {slip.sentence}" for slip in check_text(text)] == []
