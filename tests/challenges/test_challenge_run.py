"""Running challenges: order, seeds, what cannot be run, and the index made from the registry."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from challenge_panels import CLINIC, PLAN, drawn, fitted, laid, light_fit, simple

import lagwise
import lagwise.challenges
from lagwise.challenges import known_truth_at_your_size, missing_steps, other_reasonable_choices
from lagwise.challenges.estimate import side
from lagwise.challenges.registry import REGISTRY, named
from lagwise.core.aside import processes
from lagwise.core.errors import LagwiseError, ModelError
from lagwise.core.results import VERDICTS
from lagwise.core.study import AnalysisPlan, Clock, RatingPlan, Study
from lagwise.panel import panel_from_blocks
from lagwise.say.challenge import attempt, challenge, markdown, text, words_of
from lagwise.say.voice import Voice
from lagwise.writeup.checker import check_text

QUICK = {"quick": True}
SMALL = replace(CLINIC, n_people=14, n_steps=16)
"""Large enough for all to run; what each says of larger ones, and of no effect, is read in the proof."""

FEWER = (
    (known_truth_at_your_size, "QUICK", 20), (known_truth_at_your_size, "JOINT_QUICK", (2, 1)),
    (other_reasonable_choices, "QUICK", 39), (missing_steps, "QUICK", 3),
)  # fmt: skip
"""Simulations of the slowest challenges, where no verdict is looked at."""


@pytest.fixture(scope="module")
def everything():
    """Every challenge of a small clinic, with few simulations; its panel and fit they leave as they were."""
    panel, fit = drawn(SMALL), fitted(SMALL)
    frame, blocks, effects = panel.frame.copy(), panel.blocks.copy(), fit.effects.copy()
    with pytest.MonkeyPatch.context() as fewer:
        for challenge, name, value in FEWER:
            fewer.setattr(challenge, name, value)
        yield lagwise.challenge(panel, fit, **QUICK)
    assert frame.equals(panel.frame) and blocks.equals(panel.blocks) and effects.equals(fit.effects)


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


def test_neither_only_nor_a_helper_changes_numbers(everything):
    some, told = ["same_week_answer", "does_pain_drive_load", "rating_error", "pre_exposure_outcome"], []
    some += ["shuffled_load", "prior", "known_truth_at_your_size", "measurement"]
    with processes(1) as helper:
        alone = challenge(
            drawn(SMALL), fitted(SMALL), only=some, helper=helper, progress=lambda *a: told.append(a), **QUICK
        )
    assert [r.name for r in alone] == some
    assert told[:2] == [("prior", 0, 8), ("known_truth_at_your_size", 1, 8)] and [i for _, i, _ in told] == [
        *range(8)
    ]
    for one in alone:
        assert (
            one.numbers.equals(everything[one.name].numbers) and one.sentence == everything[one.name].sentence
        )
    other = challenge(drawn(SMALL), fitted(SMALL), only=["shuffled_load"], seed=2, **QUICK)
    assert not other["shuffled_load"].numbers.equals(everything["shuffled_load"].numbers)


def test_texts_keep_to_the_wording_rules(everything):
    texts = [markdown()]
    for r in everything:
        texts += [r.title, r.question, r.sentence, r.limits, r.problem]
        texts += [r.picture.title, r.picture.alt] if r.picture is not None else []
    assert [(k.rule, k.words, k.sentence) for t in texts for k in check_text(t)] == []


def test_without_a_result_each_says_why():
    panel, made = drawn(replace(CLINIC, n_people=4, n_steps=12)), simple()
    constant, missing = (
        laid(made["pain"], np.full_like(made["load"], v), stress=made["stress"]) for v in (20.0, np.nan)
    )
    for (given, fit), said in (
        ((panel, light_fit(panel)), "below 5"), (constant, "no primary result"), (missing, "jump"),
    ):  # fmt: skip
        checks = challenge(given, fit)
        assert said in checks["shuffled_load"].problem
        assert all(r.verdict == "cannot_tell" and r.problem for r in checks)


def test_a_mend_is_a_problem_and_a_mistake_surfaces():
    """Of challenges from outside; that they bring their words is held where the guide is run."""
    own = attempt(lambda claim, voice: "So.", title="Mine", question="Is it?", limits="None.")

    @own
    def refused(context):
        raise LagwiseError("no such {step}", mend="Record it.")

    @own
    def mistaken(context):
        return context.claim("mistaken", "sure", apart=context.measured(context.primary.answer))

    [no] = challenge(drawn(SMALL), fitted(SMALL), only=[], also=(refused,))
    assert no.verdict == "cannot_tell" and no.problem == "no such week. Record it."
    for wrong, says in ((mistaken, "the verdict is 'sure'"), (own(lambda context: 0.3), "returns a Claim")):
        with pytest.raises((TypeError, ValueError), match=says):
            challenge(drawn(SMALL), fitted(SMALL), only=[], also=(wrong,))


def test_ten_times_the_scale_gives_ten_times_the_numbers_and_the_same_verdicts(everything):
    """Pain on a declared 0-100 scale: what is in its unit grows with it, all else stays."""
    panel = drawn(SMALL)
    wide = replace(panel.study, ratings={"pain": RatingPlan(low=0, high=100)})
    pain = {c: 10 * panel.blocks[c] for c in panel.blocks if c.startswith("pain")}
    wide = panel_from_blocks(panel.blocks.assign(**pain), wide)
    for one, ten in zip(everything, challenge(wide, light_fit(wide), **QUICK), strict=True):
        assert (one.tried, one.applies, one.verdict) == (ten.tried, ten.applies, ten.verdict), one.name
        assert len(one.numbers) == len(ten.numbers), one.name
        for column in ("value", "low", "high"):
            factor = np.where(one.numbers["unit"] == "points", 10.0, 1.0)
            was, now = factor * one.numbers[column].astype(float), ten.numbers[column].astype(float)
            assert np.allclose(was, now, rtol=1e-3, atol=1e-3, equal_nan=True), one.name


def test_an_unknown_name_is_refused():
    with pytest.raises(LagwiseError, match="no challenge called 'nonsense'"):
        named(["nonsense"])


def test_too_few_draws_are_refused():
    with pytest.raises(ModelError, match="998 shuffles are too few"):
        challenge(drawn(SMALL), fitted(SMALL), draws=998)


def test_modules_have_one_shape():
    names, voice = [one.NAME for one in REGISTRY], Voice.of(Study(""))
    assert len(set(names)) == len(names)
    for module in REGISTRY:
        assert module.__name__.endswith(f".{module.NAME}")
        words = words_of(module)
        assert text(words, "title", voice)
        assert text(words, "question", voice).endswith("?")
        assert text(words, "limits", voice).endswith(".")
        assert "erdict" in module.run.__doc__
        source = Path(module.__file__).read_text("utf-8")
        asks = "context.bayes" in source or "context.each" in source
        assert asks == getattr(module, "HERE", False), "neither posterior nor helper goes to a second process"


def test_the_index_in_the_docs_is_up_to_date():
    page = (Path(__file__).parents[2] / "docs" / "challenges.md").read_text(encoding="utf-8")
    assert markdown() in page


def test_what_does_not_apply_is_no_attempt_and_a_reason_is_the_reason(everything):
    unrelated, prior = everything["unrelated_load"], everything["prior"]
    assert not unrelated.applies and not unrelated.tried and "Not applicable" in repr(unrelated)
    assert prior.applies and not prior.tried and "quick run" in prior.problem
    assert f"{sum(r.tried for r in everything)} run" in repr(everything)
    full = challenge(drawn(SMALL), fitted(SMALL), only=["prior"])["prior"]
    assert "no Bayesian model was given" in full.problem and "--quick" not in full.problem
    failed = replace(fitted(SMALL), engine="ordinal", usable=False, why_not="3 draws diverged.")
    assert (
        "3 draws diverged"
        in challenge(drawn(SMALL), fitted(SMALL), only=["prior"], bayes=failed)["prior"].problem
    )


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
    whole = challenge(*laid(made["pain"], made["load"], stress=made["stress"]), only=["missing_steps"])[
        "missing_steps"
    ]
    assert not whole.applies and "nothing is missing" in whole.problem


def test_within_one_step_of_a_diary_without_load_nothing_is_asked_of_load_or_of_a_later_step():
    rng, people, days = np.random.default_rng(1), 12, 14
    sleep = rng.normal(7, 0.9, (people, days))
    fatigue = np.clip(3 - 0.3 * (sleep - 7) + rng.normal(0, 0.5, (people, days)), 1, 5)
    plan = Study("diary", clock=Clock(1)).with_(
        ratings={"fatigue": {"low": 1, "high": 5, "worse": "high"}}, outcome="fatigue", lag=0, order="exposure_first",
        exposures=["sleep_hours", "stress"], primary="sleep_hours",
    )  # fmt: skip
    who, when = (
        np.repeat([f"P{i:02d}" for i in range(people)], days),
        pd.date_range("2024-01-01", periods=days),
    )
    columns = {
        "person": who,
        "date": np.tile(when, people),
        "fatigue": fatigue.ravel(),
        "sleep_hours": sleep.ravel(),
    }
    rows = pd.DataFrame(columns | {"stress": rng.integers(0, 9, people * days)})
    panel = lagwise.build_panel(lagwise.from_frames(checkins=rows, plan=plan))
    names = ["other_reasonable_choices", "pre_exposure_outcome", "same_week_answer", "unmeasured_confounding"]
    found = challenge(panel, light_fit(panel), only=names, **QUICK)
    other, strength = found[names[0]], found[names[3]]
    assert other.picture.options["choices"] and not any("load" in text for text in other.numbers["quantity"])
    assert "only fatigue" in " ".join(other.numbers["quantity"]) and "pain" not in " ".join(
        other.numbers["quantity"]
    )
    assert [found[name].applies for name in names] == [True, False, False, True]
    assert "the day before" in found[names[1]].problem and "the same day" in found[names[2]].problem
    assert "went with fatigue" in strength.sentence and "later" not in strength.question


def test_fixed_texts_name_the_exposure_that_is_asked_about():
    # about load or effort whatever is asked, and not run otherwise
    of_load = {"random_usual_load", "unrelated_load", "measurement"}
    voice = Voice.of(Study("", analysis=AnalysisPlan(exposures=("stress",), primary="stress")))
    for words in (words_of(e) for e in REGISTRY if e.NAME not in of_load):
        for said in (text(words, name, voice) for name in ("title", "question", "limits")):
            assert "load" not in said.lower().split() and "{" not in said, said
