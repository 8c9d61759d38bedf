from dataclasses import replace
from functools import cache

import pandas as pd
import pytest
import writeup_inputs as made

import lagwise as lw
from lagwise.core.errors import WriteUpError
from lagwise.core.study import Clock
from lagwise.document.layout import sections
from lagwise.document.markdown import render_md
from lagwise.document.tree import Box, Heading
from lagwise.findings import ChallengeFacts, Table
from lagwise.say.report.caveats import caveats
from lagwise.say.report.document import document, on_sheets
from lagwise.synthetic import CLINIC, simulate
from lagwise.writeup.collect import collect
from lagwise.writeup.share import shared


def text_of(findings):
    return render_md(on_sheets(document(findings)))


def test_exploratory_stands_in_every_heading():
    found = collect(made.caseload(), made.panel(7, 20), [made.mixed(engine="within")], made.challenges())
    headings = [b.text for b in document(found).blocks if isinstance(b, Heading)]
    assert found.gate.name == "exploratory"
    assert all("exploratory" in h for h in headings)
    assert not any("exploratory" in b.text for b in document(made.whole()).blocks if isinstance(b, Heading))


def test_other_steps_are_called_by_their_length():
    for days, word in ((1, "day"), (14, "14-day step")):
        study = replace(made.STUDY, clock=Clock(step_days=days))
        text = text_of(
            collect(made.caseload(study), made.panel(12, 14, study=study), [made.mixed(study=study)], None)
        )
        assert f"person-{word}s" in text and "week" not in text
        assert f"| {word}s per person |" in text


def test_what_was_changed_after_the_plan_is_said_at_the_top():
    study = replace(made.STUDY, clock=Clock(step_days=14))
    found = collect(made.caseload(), made.panel(12, 14, study=study), [made.mixed(study=study)], None)
    top = dict(sections(document(found).blocks))["summary"]
    assert "Changed after the plan" in [b.title for b in top if isinstance(b, Box)]


def test_people_are_shown_by_consent_or_in_the_private_version():
    found = collect(made.caseload(), made.panel(6, 12), [made.mixed()], None)
    agreed = replace(made.STUDY, consent_single_person_plots=True)
    with_consent = collect(made.caseload(agreed), made.panel(6, 12, study=agreed), [made.mixed()], None)
    assert "trajectories.png" in text_of(found)
    assert "trajectories.png" not in text_of(shared(found))
    assert "trajectories.png" in text_of(shared(with_consent))


@cache
def undecided():
    return collect(made.caseload(), made.panel(40, 26), [made.mixed("undecided")], None)


def with_shifts(cause, other):
    """Findings in which a cause as strong as a measured one, and the other adjustment, move the estimate by so many points."""
    found = undecided()
    numbers = Table(
        columns=("quantity", "value", "key"), rows=(("as strong as stress", cause, "shift_yardstick"),)
    )
    challenge = ChallengeFacts(
        name="unmeasured_confounding", title="T", question="Q", verdict="holds", numbers=numbers, sentence="S.", limits="", picture=None, seconds=0, problem=""
    )  # fmt: skip
    [fit] = found.fits
    primary = found.primary
    effects = tuple(
        r.model_copy(update={"estimate": primary.estimate + other}) if r.pain_adjusted == "before" else r
        for r in fit.effects
    )
    return found.model_copy(
        update={"challenges": (challenge,), "fits": (fit.model_copy(update={"effects": effects}),)}
    )


@pytest.mark.parametrize(("cause", "other"), [(0.9, 0.02), (0.02, 0.9), (0.02, 0.01)])
def test_caveats_come_by_how_far_they_could_move_the_estimate(cause, other):
    found = with_shifts(cause, other)
    titles = [c.title for c in caveats(found)]
    shift = {c.title: c.shift for c in caveats(found)}
    assert shift["What was not recorded"] == cause
    assert shift["Which pain is adjusted for"] == pytest.approx(other)
    missing = shift["Weeks without a record"]
    assert missing == pytest.approx(1 - found.numbers["main_steps"].share)
    assert (titles.index("What was not recorded") < titles.index("Which pain is adjusted for")) == (
        cause > other
    )
    assert (titles.index("What was not recorded") < titles.index("Weeks without a record")) == (
        cause > missing
    )


