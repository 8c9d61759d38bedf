"""The words of one study: what a step is called, how an exposure, an engine or an adjustment is named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.question import Outcome
from lagwise.core.variable import Variable
from lagwise.core.words import (
    ENGINES,
    NOT_RUN,
    PAIN_ADJUSTED,
    VERDICT,
    capital,
    exposure_label,
    exposure_unit,
    listed,
    outcome_label,
    short_contrast,
    step_name,
    steps_against,
    steps_with,
    turns,
    ways,
)
from lagwise.writeup.findings import EffectRow, Findings
from lagwise.writeup.fitted import beside, usual_held

__all__ = [
    "COMPANION",
    "ENGINES",
    "NOT_RUN",
    "PAIN_ADJUSTED",
    "STATE",
    "VERDICT",
    "Words",
    "capital",
    "listed",
]

COMPANION = {
    "jump": "usual load",
    "sleep_hours": "sleep",
    "sleep_quality": "sleep quality",
    "worry": "worry",
    "confidence": "confidence",
    "near_failure_share": "share of sets near failure",
}
STATE = {"t": "trained", "r": "rest", "u": "unknown"}


@dataclass(frozen=True)
class Words:
    """Names used throughout one study's write-up, made from its findings."""

    findings: Findings

    @property
    def step(self) -> str:
        """What one calendar step is called: week, day, or step of so many days."""
        return step_name(int(self.findings.study.of("clock", "step_days")))

    @property
    def steps(self) -> str:
        """The plural of `step`."""
        return self.step + "s"

    @property
    def primary(self) -> str:
        """The primary exposure's term."""
        return str(self.findings.study.of("analysis", "primary"))

    @cached_property
    def outcome(self) -> Outcome:
        """What is asked about, with its lag and margins."""
        return self.findings.study.outcome

    @cached_property
    def variables(self) -> Mapping[str, Variable]:
        """The contract's variables and the study's own ratings."""
        return self.findings.study.variables

    @property
    def of_pain(self) -> bool:
        """Whether pain is asked about, so that texts may speak of what pain does."""
        return self.outcome.name == "pain"

    @property
    def of_pain_and_load(self) -> bool:
        """Whether the question is about pain and load, so that texts may say that people train less when it hurts."""
        return self.of_pain and self.primary == "jump"

    @property
    def asked(self) -> str:
        """The rating asked about, in the middle of a sentence: 'pain', 'worry about the pain'."""
        return self.outcome.variable.label

    @property
    def then(self) -> str:
        """The step in which it is asked about: 'the next week', at lag 0 'the same week'."""
        return f"the {'next' if self.outcome.lag else 'same'} {self.step}"

    @property
    def lowest(self) -> str:
        """Column of whether it is rated at the lower end of its scale."""
        return f"{self.outcome.name}_zero{'_next' if self.outcome.lag else ''}"

    @property
    def ways(self) -> tuple[str, str]:
        """Which way it can differ: higher or lower, of hours longer or shorter."""
        return self.outcome.ways

    @property
    def asked_then(self) -> str:
        """'pain in the next week'."""
        return f"{self.asked} in {self.then}"

    @property
    def needed(self) -> str:
        """What the main question needs beside the exposure: ', pain of that week and of the next'."""
        if not self.outcome.lag:
            return f" and {self.asked} of that {self.step}"
        return f", {self.asked} of that {self.step} and of the next"

    @property
    def scale(self) -> str:
        """The scale it is rated on: '0-10 scale'."""
        return f"{self.outcome.span} scale"

    @property
    def on_scale(self) -> str:
        """' on the 0-10 scale'; nothing of hours, which are no rating scale."""
        return "" if self.points == "hours" else f" on the {self.scale}"

    @property
    def points(self) -> str:
        """The unit of what is asked about, in the plural."""
        return self.unit(self.outcome.name, 2)

    @property
    def point(self) -> str:
        """The unit of what is asked about, in the singular."""
        return self.unit(self.outcome.name)

    @property
    def a_rating(self) -> str:
        """'a pain rating', 'an energy rating'."""
        return f"a{'n' if self.asked[:1].lower() in set('aeiou') else ''} {self.asked} rating"

    @property
    def by(self) -> str:
        """How the record itself tells of a turn for the worse, against the person's own word: 'by pain', 'by rating'."""
        return "by pain" if self.of_pain else "by rating"

    @property
    def turn(self) -> str:
        """A turn for the worse of the planned size: 'flare-up', 'rise in worry about the pain'."""
        return turns(self.outcome.variable)[0]

    @property
    def turns(self) -> str:
        """Several of them: 'flare-ups', 'rises in worry about the pain'."""
        return turns(self.outcome.variable)[1]

    @property
    def before(self) -> str:
        """On which side of the mark the step before a turn for the worse lies."""
        return "above" if self.outcome.variable.worse == "low" else "below"

    @property
    def after(self) -> str:
        """On which side of the mark it lies itself."""
        return "below" if self.before == "above" else "above"

    @property
    def turned(self) -> str:
        """What a turn for the worse is: 'pain at least 2 points above the person's own earlier average'."""
        rise = self.amount(self.outcome.rise)
        return f"{self.asked} at least {rise} {self.after} the person's own earlier average"

    def amount(self, value: float) -> str:
        """An amount of what is asked about: '1 point', '0.5 points', '2 hours'."""
        return self.outcome.amount(value)

    @property
    def ends(self) -> tuple[float, float]:
        """Lower and upper end of its scale."""
        return float(self.outcome.variable.low or 0.0), float(self.outcome.variable.high or 0.0)

    @property
    def drawn(self) -> dict[str, Any]:
        """What a picture of courses needs to know of it."""
        low, high = self.ends
        return {
            "asked": self.asked,
            "low": low,
            "high": high,
            "unit": self.points,
            "turn": f"{self.turn} begins, {self.by}",
        }

    @property
    def own_word(self) -> bool:
        """Whether people told of flare-ups in their own word, which is of pain."""
        return self.of_pain and bool(self.findings.numbers["flares_reported"].n)

    @property
    def loaded(self) -> bool:
        """Whether the models that were made hold usual load equal."""
        return usual_held(self.findings)

    @property
    def planned(self) -> str:
        """The steps of the planned contrast: 'weeks trained 50 % above the usual load'."""
        return steps_with(self.step, self.primary, self.contrast_label, self.contrast_size, self.variables)

    @property
    def more_asked(self) -> str:
        """More of the primary exposure: 'a higher load jump', 'higher stress', 'longer sleep'."""
        article = "a " if self.primary == "jump" else ""
        return f"{article}{ways(self.unit(self.primary, 2))[0]} {self.label(self.primary)}"

    @property
    def has_load(self) -> bool:
        """Whether any training load is known, so that texts may speak of it."""
        return bool(self.findings.count("load_steps"))

    @property
    def fed(self) -> str:
        """The primary exposure as what the outcome may feed back on: 'load', 'stress'."""
        return "load" if self.primary == "jump" else self.label(self.primary)

    @property
    def pulled(self) -> str:
        """The primary exposure as what the outcome pulls at: 'how much was trained', 'stress'."""
        return "how much was trained" if self.primary == "jump" else self.fed

    @property
    def feedback(self) -> str:
        """Why the choice of what is held equal matters, as the beginning of a sentence."""
        return (
            "People train less when it hurts"
            if self.of_pain_and_load
            else f"{capital(self.asked)} and {self.fed} can each come before the other"
        )

    @property
    def contrast(self) -> float:
        """The primary contrast as planned."""
        return float(self.findings.study.of("analysis", "primary_contrast"))

    @property
    def contrast_label(self) -> str:
        """The primary contrast as the effect table writes it."""
        return contrast_label(self.primary, self.contrast)

    @property
    def contrast_size(self) -> float:
        """The primary contrast on the model's scale."""
        return contrast_size(self.primary, self.contrast)

    def fill(self, text: str) -> str:
        """Put this study's words into a text with {step}, {steps}, {point}, {points}, {asked} and {Asked}."""
        named = {"step": self.step, "steps": self.steps, "point": self.point, "points": self.points}
        return text.format(**named, asked=self.asked, Asked=capital(self.asked))

    def label(self, term: str) -> str:
        """An exposure's plain name in the middle of a sentence."""
        own = self.variables.get(term)
        return own.label if own is not None else exposure_label(term)

    def unit(self, term: str, amount: float = 1) -> str:
        """The exposure's own unit, in the plural unless the amount is 1."""
        return exposure_unit(term, amount, self.variables)

    def more(self, row: EffectRow) -> str:
        """How the steps of a row's contrast are described: 'weeks trained 50 % above the usual load'."""
        return steps_with(self.step, row.term, row.contrast, row.contrast_size, self.variables)

    def short_contrast(self, row: EffectRow) -> str:
        """A contrast in a table cell or on an axis: '+50 %', '+1 point', '+1 SD'."""
        return short_contrast(row.term, row.contrast, row.contrast_size, self.variables)

    def reference(self, term: str) -> str:
        """What the contrast is set against."""
        return steps_against(self.step, term, self.variables)

    def adjusted_for(self, row: EffectRow) -> str:
        """What is held equal in a row's comparison, in words, by the fit that it comes from."""
        pain = {
            "during": f"the same {self.asked} in that {self.step}",
            "before": f"the same {self.asked} before that {self.step}",
            "latent": f"the same {self.asked} behind the ratings of that {self.step}",
        }
        held = [pain[row.pain_adjusted]] if row.pain_adjusted in pain else []
        held += ["usual load"] if self.loaded and row.pain_adjusted != "latent" else []
        held += [
            "load" if t == "jump" else COMPANION.get(t, self.label(t)) for t in beside(self.findings, row)
        ]
        return listed(held)

    def pain_adjusted(self, key: str) -> str:
        """Which earlier rating is adjusted for, in words."""
        return self.fill(PAIN_ADJUSTED.get(key, key))

    def explained(self, column: str) -> str:
        """A column that a model explains, in words: 'pain in the next week'."""
        return outcome_label(column, self.outcome.variable).replace("{step}", self.step)
