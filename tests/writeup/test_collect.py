import doctest
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import writeup_inputs as made

import lagwise as lw
from lagwise.core.errors import WriteUpError
from lagwise.core.study import LoadPlan
from lagwise.document.markdown import render_md
from lagwise.findings import Findings
from lagwise.say.report.caveats import caveats
from lagwise.say.report.document import document, on_sheets
from lagwise.say.report.figures import figures
from lagwise.synthetic import CLINIC, simulate
from lagwise.writeup.collect import collect
from lagwise.writeup.collect_numbers import told
from lagwise.writeup.share import shared


def test_counts_are_those_of_the_panel():
    panel = made.panel(9, 12)
    found = collect(made.caseload(), panel, [], None)
    frame = panel.frame
    assert found.number("people") == 9
    assert found.number("steps") == len(frame)
    assert found.number("pain_steps") == frame["pain"].notna().sum()
    assert found.numbers["pain_steps"].share == frame["pain"].notna().mean()
    complete = frame["jump"].notna() & frame["pain"].notna() & frame["pain_next"].notna()
    assert found.number("main_steps") == complete.sum()
    assert found.gate.n_people == frame.loc[complete, "person"].nunique()
    assert found.number("flare_onsets") == (frame["flare_next"] == 1).sum() > 0


def test_a_flare_is_marked_on_the_step_it_begins():
    panel = made.panel(6, 14)
    found = collect(made.caseload(), panel, [], None)
    for one in found.people:
        mine = panel.frame[panel.frame["person"] == one.person]
        before = set(mine.loc[mine["flare_next"] == 1, "step"] + 1)
        assert {i for i, on in enumerate(one.flare) if on} == before


def test_the_panel_is_not_changed():
    panel = made.panel()
    before = panel.frame.copy(deep=True)
    collect(made.caseload(), panel, [made.mixed()], made.challenges())
    pd.testing.assert_frame_equal(panel.frame, before)


def test_settings_other_than_the_plan_are_listed():
    other = replace(made.STUDY, load=LoadPlan(measure="tonnage"))
    found = collect(made.caseload(), made.panel(study=other), [], None)
    assert found.study.changes == ("load.measure: 'sets' -> 'tonnage'",)
    assert found.study.plan_hash != found.study.recorded_plan_hash
    assert collect(made.caseload(), made.panel(), [], None).study.changes == ()


def test_provenance_names_what_made_it():
    found = collect(made.caseload(), made.panel(), [made.mixed()], made.challenges(), settings={"draws": 500})
    made_by = found.provenance
    assert made_by.settings == {"draws": 500, "challenge_seed": 7}
    assert made_by.data_hash == "ab" * 32
    assert made_by.packages["pandas"] == pd.__version__
    assert made_by.seconds["mixed (pain_next)"] == 0.41


def test_a_step_whose_next_rating_is_lost_is_not_counted_as_at_risk():
    panel = made.panel(9, 12)
    at_risk, known = panel.frame["at_risk"].eq(1), panel.frame["flare_next"].notna()
    found = collect(made.caseload(), panel, [], None)
    assert (
        found.number("at_risk_steps") == known.sum()
        and found.number("at_risk_untold") == (at_risk & ~known).sum()
    )
    lost = panel.frame.assign(pain_next=float("nan"), flare_next=float("nan"))
    never = collect(made.caseload(), replace(panel, frame=lost), [], None)
    assert never.number("at_risk_steps") == 0 and never.number("at_risk_untold") == at_risk.sum() > 0
    text = render_md(on_sheets(document(never)))
    assert "0 person-weeks were at risk and rated in the next week" in text
    assert f"After {at_risk.sum()} more at risk no rating tells whether one began" in text


def test_the_metric_comparator_stands_beside_the_others_and_nothing_is_told_from_it():
    ordinal = made.ordinal("higher")
    rows = ordinal.effects.query("scale == 'points'").assign(engine="metric", p_important=0.7)
    found = collect(
        made.caseload(),
        made.panel(),
        [made.mixed(), ordinal, replace(ordinal, engine="metric", effects=rows)],
        None,
    )
    text = render_md(on_sheets(document(found)))
    assert "| load jump, +50 % | metric model (comparator) |" in text
    assert "In the ordinal model a difference of at least" in text and "In the metric model" not in text
    assert render_md(on_sheets(document(found.model_copy(update={"fits": found.fits[:2]})))).count(
        "2 in 100"
    ) == text.count("2 in 100")


