"""For whom and of what a text speaks: the step's name, the spelling, the outcome, the exposures with their
units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lagwise.core.claim import Claim
from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.question import Outcome
from lagwise.core.study import Study, asked_of
from lagwise.core.variable import Variable
from lagwise.core.words import (
    PAIN_ADJUSTED,
    Spelling,
    capital,
    exposure_label,
    exposure_unit,
    on,
    outcome_label,
    step_name,
    steps_against,
    steps_with,
    turns,
    ways,
)

AMERICAN = {"modelled": "modeled", "programme": "program", "recognised": "recognized"}
"""Words of texts that are spelled in two ways. Sentences that findings keep (of challenges, gates and fits)
use words that are spelled alike.
"""


@dataclass(frozen=True)
class Voice:
    """What words depend on beside the claim: what a step is called, what is asked about, what variables are
    called, and how words are spelled.

    `primary` is the exposure asked about and `contrast` its planned contrast. Numbers that may not be shown
    are not in the claim that is said, so that a voice needs no list of them.
    """

    step: str
    question: Outcome
    primary: Variable
    variables: Mapping[str, Variable]
    contrast: float
    spelling: Spelling

    @classmethod
    def of(cls, study: Study) -> Voice:
        """The voice of a study."""
        asked, known = study.analysis, study.variables
        return Voice(
            study.step, study.outcome, known[asked.primary], known, asked.primary_contrast, "british"
        )

    @classmethod
    def of_plan(cls, plan: Mapping[str, Any], spelling: Spelling = "british") -> Voice:
        """The voice of a plan as plain values, as findings hold it."""
        asked, (question, known) = plan["analysis"], asked_of(plan)
        step, contrast = step_name(int(plan["clock"]["step_days"])), float(asked["primary_contrast"])
        return Voice(step, question, known[asked["primary"]], known, contrast, spelling)

    @classmethod
    def asking(cls, plan: Mapping[str, Any], outcome: str, spelling: Spelling = "british") -> Voice:
        """The voice of a plan that asks about another rating after an event."""
        analysis = {**plan["analysis"], "outcome": outcome}
        if outcome != plan["analysis"]["outcome"]:
            analysis.pop("practically_zero", None)  # it is on the scale of the plan's own outcome
        return Voice.of_plan({**plan, "analysis": analysis}, spelling)

    def spelled(self, word: str) -> str:
        """A word of `AMERICAN` in this voice's spelling."""
        return AMERICAN[word] if self.spelling == "american" else word

    @property
    def language(self) -> str:
        """The language of a document in this spelling."""
        return "en-US" if self.spelling == "american" else "en-GB"

    @property
    def steps(self) -> str:
        """The plural of `step`."""
        return f"{self.step}s"

    @property
    def on(self) -> str:
        """What stands before such a step: 'in' the next week, 'on' the next day."""
        return on(self.step)

    @property
    def outcome(self) -> Variable:
        """The variable asked about."""
        return self.question.variable

    @property
    def asked(self) -> str:
        """What is asked about, in the middle of a sentence: 'pain', 'worry about the pain'."""
        return self.outcome.label

    @property
    def of_pain(self) -> bool:
        """Whether pain is asked about, so that texts may speak of what pain does."""
        return self.outcome.name == "pain"

    @property
    def unit(self) -> str:
        """Unit of the outcome in the plural: 'points'."""
        return f"{self.outcome.unit}s"

    @property
    def span(self) -> str:
        """The scale it is rated on: '0-10 scale'."""
        return f"{self.question.span} scale"

    def ways_of(self, side: int) -> str:
        """'higher' or 'lower' (of hours longer, shorter), by the side of 0."""
        return ways(self.unit)[0 if side > 0 else 1]

    @property
    def on_scale(self) -> str:
        """' on the 0-10 scale'; nothing of hours, which are no rating scale."""
        return "" if self.unit == "hours" else f" on the {self.span}"

    def tenth(self, one: str = "") -> str:
        """A tenth of the outcome's scale: 'point' ('one point') of 0-10, '10 points' of 0-100."""
        size = self.outcome.tenth
        return f"{one}{self.outcome.unit}" if size == 1 else f"{size:g} {self.unit}"

    def amount(self, value: float) -> str:
        """An amount of what is asked about: '1 point', '0.5 points', '2 hours'."""
        return self.question.amount(value)

    @property
    def then(self) -> str:
        """The step in which it is asked about: 'the next week', at lag 0 'the same week'."""
        return f"the {'next' if self.question.lag else 'same'} {self.step}"

    @property
    def asked_then(self) -> str:
        """'pain in the next week'."""
        return f"{self.asked} {self.on} {self.then}"

    @property
    def then_asked(self) -> str:
        """'next week's pain', at lag 0 'the same week's pain'."""
        return f"{self.then if not self.question.lag else self.then.removeprefix('the ')}'s {self.asked}"

    @property
    def needed(self) -> str:
        """What the main question needs beside the exposure: ', pain of that week and of the next'."""
        if not self.question.lag:
            return f" and {self.asked} of that {self.step}"
        return f", {self.asked} of that {self.step} and of the next"

    @property
    def lowest(self) -> str:
        """Column of whether it is rated at the lower end of its scale."""
        return f"{self.outcome.name}_zero{'_next' if self.question.lag else ''}"

    @property
    def a_rating(self) -> str:
        """'a pain rating', 'an energy rating'."""
        return f"a{'n' if self.asked[:1].lower() in set('aeiou') else ''} {self.asked} rating"

    @property
    def by(self) -> str:
        """How the record tells of a turn for the worse, against the person's own word: 'by pain', 'by
        rating'.
        """
        return "by pain" if self.of_pain else "by rating"

    @property
    def turn(self) -> str:
        """A turn for the worse of the planned size: 'flare-up', 'rise in worry about the pain'."""
        return turns(self.outcome)[0]

    @property
    def turns(self) -> str:
        """Several of them: 'flare-ups', 'rises in worry about the pain'."""
        return turns(self.outcome)[1]

    @property
    def before(self) -> str:
        """On which side of the mark the step before a turn for the worse lies."""
        return "above" if self.outcome.worse == "low" else "below"

    @property
    def after(self) -> str:
        """On which side of the mark it lies itself."""
        return "below" if self.before == "above" else "above"

    @property
    def turned(self) -> str:
        """What a turn for the worse is: 'pain at least 2 points above the person's own earlier average'."""
        rise = self.amount(self.question.rise)
        return f"{self.asked} at least {rise} {self.after} the person's own earlier average"

    @property
    def term(self) -> str:
        """The primary exposure's term."""
        return self.primary.name

    @property
    def exposure(self) -> str:
        """The exposure asked about in the middle of a sentence: 'load', 'stress'."""
        return called(self.primary)

    @property
    def more_asked(self) -> str:
        """More of it: 'a higher load jump', 'higher stress', 'longer sleep'; less where the plan asks about
        less."""
        article = "a " if self.primary.whole else ""
        return f"{article}{ways(self.unit_of(self.term, 2))[self.contrast < 0]} {self.label(self.term)}"

    @property
    def plainly(self) -> str:
        """The question in everyday words: 'Was pain higher or lower after weeks of more load?'."""
        load = "less load" if self.contrast < 0 else "more load"
        more = load if self.primary.whole else self.more_asked
        ways_ = " or ".join(self.question.ways)
        if not self.question.lag:
            return f"Was {self.asked} {ways_} {self.on} {self.steps} of {more}?"
        return f"Was {self.asked} {ways_} {self.on} the {self.step} after {more}?"

    @property
    def pulled(self) -> str:
        """It as what the outcome pulls at: 'how much was trained', 'stress'."""
        return "how much was trained" if self.primary.whole else self.exposure

    @property
    def cycles(self) -> str:
        """What of it can look like an answer to the outcome and is none."""
        return (
            "training planned in cycles"
            if self.primary.whole
            else f"{self.exposure} with a rhythm of its own"
        )

    @property
    def feedback(self) -> str:
        """Why the choice of what is held equal matters, as the beginning of a sentence."""
        if self.of_pain and self.primary.whole:
            return "People may train less when it hurts"
        return f"{capital(self.asked)} and {self.exposure} can each come before the other"

    @property
    def contrast_label(self) -> str:
        """The planned contrast as the effect table writes it."""
        return contrast_label(self.term, self.contrast)

    @property
    def planned(self) -> str:
        """The steps of the planned contrast: 'weeks trained 50 % above the usual load'."""
        return self.steps_with(self.term, self.contrast_label, contrast_size(self.term, self.contrast))

    @property
    def asks(self) -> str:
        """The question: 'pain in the next week, after weeks trained 50 % above the usual load'."""
        return f"{self.asked_then}, after {self.planned}"

    def label(self, term: str) -> str:
        """An exposure's plain name in the middle of a sentence."""
        own = self.variables.get(term)
        return own.label if own is not None else exposure_label(term)

    def unit_of(self, term: str, amount: float = 1) -> str:
        """The exposure's own unit, in the plural unless the amount is 1."""
        return exposure_unit(term, amount, self.variables)

    def steps_with(self, term: str, contrast: str, size: float | None) -> str:
        """How the steps of a contrast are described: 'weeks trained 50 % above the usual load'."""
        return steps_with(self.step, term, contrast, size, self.variables)

    def steps_against(self, term: str) -> str:
        """What they are set against: 'weeks at the usual load'."""
        return steps_against(self.step, term, self.variables)

    def more(self, claim: Claim) -> str:
        """`steps_with` of a claim's primary contrast."""
        return self.steps_with(claim["term"], claim["contrast"], claim["size"].value)

    def reference(self, claim: Claim) -> str:
        """`steps_against` of a claim's primary contrast."""
        return self.steps_against(claim["term"])

    def difference(self, claim: Claim) -> str:
        """An axis of differences in the outcome for the primary contrast."""
        return f"difference in {self.asked}, {self.unit}, per {claim['contrast']}"

    def adjusted(self, key: str) -> str:
        """Which earlier rating is adjusted for, in words."""
        return self.fill(PAIN_ADJUSTED.get(key, key))

    def explained(self, column: str) -> str:
        """A column that a model explains, in words: 'pain in the next week'."""
        return outcome_label(column, self.outcome, self.step)

    def fill(self, text: str) -> str:
        """A text with {step}, {steps}, {in} (before a step), {exposure}, {outcome} ({Outcome} at its
        beginning), {point}, {points} and {amount} filled in.
        """
        named = {
            "steps": self.steps,
            "step": self.step,
            "in": self.on,
            "exposure": self.exposure,
            "outcome": self.asked,
            "Outcome": capital(self.asked),
            "points": self.unit,
            "point": self.outcome.unit,
            "amount": self.tenth(),
            "cycles": self.cycles,
        }
        for name, word in named.items():
            text = text.replace(f"{{{name}}}", word)
        return text


def called(variable: Variable) -> str:
    """A variable in the middle of a sentence; load where it is load against the person's own usual."""
    return "load" if variable.whole else variable.label