@pytest.mark.parametrize(
    ("verdict", "title"),
    [
        ("informative", "Load also follows pain"),
        ("cannot_tell", "Whether load also follows pain"),
        ("holds", None),
    ],
)
def test_a_reverse_path_is_a_caveat_only_as_far_as_it_was_seen(verdict, title):
    challenge = ChallengeFacts(
        name="does_pain_drive_load", title="T", question="Q", verdict=verdict, numbers=Table(columns=("quantity", "value"), rows=()),
        sentence="S.", limits="", picture=None, seconds=0, problem="",
    )  # fmt: skip
    told = [
        c.title
        for c in caveats(undecided().model_copy(update={"challenges": (challenge,)}))
        if "follows pain" in c.title
    ]
    assert told == ([title] if title else [])


def test_a_caveat_finds_its_number_whatever_its_label_says():
    found = with_shifts(0.9, 0.02)
    [one] = found.challenges

    def shift(columns, row):
        numbers = Table(columns=columns, rows=(row,))
        changed = found.model_copy(update={"challenges": (one.model_copy(update={"numbers": numbers}),)})
        return {c.title: c.shift for c in caveats(changed)}["What was not recorded"]

    keyed = ("quantity", "value", "key")
    assert shift(keyed, ("any other words", 0.7, "shift_yardstick")) == 0.7
    with pytest.raises(WriteUpError, match="holds no number 'shift_yardstick'"):
        shift(keyed, ("shift by a cause as strong as stress", 0.7, ""))


def test_a_formula_names_the_columns_that_the_model_has():
    columns = ("intercept", "jump", "pain_before_within", "step")
    fit = replace(made.mixed(), settings={"pain_adjusted": "before"}, columns=columns)
    text = render_md(on_sheets(document(collect(made.caseload(), made.panel(12, 14), [fit], None))))
    held = "b \u00d7 pain before the week within(i, t)"
    assert f"a + (b + v(i)) \u00d7 load jump(i, t) + {held} + b \u00d7 t + u(i) + e(i, t)," in text


def test_without_a_result_no_challenge_is_listed_as_tried():
    base = collect(made.caseload(), made.panel(3, 14), [], made.challenges())
    idle = tuple(
        c.model_copy(update={"problem": "no primary result", "picture": None}) for c in base.challenges
    )
    text = text_of(base.model_copy(update={"challenges": idle}))
    assert "Not run, since there is no result to try to break: same week answer, shuffled load" in text
    assert "Could not be run" not in text
    assert "did not withstand" not in text_of(base) and "Challenges that did not hold" in text_of(base)


def test_a_sentence_that_did_not_hold_stands_once():
    challenges = made.challenges()
    fell = replace(challenges.results[0], name="unmeasured_confounding", sentence="One cause would be enough.", numbers=pd.DataFrame(
        {"quantity": ["shift by a cause as strong"], "value": [0.3], "low": [None], "high": [None], "unit": "points", "key": "shift_yardstick"}))  # fmt: skip
    for verdict, title in (
        ("does_not_hold", "Challenges that the result did not withstand."),
        ("holds", "What was not recorded."),
    ):
        tried = replace(challenges, results=(replace(fell, verdict=verdict),))
        text = render_md(
            on_sheets(document(collect(made.caseload(), made.panel(12, 14), [made.mixed()], tried)))
        )
        limits = text.split("### In this study, in full")[1].split("\n### ")[0]
        assert limits.count("One cause would be enough.") == 1
        assert f"**{title}** One cause would be enough." in limits


@pytest.mark.parametrize(("held", "leads"), [("during", False), ("none", False), ("during", True)])
def test_a_row_between_people_says_what_is_held_equal(held, leads):
    fit, panel = made.mixed(), made.panel(34, 12)
    row = fit.effects.query("contrast == 'per unit'").iloc[[0]]
    between = row.assign(term="effort", level="between", primary=False, adjustment="adjusted")
    effects = pd.concat([fit.effects, between]).assign(pain_adjusted=held)
    fits = [replace(fit, effects=effects, settings={"pain_adjusted": held})]
    if leads:
        joint = fit.effects.assign(engine="rated", pain_adjusted="latent", primary=False)
        fits.append(replace(fit, engine="rated", effects=joint, tables={}))
    text = render_md(on_sheets(document(collect(made.caseload(), panel, fits, None))))
    assert "people whose averages differ, not a person with themselves" in text
    assert ("have the same average pain, which is held equal" in text) == (held == "during")


def test_an_exposure_without_a_unit_of_its_own_is_told_per_unit():
    caseload = simulate(replace(CLINIC, n_people=12, n_steps=16), 1)
    own = {"exposures": ["near_failure_share"], "primary": "near_failure_share", "primary_contrast": 0.2}
    panel = lw.build_panel(caseload, caseload.study.with_(**own))
    text = text_of(collect(caseload, panel, [lw.fit_mixed(panel)], None))
    assert "Units of slopes are per unit of share of sets near failure." in text
    assert " points per unit, each beside the wider one" in text
