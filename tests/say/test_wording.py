import math
import pathlib
from dataclasses import replace

import golden
import pytest
import writeup_inputs as made

from lagwise.core.question import Outcome
from lagwise.core.variable import VARIABLES
from lagwise.document.markdown import render_md, spans
from lagwise.findings import Number, Table
from lagwise.say.phrases import difference, span
from lagwise.say.report.document import document, on_sheets
from lagwise.say.report.figures import figures
from lagwise.say.report.flares import flares
from lagwise.say.report.shown import small_at
from lagwise.say.report.summary import summary
from lagwise.say.report.wording import Risk, count_of, counted, how_likely, kind_of, limits, rules_out
from lagwise.say.report.words import Words
from lagwise.writeup.collect import collect, effect_rows

pytestmark = pytest.mark.xdist_group("every kind of write-up")  # which are put together once
PAIN = Outcome(VARIABLES["pain"])
GOLDEN = pathlib.Path(__file__).parent / "golden" / "summaries.md"


def rows(kind):
    return effect_rows(made.mixed(kind).effects)


@pytest.mark.parametrize(
    ("low", "high", "kind"),
    [(0.1, 0.7, "higher"), (-0.7, -0.1, "lower"), (-0.3, 0.4, "practically_none"), (-0.3, 0.8, "undecided"), (0.1, 0.4, "small_higher"),
        (-0.4, -0.1, "small_lower"), (None, 1, "undecided"), (0.0, 0.7, "higher"), (0.0, 0.0, "practically_none")],
)  # fmt: skip
def test_what_an_interval_says(low, high, kind):
    assert kind_of(low, high, 0.5) == kind


def test_direction_is_said_in_words():
    assert difference(0.42, 2) == "0.42 points higher"
    assert difference(-0.42, 2) == "0.42 points lower"
    assert difference(-0.001, 2) == "no higher or lower at two decimals"
    assert difference(-1.2, 0) == "1 point lower"
    assert (difference(-0.5, 1, "hours"), span(-0.5, 1, 1, "hours")) == (
        "0.5 hours shorter",
        "0.5 hours shorter to 1.0 hours longer",
    )
    assert difference(0.0, 1, "hours") == "neither longer nor shorter at one decimal"
    assert limits(-6, 1, 0) == "6 points lower to 1 point higher"
    assert (difference(1, 0), span(-0.9, 7, 0)) == ("1 point higher", "1 point lower to 7 points higher")
    assert limits(-0.7, -0.1, 2) == "0.70 to 0.10 points lower"
    assert limits(-0.3, 0.4, 1) == "0.3 points lower to 0.4 points higher"


def test_no_difference_in_a_risk_is_no_more_and_no_fewer():
    said = counted(Risk(0.03, 0.03, 0.0, -0.015, 0.015), "a flare-up", "such weeks", "others")
    assert said.endswith("The difference is about 0 of 100 (95 % credible interval 1.5 fewer to 1.5 more).")


def test_the_first_screen_tells_the_risk_that_the_flare_models_section_tells():
    """With its interval, and not the other one of the ordinal model."""
    findings = made.whole()
    assert "8.1 of 100 weeks at the usual load (95 % interval of the difference" in str(summary(findings)[1])
    label = findings.primary.contrast
    names = ("what", "term", "at", "probability", "low", "high")
    risk = Table(
        columns=names,
        rows=(("reference", "jump", "", 0.022, 0.01, 0.03), ("contrast", "jump", label, 0.042, 0.01, 0.07),
              ("difference", "jump", label, 0.02, -0.009, 0.05)),
    )  # fmt: skip
    lead = findings.fits[0]
    flare = lead.model_copy(update={"engine": "flare", "tables": {"risk": risk}})
    said = str(summary(findings.model_copy(update={"fits": (*findings.fits, flare)}))[1])
    assert (
        "About 4.2 of 100 such weeks came before a flare-up, against 2.2 of 100 weeks at the usual load "
        in said
    )
    assert "(95 % interval of the difference 0.9 fewer to 5.0 more)" in said
    ratio = lead.effects[0].model_copy(
        update={
            "engine": "flare",
            "scale": "odds_ratio",
            "contrast": label,
            "estimate": 2.9,
            "low": 1.1,
            "high": 7.8,
        }
    )
    told = [str(flares(findings.model_copy(update={"fits": (flare.model_copy(update={"effects": (r,)}),)}), Words(findings), {}))
            for r in (ratio, ratio.model_copy(update={"low": 0.9}))]  # fmt: skip
    assert ["the interval leaves out 1: with few flare-ups" in one for one in told] == [
        True,
        False,
    ]


def test_practically_none_between_people_is_said_of_the_contrast_in_its_row():
    findings = made.whole()
    row = findings.primary.model_copy(
        update={
            "term": "stress",
            "level": "between",
            "contrast": "per unit",
            "contrast_size": 1.0,
            "low": -0.04,
            "high": 0.06,
        }
    )
    assert small_at(findings, row, 0.5) == "at +1 point"


