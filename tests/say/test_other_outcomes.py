"""A study that asks about something else than pain is written up in the words, on the scale and at the lag of what it asks."""

import re
from dataclasses import replace
from functools import cache

import pytest
import writeup_inputs as made

from lagwise.core.study import Clock, RatingPlan, Study
from lagwise.document.markdown import render_md
from lagwise.say.challenge import challenge
from lagwise.say.report.caveats import general
from lagwise.say.report.document import document, on_sheets
from lagwise.say.report.figures import figures
from lagwise.say.report.person import course, page
from lagwise.writeup.collect import collect
from lagwise.writeup.draw import draw_svg
from lagwise.writeup.share import shared

PLAN = made.STUDY.analysis
DAILY = replace(PLAN, exposures=("sleep_hours", "stress"), primary="sleep_hours", primary_contrast=1.0)
ASKED = {
    "worry": (
        {"analysis": replace(PLAN, outcome="worry", exposures=("jump", "stress"))},
        "Was worry about the pain higher or lower in the week after more load?",
        "worry about the pain, points (0-10)",
        "12 rises in worry about the pain began",
    ),
    "fatigue": (
        {"analysis": replace(PLAN, outcome="fatigue"), "ratings": {"fatigue": RatingPlan(1, 5, worse="high")}},
        "were followed by fatigue 0.42 points higher (95 % interval 0.11 to 0.73; 1-5 scale)",
        "fatigue, points (1-5)",
        "fatigue at least 0.8 points above the person's own earlier average",
    ),
    "confidence": (
        {"analysis": replace(PLAN, outcome="confidence", exposures=("jump", "stress"))},
        "Was confidence to train higher or lower in the week after more load?",
        "confidence to train, points (0-10)",
        "confidence to train at least 2 points below the person's own earlier average after a week above that mark",
    ),
    "sleep": (
        {"analysis": replace(PLAN, outcome="sleep_hours", exposures=("jump", "stress"))},
        "followed by sleep 0.42 hours longer (95 % interval 0.11 to 0.73)",
        "sleep, hours (0-20)",
        "sleep at least 2 hours below the person's own earlier average",
    ),
    "same day": (
        {"analysis": replace(DAILY, outcome="worry", lag=0, order="exposure_first"), "clock": Clock(1)},
        "Was worry about the pain higher or lower on days of longer sleep?",
        "worry about the pain, points (0-10)",
        "Worry about the pain(i, t) = a + (b + v(i)) \u00d7 sleep within(i, t)",
    ),
}  # fmt: skip
OF_PAIN = re.compile(r"\bpain\b|flare|hurt|0-10 scale", re.IGNORECASE)


def study(name: str) -> Study:
    return replace(made.STUDY, title="Winter block", **ASKED[name][0])


@cache
def findings(name: str):
    plan = study(name)
    fits = [made.mixed(study=plan), made.ordinal(study=plan)]
    return collect(made.caseload(plan), made.panel(12, 20, study=plan), fits, None)


@pytest.mark.parametrize("name", ASKED)
def test_every_text_is_of_what_is_asked_about(name):
    found = findings(name)
    _, opening, axis, mark = ASKED[name]
    text, own = (render_md(d) for d in (document(found), page(found, "P01")))
    pictures = figures(found)
    assert opening in text
    assert pictures["trajectories"].y == axis
    assert mark.split(" ", 1)[1] in text
    assert study(name).outcome.variable.unit == "point" or not re.search(r"\| points|in points", text)
    told = [text, own, *(t for p in pictures.values() for t in (p.title, p.x, p.y, p.alt)), repr(found)]
    told += [render_md(on_sheets(document(shared(found))))]
    asked = found.study.variables[found.study.outcome.name]
    for part in told:
        left = part.split("When to see a licensed clinician")
        for line in "\n".join([left[0], *(after.partition("## ")[2] for after in left[1:])]).splitlines():
            bare = (
                line.replace(asked.label, "")
                .replace(asked.label.capitalize(), "")
                .replace("worry about the pain", "")
                .replace("Worry about the pain", "")
            )
            wrong = OF_PAIN.search(bare)
            assert wrong is None or (wrong.group() == "0-10 scale" and asked.width == 10), line


def test_figures_of_courses_end_where_the_scale_ends():
    found = findings("fatigue")
    options = figures(found)["trajectories"].options
    assert (options["low"], options["high"], options["turn"]) == (1, 5, "rise in fatigue begins, by rating")
    own = [p.data.column("reported") for p in (figures(found)["trajectories"], course(found, "P01"))]
    assert not any(map(any, own)) and any(any(p.reported) for p in found.people)  # own words are of pain
    assert draw_svg(figures(found)["trajectories"]).startswith(b"<?xml")


def test_what_holds_of_every_log_is_said_of_the_exposure_asked_about():
    said = " ".join(general(findings("same day")))
    assert "Sleep and stress were seen and not set, so what came after need not come from them." in said
    assert "Loads are taken as they were done" in said and "both how a person trains" not in said
    assert "both how a person trains and worry about the pain" in " ".join(general(findings("worry")))


def test_numbers_of_a_scale_of_0_to_1_show_whether_an_interval_includes_0(monkeypatch):
    monkeypatch.setitem(made.KINDS, "small", (0.0153, -0.0012, 0.0318))
    asked = {"analysis": replace(PLAN, outcome="mood"), "ratings": {"mood": RatingPlan(0, 1, worse="low")}}
    plan = replace(made.STUDY, **asked)
    fits = [made.mixed("small", study=plan)]
    found = collect(made.caseload(plan), made.panel(12, 20, study=plan), fits, None)
    text = render_md(document(found))
    assert "+0.015 (\u22120.001 to +0.032)" in text
    spread = re.search(r"\| P01 .*? \| (0\.\d+) \((0\.\d+)\) \| (0\.\d+) to", text)
    assert spread and {*map(len, spread.groups())} == {4}


def test_what_the_model_of_one_day_needs_beside_its_question_is_the_rating_before():
    plan = study("same day")
    fit = made.mixed(study=plan)
    fit = replace(fit, effects=fit.effects.assign(pain_adjusted="before"))
    text = render_md(document(collect(made.caseload(plan), made.panel(12, 20, study=plan), [fit], None)))
    assert "The model of it needs stress and worry about the pain before that day as well. It uses" in text
    assert "needs a day below the mark before it" in text


def test_a_rating_without_a_worse_end_has_no_worse_weeks():
    asked = {"analysis": replace(PLAN, outcome="mood"), "ratings": {"mood": RatingPlan(0, 100)}}
    plan = replace(made.STUDY, **asked)
    panel = made.panel(12, 20, study=plan)
    checks = challenge(panel, made.mixed(study=plan), only=["regression_to_the_mean"])
    text = render_md(document(collect(made.caseload(plan), panel, [made.mixed(study=plan)], checks)))
    assert "no end of mood is the worse one by the plan" in checks["regression_to_the_mean"].problem
    assert "## What came before higher or lower mood" in text and "worse week" not in text
