"""The words of one study: what a step is called, how an exposure, an engine or an adjustment is named."""

from __future__ import annotations

from dataclasses import dataclass

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.words import (
    ENGINES,
    NOT_RUN,
    OUTCOME,
    PAIN_ADJUSTED,
    PER_UNIT,
    VERDICT,
    contrast_amount,
    exposure_label,
    exposure_unit,
    short_contrast,
    step_name,
)
from lagwise.writeup.findings import EffectRow, Findings
from lagwise.writeup.fitted import beside, usual_held

__all__ = ["COMPANION", "ENGINES", "NOT_RUN", "OUTCOME", "PAIN_ADJUSTED", "STATE", "VERDICT", "Words", "join"]

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

    @property
    def loaded(self) -> bool:
        """Whether the models that were made hold usual load equal."""
        return usual_held(self.findings)

    @property
    def planned(self) -> str:
        """The steps of the planned contrast: 'weeks trained 50 % above the usual load'."""
        return self.more_of(self.primary, self.contrast_label, self.contrast_size)

    @property
    def has_load(self) -> bool:
        """Whether any training load is known, so that texts may speak of it."""
        return bool(self.findings.count("load_steps"))

    @property
    def fed(self) -> str:
        """The primary exposure as what pain may feed back on: 'load', 'stress'."""
        return "load" if self.primary == "jump" else self.label(self.primary)

    @property
    def pulled(self) -> str:
        """The primary exposure as what pain pulls at: 'how much was trained', 'stress'."""
        return "how much was trained" if self.primary == "jump" else self.fed

    @property
    def feedback(self) -> str:
        """Why the choice of pain matters, as the beginning of a sentence."""
        return (
            "People train less when it hurts"
            if self.primary == "jump"
            else f"Pain and {self.fed} can each come before the other"
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
        """Put this study's step words into a text with {step} and {steps}."""
        return text.replace("{steps}", self.steps).replace("{step}", self.step)

    def label(self, term: str) -> str:
        """An exposure's plain name in the middle of a sentence."""
        return exposure_label(term)

    def unit(self, term: str, amount: float = 1) -> str:
        """The exposure's own unit, in the plural unless the amount is 1."""
        return exposure_unit(term, amount)

    def more(self, row: EffectRow) -> str:
        """How the steps of a row's contrast are described: 'weeks trained 50 % above the usual load'."""
        return self.more_of(row.term, row.contrast, row.contrast_size)

    def more_of(self, term: str, contrast: str, size: float | None) -> str:
        """As `more`, of an exposure and a contrast by its name and its size in the effect table."""
        if term == "jump" and contrast == PER_UNIT:
            return f"{self.steps} trained one log unit (e-fold) above the usual load"
        amount, side = contrast_amount(term, contrast, size)
        if term == "jump":
            return f"{self.steps} trained {amount} {side} the usual load"
        return f"{self.steps} with {self.label(term)} {amount} {side} the person's own average"

    def short_contrast(self, row: EffectRow) -> str:
        """A contrast in a table cell or on an axis: '+50 %', '+1 point', '+1 SD'."""
        return short_contrast(row.term, row.contrast, row.contrast_size)

    def reference(self, term: str) -> str:
        """What the contrast is set against."""
        if term == "jump":
            return f"{self.steps} at the usual load"
        return f"{self.steps} at that average"

    def adjusted_for(self, row: EffectRow) -> str:
        """What is held equal in a row's comparison, in words, by the fit that it comes from."""
        pain = {
            "during": f"the same pain in that {self.step}",
            "before": f"the same pain before that {self.step}",
            "latent": f"the same pain behind the ratings of that {self.step}",
        }
        held = [pain[row.pain_adjusted]] if row.pain_adjusted in pain else []
        held += ["usual load"] if self.loaded and row.pain_adjusted != "latent" else []
        held += ["load" if t == "jump" else COMPANION.get(t, self.label(t)) for t in beside(self.findings, row)]
        return join(held)

    def pain_adjusted(self, key: str) -> str:
        """Which pain is adjusted for, in words."""
        return self.fill(PAIN_ADJUSTED.get(key, key))

    def outcome(self, key: str) -> str:
        """An outcome in words."""
        return self.fill(OUTCOME.get(key, key.replace("_", " ")))


def join(items: list[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " and " + items[-1]