def test_a_chance_rounded_to_its_tenth_is_said_as_the_tenth():
    [row] = effect_rows(made.ordinal().effects.iloc[:1].assign(p_important=0.05, p_practically_zero=0.95))
    said = how_likely(row, PAIN, tenths=True)
    assert "has a probability of between 0 and 10 in 100." in said
    assert said.endswith("no larger than 0.5 points has one of between 90 and 100 in 100.")
    assert "has a probability of 5 in 100." in how_likely(row, PAIN)


def test_a_share_that_rounds_to_all_is_not_said_as_all():
    said = [count_of(Number(value=v, n=477, share=v / 477), "weeks").split("(")[1] for v in (0, 2, 476, 477)]
    assert said == ["0 %)", "under 1 %)", "over 99 %)", "100 %)"]


def test_a_negative_contrast_is_below():
    words = Words(collect(made.caseload(), made.panel(), [made.mixed()], None))
    [row] = effect_rows(made.mixed().effects.iloc[:1].assign(contrast="-30 %", contrast_size=math.log(0.7)))
    assert words.steps_of(row) == "weeks trained 30 % below the usual load"
    [row] = effect_rows(
        made.mixed().effects.iloc[:1].assign(term="stress", contrast="-2", contrast_size=-2.0)
    )
    assert words.steps_of(row) == "weeks with stress 2 points below the person's own average"
    assert words.short_contrast(row) == "\u22122 points"
    asked = replace(made.STUDY.analysis, primary="stress", primary_contrast=-2.0)
    plan = replace(made.STUDY, analysis=asked)
    text = render_md(
        document(collect(made.caseload(plan), made.panel(12, 14, study=plan), [made.mixed(study=plan)], None))
    )
    assert "## Was pain higher or lower in the week after lower stress?" in text
    finding = text.split("## What came before a worse week")[1].split("![")[0]
    higher, lower = finding.split("came before higher pain")[0], finding.split("came before higher pain")[1]
    assert "stress" in lower.split("came before lower pain")[0] and "stress" not in higher, finding


def test_what_is_ruled_out_either_way():
    [row] = effect_rows(made.mixed().effects.iloc[:1].assign(low=0.2, high=1.4))
    assert (
        "does not include 0. It leaves room for pain 1 point or more higher and rules out pain 1 point or more lower."
        in rules_out(row, PAIN)
    )
    [row] = effect_rows(made.mixed().effects.iloc[:1].assign(low=-2.0, high=1.4))
    assert "includes 0. It leaves room for an average difference of 1 point or more either way" in rules_out(
        row, PAIN
    )
    [row] = effect_rows(made.mixed().effects.iloc[:1].assign(low=1.2, high=1.4))
    assert "lies wholly at pain 1 point or more higher" in rules_out(row, PAIN)


def test_summaries_are_as_kept():
    parts = [
        f"## {name}\n\n" + "\n\n".join(spans(p.spans) for p in summary(found))
        for name, found in made.combinations()
    ]
    text = "\n\n".join(parts) + "\n"
    assert len(parts) >= 50
    golden.kept(GOLDEN, text)


def test_nothing_on_the_page_is_better_than_the_worst_attempt_allows():
    """One attempt that broke the result makes it undecided in the answer, the section's finding, the table and the figures."""
    tried = collect(made.caseload(), made.panel(12, 14), [made.mixed()], made.challenges()).challenges
    held = tuple(c.model_copy(update={"verdict": "holds", "problem": ""}) for c in tried)
    fell = (held[0].model_copy(update={"verdict": "does_not_hold"}), *held[1:])
    of_base = (
        fell[0].model_copy(update={"name": "random_usual_load"}),
        *held[1:],
    )  # the difference belongs to load itself
    for kind, tried, told in (
        ("higher", held, "load"),
        ("higher", of_base, "load"),
        ("higher", fell, "For load it is undecided."),
        ("small_higher", fell, "For load it is undecided."),  # a small interval is no better than a wide one
    ):
        found = collect(made.caseload(), made.panel(12, 14), [made.mixed(kind)], None)
        one = found.model_copy(update={"challenges": tried})
        text, broke = render_md(on_sheets(document(one))), tried is fell
        finding = text.split("## What came before a worse week")[1].split("![")[0]
        assert told in finding and ("For load it is undecided." in finding) == broke
        assert ("undecided" in figures(one)["effects"].title) == broke
        assert ("Undecided: it did not come through" in text) == broke
        assert (
            ("What load is set against" in text) == ("belongs to load itself" in text) == (tried is of_base)
        )
        row = text.split("| **Load jump** | +50 % |")[1].split("\n")[0]
        assert ("| undecided |" in row) == broke
