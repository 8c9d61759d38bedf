"""Running challenges: order, seeds, what cannot be run, and the index made from the registry."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from challenge_caseloads import CLINIC, drawn, fitted
from challenge_panels import PLAN, laid, simple

import lagwise
from lagwise.challenges.context import Found
from lagwise.challenges.estimate import side
from lagwise.challenges.registry import REGISTRY, named
from lagwise.core.errors import LagwiseError
from lagwise.core.results import VERDICTS
from lagwise.core.study import AnalysisPlan, RatingPlan
from lagwise.models import fit_mixed
from lagwise.panel import panel_from_blocks
from lagwise.say import challenge, phrases
from lagwise.say.challenge import markdown
from lagwise.synthetic import NO_EFFECT
from lagwise.writeup.checker import check_text

QUICK = {"quick": True}


@pytest.fixture(scope="module")
def everything():
    return lagwise.challenge(drawn(CLINIC), fitted(CLINIC), **QUICK)


def test_all_run_in_registry_order_with_everything_filled(everything):
    assert [r.name for r in everything] == [e.NAME for e in REGISTRY]
    for result in everything:
        assert result.verdict in VERDICTS
        assert result.sentence and result.limits and result.question and result.seconds >= 0
        assert list(result.numbers.columns) == ["quantity", "value", "low", "high", "unit", "key"]
        assert "{step" not in result.title + result.question + result.limits + result.sentence
        if result.problem:
            assert result.verdict == "cannot_tell" and result.picture is None
        elif result.picture is not None:
            assert result.picture.alt and result.picture.title and len(result.picture.data)


def test_only_does_not_change_numbers(everything):
    alone = challenge(drawn(CLINIC), fitted(CLINIC), only=["shuffled_load"], **QUICK)
    assert len(alone) == 1
    assert alone["shuffled_load"].numbers.equals(everything["shuffled_load"].numbers)
    other = challenge(drawn(CLINIC), fitted(CLINIC), only=["shuffled_load"], seed=2, **QUICK)
    assert not other["shuffled_load"].numbers.equals(everything["shuffled_load"].numbers)


def test_texts_keep_to_the_wording_rules(everything):
    checks = list(everything) + list(challenge(drawn(NO_EFFECT), fitted(NO_EFFECT), **QUICK))
    texts = [markdown()]
    for r in checks:
        texts += [r.title, r.question, r.sentence, r.limits, r.problem]
        texts += [r.picture.title, r.picture.alt] if r.picture is not None else []
    assert [(k.rule, k.words, k.sentence) for t in texts for k in check_text(t)] == []


def test_the_panel_and_the_fit_are_left_as_they_were():
    panel, fit = drawn(CLINIC), fitted(CLINIC)
    frame, blocks, effects = panel.frame.copy(), panel.blocks.copy(), fit.effects.copy()
    challenge(panel, fit, **QUICK)
    assert frame.equals(panel.frame) and blocks.equals(panel.blocks) and effects.equals(fit.effects)


def test_without_a_result_each_says_why():
    panel = drawn(replace(CLINIC, n_people=4, n_steps=12))
    checks = challenge(panel, fit_mixed(panel))
    assert "below 5" in checks["shuffled_load"].problem
    for result in checks:
        assert result.verdict == "cannot_tell"
        assert result.problem


def test_a_challenge_from_outside_brings_its_words_and_a_mend_is_a_problem_and_a_mistake_surfaces():
    def run(context):
        """Verdict: holds, always."""
        return Found(context.claim("mine", "holds", apart=context.measured(context.primary.answer)))

    def refuse(context):
        raise LagwiseError("no such thing", mend="Record it.")

    def mistake(context):
        raise KeyError("typo")

    def mine(run):
        return SimpleNamespace(
            NAME="mine", TITLE="Mine, of {exposure}", QUESTION="Is {outcome} asked about?", LIMITS="A {step}.",
            LABELS={"apart": "difference in {outcome}"}, run=run,
            sentence=lambda claim, voice: f"It is {phrases.said(claim['apart'])}.",
        )  # fmt: skip

    options = {"only": ["same_week_answer"], "also": (mine(run), mine(refuse))}
    registered, own, refused = challenge(drawn(CLINIC), fitted(CLINIC), **options)
    assert registered.tried and (own.title, own.question) == ("Mine, of load", "Is pain asked about?")
    assert own.sentence.startswith("It is 0.") and own.numbers["quantity"].tolist() == ["difference in pain"]
    assert refused.verdict == "cannot_tell" and refused.problem == "no such thing. Record it."
    with pytest.raises(KeyError):
        challenge(drawn(CLINIC), fitted(CLINIC), only=[], also=(mine(mistake),))


def test_ten_times_the_scale_gives_ten_times_the_numbers_and_the_same_verdicts():
    """Pain on a declared 0-100 scale: what is in its unit grows with it, all else stays."""
    panel = drawn(replace(CLINIC, n_people=14, n_steps=20))
    wide = replace(panel.study, ratings={"pain": RatingPlan(low=0, high=100)})
    pain = {c: 10 * panel.blocks[c] for c in panel.blocks if c.startswith("pain")}
    names = [
        "same_week_answer", "does_pain_drive_load", "pre_exposure_outcome", "shuffled_load", "random_usual_load",
        "leave_one_person_out", "unmeasured_confounding", "regression_to_the_mean", "measurement",
    ]  # fmt: skip
    both = [
        challenge(p, fit_mixed(p), only=names, **QUICK)
        for p in (panel, panel_from_blocks(panel.blocks.assign(**pain), wide))
    ]
    for one, ten in zip(*both, strict=True):
        assert one.tried and ten.tried and one.verdict == ten.verdict, one.name
        was, now = (r.numbers.drop_duplicates("key").reset_index(drop=True) for r in (one, ten))
        for column in ("value", "low", "high"):
            factor = np.where(was["unit"] == "points", 10.0, 1.0)
            assert np.allclose(factor * was[column], now[column], rtol=1e-3, atol=1e-6, equal_nan=True), one.name


def test_progress_is_told_before_each():
    told = []
    challenge(drawn(CLINIC), fitted(CLINIC), only=["same_week_answer", "does_pain_drive_load"],
              progress=lambda *a: told.append(a))  # fmt: skip
    assert told == [("same_week_answer", 0, 2), ("does_pain_drive_load", 1, 2)]


def test_an_unknown_name_is_refused():
    with pytest.raises(LagwiseError, match="no challenge called 'nonsense'"):
        named(["nonsense"])


def test_each_challenge_states_its_rule():
    assert len({e.NAME for e in REGISTRY}) == len(REGISTRY)
    for entry in REGISTRY:
        assert "Verdict" in (entry.run.__doc__ or ""), entry.NAME


def test_the_index_in_the_docs_is_up_to_date():
    page = (Path(__file__).parents[2] / "docs" / "challenges.md").read_text(encoding="utf-8")
    assert markdown() in page


def test_what_does_not_apply_is_no_attempt_and_a_reason_is_the_reason(everything):
    unrelated, prior = everything["unrelated_load"], everything["prior"]
    assert not unrelated.applies and not unrelated.tried and "Not applicable" in repr(unrelated)
    assert prior.applies and not prior.tried and "quick run" in prior.problem
    assert f"{sum(r.tried for r in everything)} run" in repr(everything)
    full = challenge(drawn(CLINIC), fitted(CLINIC), only=["prior"])["prior"]
    assert "no Bayesian model was given" in full.problem and "--quick" not in full.problem
    failed = replace(fitted(CLINIC), engine="ordinal", usable=False, why_not="3 draws diverged.")
    assert "3 draws diverged" in challenge(drawn(CLINIC), fitted(CLINIC), only=["prior"], bayes=failed)["prior"].problem


def test_an_interval_that_is_not_known_does_not_include_0():
    with pytest.raises(LagwiseError, match="could not be worked out"):
        side(float("nan"), 1.0)
    assert [side(0.1, 1), side(-1, -0.1), side(-1, 1)] == [1, -1, 0]


def test_texts_speak_of_the_exposure_that_is_asked_about():
    made = simple(people=12, steps=12)
    plan = replace(PLAN, analysis=AnalysisPlan(exposures=("stress",), primary="stress", primary_contrast=1.0))
    panel, fit = laid(made["pain"], np.full_like(made["load"], np.nan), plan, stress=made["stress"])
    names = ["same_week_answer", "does_pain_drive_load", "shuffled_load", "missing_steps"]
    checks = challenge(panel, fit, only=names)
    assert [r.title for r in checks][1:3] == ["Does stress follow pain?", "Shuffled stress"]
    for r in checks:
        assert " load" not in f"{r.title} {r.question} {r.sentence}", r.name


def test_nothing_missing_is_nothing_to_fill_in():
    made = simple(people=12, steps=12)
    whole = challenge(*laid(made["pain"], made["load"], stress=made["stress"]), only=["missing_steps"])["missing_steps"]
    assert not whole.applies and "nothing is missing" in whole.problem
    made["pain"][3, 5] = np.nan
    assert challenge(*laid(made["pain"], made["load"], stress=made["stress"]), only=["missing_steps"], quick=True)[
        "missing_steps"
    ].tried
