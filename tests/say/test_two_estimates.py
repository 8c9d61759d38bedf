"""Ratings as measures with error beside ratings as they are: which leads, what is said of the other, and 'undecided' where they read differently."""

from dataclasses import replace

import pandas as pd
import pytest
import writeup_inputs as made

from lagwise.core.effects import effects_frame
from lagwise.core.results import Fit
from lagwise.core.study import RatingPlan
from lagwise.document.tree import Grid, Para, walk
from lagwise.say.report.caveats import caveats
from lagwise.say.report.challenges import challenged
from lagwise.say.report.figures import figures
from lagwise.say.report.methods import methods
from lagwise.say.report.person import group
from lagwise.say.report.ratings import ratings
from lagwise.say.report.results import results
from lagwise.say.report.summary import doors, summary
from lagwise.say.report.wording import answer_kind
from lagwise.say.report.words import Words
from lagwise.writeup.collect import collect


def joint(kind: str) -> Fit:
    """A usable joint fit of a kind of result."""
    row = made.mixed(kind).effects.iloc[0].to_dict()
    rows = [{**row, "engine": "rated", "pain_adjusted": "latent", "primary": False}]
    return replace(made.mixed(kind), engine="rated", effects=effects_frame(rows), tables={})


def found(plain: str, latent: str, people: int = 12):
    mixed = replace(made.mixed(plain), settings={"pain_adjusted": "during"})
    return collect(
        made.caseload(), made.panel(people, 14), [mixed, replace(joint(latent), n_people=people)], None
    )


@pytest.mark.parametrize(
    ("held", "told"),
    [(("stress", "sleep_hours", "worry"), "+ stress and sleep \u2212"), (("sleep_quality",), "+ sleep quality \u2212"),
     (("worry",), "b \u00d7 t \u2212 f")],
)  # fmt: skip
def test_the_equation_of_load_names_what_the_joint_model_holds_equal_in_it(held, told):
    columns = ("jump", *(f"{name}_within" for name in held))
    fit = replace(joint("higher"), columns=columns)
    findings = collect(made.caseload(), made.panel(12, 14), [made.mixed("higher"), fit], None)
    text = str(methods(findings, Words(findings), {}))
    assert (
        f"log load(i, t) = own way(i) + r \u00d7 log usual load(i, t) + b \u00d7 t {told.removeprefix('b \u00d7 t ')}"
        in text
    )


def lead(findings) -> str:
    """The first screen, its doors open."""
    paras = (b for b in walk((*summary(findings), *doors(findings))) if isinstance(b, Para))
    return "\n".join("".join(span.text for span in p.spans) for p in paras)


def test_the_joint_model_leads_and_the_other_stands_beside_it():
    findings = found("higher", "higher")
    assert (
        findings.primary.engine == "rated"
        and findings.as_rated.engine == "mixed"
        and findings.joint == findings.primary
    )
    assert sum(row.primary for row in findings.effects) == 1
    assert "With ratings taken as they are (mixed model), it is" in lead(
        findings
    ) and "Both read alike" in lead(findings)
    assert answer_kind(findings) == "higher"
    row, other = findings.primary, findings.as_rated
    far = other.model_copy(update={"estimate": row.high + 0.2, "low": row.high + 0.1, "high": row.high + 0.3})
    fits = (
        f.model_copy(update={"effects": tuple(far if r == other else r for r in f.effects)})
        for f in findings.fits
    )
    apart = findings.model_copy(update={"fits": tuple(fits)})
    assert "Both read alike, but their intervals lie apart: the size is in doubt." in lead(apart)


def test_the_table_says_what_each_model_holds_equal():
    findings = found("higher", "higher")
    table = next(
        b for b in results(findings, Words(findings), {}) if isinstance(b, Grid) and b.id == "exposures"
    )
    assert (
        "Load jump also holds, by the joint model, the pain behind the ratings of that week; the others, by the "
        "mixed model, pain of that week and usual load."
    ) in table.note


@pytest.mark.parametrize(
    ("plain", "latent"),
    [("lower", "undecided"), ("lower", "practically_none"), ("undecided", "higher"), ("lower", "higher")],
)
def test_two_readings_are_no_answer(plain, latent):
    findings = found(plain, latent)
    assert answer_kind(findings) == "undecided"
    assert "The two read differently, so the answer is undecided" in lead(findings)
    assert "Undecided: by the" in str(summary(findings)[1])
    assert "stood" not in challenged(findings)
    assert "undecided" in figures(findings)["effects"].title
    assert "They do not agree, so it is not settled." in group(findings, Words(findings))


def test_another_question_than_loads_is_led_by_ratings_as_they_are_and_the_reader_is_told_why():
    """On the first page, in the section of ratings and among the caveats; and load's answers do not stand there as the main difference."""
    study = replace(made.STUDY, analysis=replace(made.STUDY.analysis, primary="worry", primary_contrast=2))
    mixed = replace(made.mixed("higher", study=study), settings={"pain_adjusted": "during"})
    row = {**mixed.effects.iloc[0].to_dict(), "engine": "rated", "pain_adjusted": "latent", "primary": False}
    rated = pd.DataFrame([{"quantity": "felt_answer", "estimate": 0.1, "std_error": 0.02, "low": 0.06, "high": 0.14, "prior": ""}])  # fmt: skip
    answers = pd.DataFrame([{"answers": "free", "estimate": 0.4, "std_error": 0.1, "low": 0.2, "high": 0.6, "df": 9.0, "deviance": 1.0}])  # fmt: skip
    latent = replace(
        mixed, engine="rated", effects=effects_frame([row]), tables={"rating": rated, "answers": answers}
    )
    findings = collect(made.caseload(study), made.panel(12, 14, study=study), [mixed, latent], None)
    assert findings.primary.engine == "mixed" and findings.joint is not None
    told, words = "does not know that worry about the pain may answer pain as well", Words(findings)
    assert told in lead(findings)
    blocks = ratings(findings, words)
    assert told in str(blocks[1]) and "answers-table" not in str(blocks)
    assert any(told in caveat.text for caveat in caveats(findings))


def test_a_small_difference_and_a_larger_one_on_the_same_side_read_alike():
    assert answer_kind(found("higher", "small_higher")) == "small_higher"


def test_few_people_are_led_by_the_estimate_within_them():
    findings = found("higher", "undecided", people=8)
    assert findings.primary.engine == "mixed" and findings.joint is not None
    assert answer_kind(findings) == "undecided"


@pytest.mark.parametrize(
    ("scale", "said", "named"),
    [({}, "10 % lower for each point", "per point of pain"), ({"pain": 100}, "63 % lower for each 10 points", "per 10 points of pain"),
     ({"pain": 1}, "1 % lower for each 0.1 points", "per 0.1 points of pain")],
)  # fmt: skip
def test_load_s_answer_is_told_per_point_and_on_other_scales_per_tenth(scale, said, named):
    """A point of a scale from 0 to 1 is all of it: load was told to be 306 % higher for one."""
    study = replace(made.STUDY, ratings={name: RatingPlan(high=high) for name, high in scale.items()})
    table = pd.DataFrame(
        {"quantity": ["felt_answer"], "estimate": [0.1], "low": [0.05], "high": [0.15], "prior": [""]}
    )
    fits = [made.mixed(study=study), replace(joint("higher"), tables={"rating": table})]
    findings = collect(made.caseload(study), made.panel(12, 14, study=study), fits, None)
    shown = repr(ratings(findings, Words(findings)))
    assert said in shown and f"Load lower {named} as felt" in shown
