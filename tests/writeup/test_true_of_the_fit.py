"""What texts say was done is what was done: exposures, reasons and contrasts are those of the fit, read in whole reports of odd caseloads."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
import writeup_inputs as made

from lagwise.core.effects import contrast_size
from lagwise.core.errors import ModelError
from lagwise.core.study import AnalysisPlan, Study
from lagwise.document.markdown import render_md
from lagwise.models import fit_mixed
from lagwise.pages.report import not_fitted
from lagwise.panel import panel_from_blocks
from lagwise.synthetic import CLINIC, simulate_panel
from lagwise.writeup import Findings, collect
from lagwise.writeup.document import document
from lagwise.writeup.fitted import Why
from lagwise.writeup.person import group
from lagwise.writeup.reasons import no_answer
from lagwise.writeup.shown import small_at
from lagwise.writeup.summary import summary
from lagwise.writeup.words import Words

PLAN = Study("Odd caseloads", analysis=AnalysisPlan(exposures=("jump", "effort", "stress", "worry")))


@cache
def _blocks(people: int = 12) -> pd.DataFrame:
    return simulate_panel(
        replace(CLINIC, n_people=people, n_steps=16), np.random.default_rng(1), study=PLAN
    ).blocks


def told(
    change=lambda b: b, study: Study = PLAN, *, people: int = 12, aside: pd.DataFrame | None = None
) -> Findings:
    """Findings of the clinic's record after a change of its blocks."""
    panel = panel_from_blocks(change(_blocks(people).copy()), study)
    try:
        fit = fit_mixed(panel)
    except ModelError as error:
        fit = not_fitted("mixed", "pain_next", error.what, error.mend)
    caseload = made.caseload(study, quarantine=aside)
    trained = panel.frame["state"].ne("unknown").any()
    return collect(
        caseload if trained else replace(caseload, counts=caseload.counts.iloc[1:]), panel, [fit], None
    )


def text_of(findings: Findings) -> str:
    return render_md(document(findings)).replace("\\", "")


def opening(findings: Findings) -> str:
    return " ".join("".join(s.text for s in p.spans) for p in summary(findings))


def no_load(blocks):
    loads = [c for c in blocks if c.startswith("load_")]
    return blocks.assign(
        recorded="unknown", n_sessions=0, source="checkins", effort=np.nan, **dict.fromkeys(loads, np.nan)
    )


@cache
def without_load() -> Findings:
    return told(no_load)


def test_without_load_the_reason_is_load_and_not_few_people():
    found = without_load()
    text = text_of(found)
    assert no_answer(found).why is Why.NOT_RECORDED
    assert "No answer to the main question: no training load was recorded." in text
    assert "stress and worry about the pain are set beside pain of the next week" in opening(found)
    for wrong in ("this few people", "0 people have enough", "Few people", "nothing is estimated", "Load, effort", "b × load jump",
                  "b × effort", "bars of that week's load", "Mean load", "Training not recorded", "train unrecorded", "how a person trains",
                  "Jump left out", "exposure jump"):  # fmt: skip
        assert wrong not in text, wrong
    assert "load (not recorded) and effort (not recorded) are not in the model" in text
    assert "So few people" not in group(found, Words(found))
    assert "0 people have enough" not in repr(found)


def test_few_people_are_named_where_people_are_few():
    found = told(people=4)
    assert no_answer(found).why is Why.FEW_PEOPLE
    assert "with this few people nothing is estimated" in opening(found)
    assert "So few people kept a log" in group(found, Words(found))


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda b: b.assign(effort=np.nan), "not recorded"),
        (lambda b: b.assign(effort=b["effort"].where(b["effort"].isna(), 7.0)), "did not vary within people"),
    ],
)
def test_an_exposure_that_dropped_out_is_not_held_equal(change, reason):
    found = told(change)
    text, kept = text_of(found), text_of(told())
    assert "at the same pain in that week, usual load, stress and worry." in text
    assert "at the same pain in that week, usual load, effort, stress and worry." in kept
    assert f"Of the exposures in the plan, effort ({reason}) is not in the model." in opening(found)
    assert (
        "### Load, stress and worry side by side" in text
        and "### Load, effort, stress and worry side by side" in kept
    )
    assert "b × effort within" not in text and "b × effort within" in kept
    assert "which needs stress and worry about the pain as well" in text
    assert "is not in the model" not in kept
    assert "estarted" not in kept  # nobody came back from nothing: no column is missed
    old = found.model_copy(
        update={"fits": tuple(f.model_copy(update={"columns": (), "dropped": ()}) for f in found.fits)}
    )
    assert opening(old) == opening(found)  # findings made before columns were kept


def test_an_exposure_of_another_scale_is_not_called_unrecorded():
    rows = [("sessions", i + 2, "effort", "15", "out_of_range", "") for i in range(9)]
    aside = pd.DataFrame(rows, columns=["table", "row", "column", "value", "code", "mend"])
    found = told(lambda b: b.assign(effort=np.nan), aside=aside)
    assert "effort (every value lay outside its range and was set aside) is not in the model" in opening(
        found
    )


