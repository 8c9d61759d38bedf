"""Sentences outside the summary that follow what the findings hold, read in the Markdown of a report."""

from dataclasses import replace

import pandas as pd
import pytest
import writeup_inputs as made

from lagwise.document.markdown import render_md
from lagwise.writeup import collect
from lagwise.writeup.checklist import checklist
from lagwise.writeup.document import document
from lagwise.writeup.section_prediction import foreseen
from lagwise.writeup.words import Words

COLUMNS = ("scheme", "predictor", "mae", "mae_more", "mae_more_low", "mae_more_high", "n_steps", "n_people")


def guesses(more=None):
    """A prediction table with 'without load' that much worse than the full model, low and high in the middle."""
    rows = [
        ("next step", "model", 0.812, 0.0, 0.0, 0.0, 367, 37),
        ("next step", "same as last step", 0.96, 0.15, 0.07, 0.23, 367, 37),
    ]
    rows += [] if more is None else [("next step", "model without load", 0.812 + more[0], *more, 367, 37)]
    return pd.DataFrame(rows, columns=list(COLUMNS))  # fmt: skip


BEGINNING = (
    "Guesses of the next week's pain from all that the model holds miss by 0.81 points on average (37 people, 367 person-weeks); saying 'as in the week "
    "before' misses by 0.15 points more (95 % interval 0.07 more to 0.23 more)."
)
PREDICTION = {
    "adds": ((0.08, 0.03, 0.13), " Without load they miss by 0.08 points more (95 % interval 0.03 more to 0.13 more): load adds that much to the guess."),
    "open": ((0.02, -0.01, 0.05), " Without load they miss by 0.02 points more (95 % interval 0.01 less to 0.05 more): load is not shown to add anything to the guess, and the interval leaves room for no more than 0.05 points."),
    "worse": ((-0.06, -0.09, -0.02), " Without load they miss by 0.06 points less (95 % interval 0.09 less to 0.02 less): with load the guess is the worse for it."),
    "not asked": (None, ""),
}  # fmt: skip


def findings(kind="higher", more=(0.02, -0.01, 0.05)):
    fit = made.mixed(kind)
    return collect(
        made.caseload(),
        made.panel(12, 14),
        [replace(fit, tables={"prediction": guesses(more)})],
        made.challenges(),
    )


@pytest.mark.parametrize("case", PREDICTION)
def test_what_load_adds_to_a_guess(case):
    more, end = PREDICTION[case]
    found = findings(more=more)
    records = found.fits[0].tables["prediction"].records()
    assert foreseen(records, Words(found)) == BEGINNING + end
    text = render_md(document(found))
    assert BEGINNING + end in text
    assert ("The same without load" in text) == (more is not None)


@pytest.mark.parametrize(("miss", "told"), [(0.812, True), (0.31, False)])
def test_only_a_miss_that_matters_says_that_no_week_can_be_told(miss, told):
    table = guesses()
    table.loc[table["predictor"] == "model", "mae"] = miss
    fit = replace(made.mixed(), tables={"prediction": table})
    text = render_md(document(collect(made.caseload(), made.panel(12, 14), [fit], None)))
    assert (
        "Misses of more than 0.5 points say that no single week can be told from such a log." in text
    ) == told


def test_without_a_result_no_guess_is_told():
    found = collect(
        made.caseload(),
        made.panel(12, 14),
        [replace(made.mixed(usable=False), tables={"prediction": guesses()})],
        None,
    )
    assert "can be foreseen" not in render_md(document(found))


def test_a_diary_alone_speaks_of_its_own_exposure():
    study = made.without_load()
    panel = made.panel(12, 14, study=study, loads=False)
    text = render_md(document(collect(made.caseload(study), panel, [made.mixed(study=study)], None)))
    assert "Pain and stress can each come before the other, so it matters which pain is held equal." in text
    assert "All that the main question needs (stress, pain of that week and of the next) is known in" in text
    assert "drives both stress and pain" in text
    for wrong in (
        "People train less",
        "Training states",
        "load's association",
        "usual load",
        "Load jump",
        "| load |",
        "sessions per week",
        "training is known",
    ):
        assert wrong not in text, wrong
    with_load = render_md(document(collect(made.caseload(), made.panel(12, 14), [made.mixed()], None)))
    for right in (
        "People train less when it hurts",
        "Training states",
        "usual load",
        "| load |",
        "training is known",
    ):
        assert right in with_load, right