def test_further_questions_are_told_in_one_table_by_their_own_margins_and_rounded_when_shared():
    found = made.several()
    assert Findings.from_json(found.to_json()) == found
    assert [(q.analysis["outcome"], q.analysis["primary"], q.planned, len(q.fits)) for q in found.also] == [
        ("worry", "jump", True, 2),
        ("pain", "stress", True, 0),
        ("pain", "worry", False, 2),
    ]
    assert found.number("questions") == 4 and [r.primary for r in found.effects].count(True) == 1
    view = found.asking(found.also[0])
    assert (view.primary.outcome, view.primary.term, view.primary.contrast) == ("worry_next", "jump", "+50 %")
    for one, estimate in ((found, "+0.22 (+0.08 to +0.36)"), (shared(found), "+0.20 (0.00 to +0.40)")):
        text = render_md(on_sheets(document(one)))
        assert "This is the primary one of 4 questions asked of the record" in text
        assert "1 of them is not in the plan." in text and "in about 19 of 100 such records" in text
        rows = [
            line
            for line in text.splitlines()
            if line.startswith("| Worry about the pain in the next week, after")
        ]
        assert len(rows) == 1 and estimate in rows[0] and "1 point or more" in rows[0]
        assert "No answer: no model was fitted" in text
        assert "### How long it lasts" in text and "### Dose-response" in text
    with pytest.raises(WriteUpError, match="a further question is the main one"):
        collect(made.caseload(), made.panel(), [], None, also=[(made.panel(), [made.mixed()])])
    few = simulate(replace(CLINIC, n_people=10, n_steps=16), 1)
    names = {"lw": lw, "caseload": few, "panel": lw.build_panel(few)}
    examples = doctest.DocTestFinder(recurse=False).find(collect, "collect", globs=names)
    assert doctest.DocTestRunner().run(examples[0]).failed == 0


def test_ratings_at_the_lower_end_are_counted_and_named_as_a_limit():
    ratings = pd.DataFrame(
        {"person": "P01", "date": pd.date_range("2024-01-01", periods=10), "pain": [0.0, 3.0] * 5}
    )
    found = collect(replace(made.caseload(), checkins=ratings), made.panel(), [], None)
    zero = found.rated("at_zero")
    assert (zero.value, zero.n, zero.share) == (5, 10, 0.5)
    assert "Ratings at zero" in [c.title for c in caveats(found)]


def test_log_units_reach_no_reader():
    """Person slopes and their spread stand at the planned contrast, jumps and load's answers in percent."""
    people = pd.DataFrame(
        {"person": ["a", "b"], "slope": [1.0, 2.0], "low": [0.5, 1.0], "high": [1.5, 3.0], "own_slope": [np.nan, 4.0],
         "own_low": [np.nan, 3.0], "own_high": [np.nan, 5.0]}
    )  # fmt: skip
    spread = pd.DataFrame(
        {"component": ["slope_sd"], "estimate": [0.5], "low": [0.2], "high": [0.9], "unit": ["per unit"]}
    )
    rating = pd.DataFrame(
        {"quantity": ["felt_answer", "level_answer", "error_sd"], "estimate": [0.1, -0.2, 0.5], "low": [0.0, -0.3, 0.4],
         "high": [0.2, 0.1, 0.6]}
    )  # fmt: skip
    around = pd.DataFrame(
        {"offset": [-1], "difference": [np.log(1.2)], "low": [np.log(0.9)], "high": [np.log(1.5)]}
    )
    bias = pd.DataFrame({"truth": ["none"], "bias": [1.0], "bias_mc_error": [0.1]})
    tables = {"people": people, "random_effects": spread, "rating": rating, "aligned": around}
    fit = replace(made.mixed(), tables=tables | {"bias_at_this_size": bias})
    found = told(fit, made.STUDY)
    slopes = found["people"].records()
    assert found["people"].units == {"slope": "+50 %"}
    assert [r["slope"] for r in slopes] == pytest.approx(np.log(1.5) * people["slope"])
    assert slopes[1]["own_high"] == pytest.approx(5 * np.log(1.5)) and slopes[0]["own_low"] is None
    assert found["random_effects"].records()[0]["high"] == pytest.approx(0.9 * np.log(1.5))
    felt, level, error = found["rating"].records()
    assert (felt["unit"], error["unit"], error["estimate"]) == ("%", "", 0.5)
    assert (felt["low"], felt["high"]) == pytest.approx((0.0, 100 * (1 - np.exp(-0.2))))
    assert (level["low"], level["high"]) == pytest.approx((100 * np.expm1(-0.3), 100 * np.expm1(0.1)))
    one = found["aligned"].records()[0]
    assert (one["low"], one["difference"], one["high"]) == pytest.approx((-10, 20, 50))
    one = found["bias_at_this_size"].records()[0]
    assert (one["bias"], one["bias_mc_error"]) == pytest.approx((50, 100 * (1.5**1.0) * np.log(1.5) * 0.1))
    fewer = replace(made.STUDY, analysis=replace(made.STUDY.analysis, primary_contrast=-0.25))
    less = told(fit, fewer)["people"].records()
    assert less[0]["slope"] < less[1]["slope"] < 0 and all(r["low"] < r["slope"] < r["high"] for r in less)


def test_differences_in_what_is_asked_share_one_range():
    found = made.whole()
    pictures = figures(found)
    spans = {tuple(pictures[name].options["span"]) for name in ("effects", "adjustments", "all-challenges")}
    assert len(spans) == 1
    low, high = spans.pop()
    known = [v for c in ("low", "high") for v in pictures["challenge-same-week-answer"].data.column(c)]
    assert low < min(known) and max(known) < high
    assert "span" not in pictures["challenge-shuffled-load"].options
    wide = tuple((*row[:3], 9.0, *row[4:]) for row in found.challenges[0].picture.data.rows)
    data = found.challenges[0].picture.data.model_copy(update={"rows": wide})
    picture = found.challenges[0].picture.model_copy(update={"data": data})
    first = found.challenges[0].model_copy(update={"picture": picture})
    told = figures(found.model_copy(update={"challenges": (first, *found.challenges[1:])}))
    assert "span" not in told["challenge-same-week-answer"].options
    assert told["effects"].options["span"][1] < 2