def test_ratings_that_no_rating_follows_are_the_reason():
    pains = ["pain_mean", "pain_worst", "pain_last"]

    def every_second(blocks):
        return blocks.assign(**{p: blocks[p].where(blocks["step"] % 2 == 0) for p in pains})

    found = told(every_second)
    assert no_answer(found).why is Why.NO_NEXT
    assert (
        "No answer to the main question: no rating of pain is followed by one in the next week."
        in opening(found)
    )
    assert "no flare-up could be seen to begin" in text_of(found) and "no flare-up began" not in text_of(
        found
    )


def test_another_exposure_known_in_few_people_is_the_reason():
    found = told(lambda b: b.assign(worry=b["worry"].where(b["person"].isin(sorted(set(b["person"]))[:3]))))
    assert no_answer(found).why is Why.FEW_COMPLETE
    assert (
        "only 3 people have weeks in which the other exposures are known as well (worry about the pain is known least"
        in opening(found)
    )
    assert "this few people" not in text_of(found)


def test_a_load_in_another_measure_is_not_called_unrecorded():
    study = replace(PLAN, load=replace(PLAN.load, measure="tonnage"))
    for resting in (False, True):  # a week of rest has a load in every measure: none

        def weighed(blocks, resting=resting):
            rest = resting & blocks["step"].eq(3)
            return blocks.assign(
                load_tonnage=np.where(rest, 0.0, np.nan), recorded=blocks["recorded"].mask(rest, "rest")
            )

        found = told(weighed, study)
        assert found.count("load_steps") == 12 * resting
        assert no_answer(found).why is Why.OTHER_MEASURE
        assert "is known, though 300 rows of training were read" in opening(found)


@pytest.mark.parametrize(
    ("gates", "rest", "settings", "said"),
    [
        (
            {"divergences": 1.0},
            {},
            {},
            "since the sampler of the ordinal model lost its path in 1 of 4\u00a0000 draws",
        ),
        ({"rhat": 1.08}, {}, {}, "since the ordinal model is not usable (R-hat of 1.08 is above 1.01)"),
        ({}, {"n_people": 7}, {}, "since the ordinal model takes at least 10 people"),
        (None, {}, {"quick": True}, "since a quick run leaves out the Bayesian model"),
        (None, {}, {"quick": False}, "since no Bayesian model was fitted"),
    ],
)
def test_the_reason_for_a_missing_chance_is_its_own(gates, rest, settings, said):
    fits = [made.mixed()]
    if gates is not None:
        rows = [(g, v, "", False, "") for g, v in gates.items()]
        table = pd.DataFrame(rows, columns=["gate", "value", "limit", "passed", "meaning"])
        fits.append(replace(made.ordinal(usable=False), diagnostics=table, **rest))
    found = collect(made.caseload(), made.panel(12, 26), fits, None, settings=settings)
    assert f"how likely a difference that matters is was not estimated, {said}." in opening(found)


def shown(contrast: float, high: float, *, reached: bool = True, usual: float = 0.8):
    """What may be called small of a primary row from -high to high, and the opening."""
    study = replace(made.STUDY, analysis=replace(made.STUDY.analysis, primary_contrast=contrast))
    fit = made.mixed(study=study)
    rows = fit.effects.assign(estimate=0.0, low=-high, high=high)
    label = f"{100 * contrast:+g} %"
    table = pd.DataFrame(
        [
            (label, "jump", contrast_size("jump", contrast), reached),
            ("usual low to usual high", "jump", usual, True),
        ],
        columns=["contrast", "term", "size", "reached"],
    )
    found = collect(
        made.caseload(study),
        made.panel(12, 26, study=study),
        [replace(fit, effects=rows, tables={"reach": table})],
        None,
    )
    return small_at(found, found.primary, 0.5), text_of(found)


def test_a_contrast_too_small_to_show_anything_is_not_called_practically_none():
    where, text = shown(0.1, 0.2)
    assert where == ""
    assert "| **load jump, +10 % (primary)** | mixed model |" in text
    assert (
        "practically no difference"
        not in text.split("### Differences between")[0].split("load jump, +10 %")[1].split("\n")[0]
    )
    assert "which the plan calls practically zero" not in text
    assert shown(0.1, 0.04)[0] == "at +10 %"  # its null twin: nothing either over the range that people show


def test_a_contrast_nobody_reaches_gives_way_to_the_one_people_show():
    where, text = shown(1.0, 0.3, reached=False)
    assert where == "from usual low to usual high (33 % below to 49 % above the usual load)"
    assert (
        f"and {where} it lies wholly within 0.5 points either way, which the plan calls practically zero"
        in text
    )
    assert shown(1.0, 0.3)[0] == "at +100 %"
    assert shown(1.0, 0.9, reached=False)[0] == ""


def test_of_pain_alone_nothing_else_is_said_to_have_been_seen():
    others = ("stress", "worry", "sleep_hours", "sleep_quality", "confidence")
    text = text_of(told(lambda b: no_load(b).assign(**dict.fromkeys(others, np.nan))))
    always = text.split("In every log")[1].split("## ")[0]
    assert "Pain is the person's own rating." in always
    assert "was recorded" not in always and "adjusted for" not in always