def test_a_sentence_that_did_not_hold_stands_once():
    challenges = made.challenges()
    fell = replace(challenges.results[0], name="unmeasured_confounding", sentence="One cause would be enough.", numbers=pd.DataFrame(
        {"quantity": ["shift by a cause as strong"], "value": [0.3], "low": [None], "high": [None], "unit": "points"}))  # fmt: skip
    for verdict, title in (
        ("does_not_hold", "Challenges that the result did not withstand."),
        ("holds", "What was not recorded."),
    ):
        tried = replace(challenges, results=(replace(fell, verdict=verdict),))
        text = render_md(document(collect(made.caseload(), made.panel(12, 14), [made.mixed()], tried)))
        limits = text.split("## What this cannot tell")[1].split("## Methods")[0]
        assert limits.count("One cause would be enough.") == 1
        assert f"**{title}** One cause would be enough." in limits


def test_an_estimate_of_zero_is_not_called_no_difference():
    fit = made.mixed("undecided")
    none = fit.effects.assign(estimate=fit.effects["estimate"].where(~fit.effects["primary"], 0.0))
    text = render_md(
        document(collect(made.caseload(), made.panel(12, 14), [replace(fit, effects=none)], None))
    )
    assert (
        "were followed by pain 0.0 points higher or lower on the 0-10 scale than weeks at the usual load"
        in text
    )
    assert "no different" not in text and "no effect" not in text


def test_the_priors_and_the_model_are_written_out():
    priors = {
        "load": 0.35,
        "factor": 0.5,
        "between": 1.0,
        "pain_within": 1.0,
        "pain_between": 2.5,
        "intercept_sd": 1.5,
        "slope_sd": 0.35,
    }
    seen = pd.DataFrame(
        [("share_at_0", "share of ratings of 0", 0.06, 0.0, 0.33, 0.07)], columns=["check", "meaning", "mean", "low", "high", "observed"]
    )  # fmt: skip
    base = made.ordinal()
    fit = replace(
        base,
        settings={**base.settings, "priors": priors, "pain_adjusted": "during"},
        tables={**base.tables, "prior_predictive": seen},
    )
    found = collect(
        made.caseload(),
        made.panel(12, 14),
        [replace(made.mixed(), settings={"pain_adjusted": "during"}), fit],
        None,
    )
    text = render_md(document(found)).replace("\\", "")
    assert (
        "Pain(i, t + 1) = a + (b + v(i)) × load jump(i, t) + b × effort within(i, t) + b × effort between(i)"
        in text
    )
    assert "Log odds of pain(i, t + 1) above k = a(k) + (b + v(i)) × load jump(i, t)" in text
    assert "load 0.35, other exposures 0.5 within and 1 between people, pain 1 within and 2.5 between" in text
    assert "| share of ratings of 0 | 0.06 | 0.00 to 0.33 | 0.07 |" in text
    assert next(a for a in checklist(found) if (a.source, a.number) == ("Bayesian", "3")).status == "filled"


@pytest.mark.parametrize("held", ["during", "none"])
def test_a_row_between_people_says_what_is_held_equal(held):
    fit, panel = made.mixed(), made.panel(34, 12)
    row = fit.effects.query("contrast == 'per unit'").iloc[[0]]
    between = row.assign(term="effort", level="between", primary=False, adjustment="adjusted")
    effects = pd.concat([fit.effects, between]).assign(pain_adjusted=held)
    text = render_md(document(collect(made.caseload(), panel, [replace(fit, effects=effects)], None)))
    assert "people whose averages differ, not a person with themselves" in text
    assert ("have the same average pain, which is held equal" in text) == (held == "during")
