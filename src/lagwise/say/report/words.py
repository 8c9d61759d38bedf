"""The voice of one study's write-up: what words depend on of the plan, and what was recorded and fitted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from lagwise.core.numbers import people_said, plural, significant
from lagwise.core.words import LOW_TO_HIGH, listed, short_contrast
from lagwise.findings import EffectRow, Findings, FitFacts
from lagwise.say.report.fitted import beside, measure, usual_held
from lagwise.say.voice import Voice

COMPANION = {
    "jump": "usual load",
    "sleep_hours": "sleep",
    "sleep_quality": "sleep quality",
    "worry": "worry",
    "confidence": "confidence",
    "near_failure_share": "share of sets near failure",
}
STATE = {"t": "trained", "r": "rest", "u": "unknown"}


@dataclass(frozen=True, init=False)
class Words(Voice):
    """The voice of findings."""

    findings: Findings

    def __init__(self, findings: Findings) -> None:
        super().__init__(**vars(Voice.of_plan(findings.study.plan, findings.spelling)))
        object.__setattr__(self, "findings", findings)

    @property
    def drawn(self) -> dict[str, Any]:
        """What a picture of courses needs to know of what is asked about."""
        low, high = self.axis
        turn = f"{self.turn} begins, {self.by}"
        own_word = "person calls it a flare-up" if self.own_word else ""
        drawn = {"asked": self.asked, "low": low, "high": high, "unit": self.unit}
        return drawn | {"turn": turn, "own_word": own_word}

    @property
    def ends(self) -> tuple[float, float]:
        """Lower and upper end of its scale."""
        return float(self.outcome.low or 0.0), float(self.outcome.high or 0.0)

    @property
    def axis(self) -> tuple[float, float]:
        """Ends of a picture's axis: those of a rating's scale; of what is counted in hours, whole ones around
        the record.
        """
        known = [v for one in self.findings.people for v in one.pain if v is not None]
        if self.unit == "points" or not known:
            return self.ends
        low = math.floor(min(known))
        return float(low), float(low + 2 * max(1, math.ceil((max(known) - low) / 2)))

    @property
    def own_word(self) -> bool:
        """Whether people told of flare-ups in their own word, which is of pain."""
        return self.of_pain and bool(self.findings.numbers["flares_reported"].n)

    @property
    def has_load(self) -> bool:
        """Whether any training load is known, so that texts may speak of it."""
        return bool(self.findings.count("load_steps"))

    @property
    def rated(self) -> bool:
        """Whether what is asked about was rated in any step, so that texts may speak of it."""
        return self.findings.rated("steps").value != 0

    @property
    def came_before(self) -> str:
        """The title of the results: 'What came before a worse week'."""
        if not self.question.lag:
            return f"What went with {self.asked} {self.on} the same {self.step}"
        if self.outcome.worse == "neither":
            return f"What came before {' or '.join(self.question.ways)} {self.asked}"
        return f"What came before a worse {self.step}"

    @property
    def courses(self) -> str:
        """The title of the section of courses over time, which shows people or counts alone."""
        return "People, one by one" if self.findings.people else "What happened"

    @property
    def measure(self) -> str:
        """The plan's load measure: 'working sets'."""
        return measure(self.findings)

    @property
    def loaded(self) -> bool:
        """Whether the models that were made hold usual load equal."""
        return usual_held(self.findings)

    def steps_of(self, row: EffectRow) -> str:
        """How the steps of a row's contrast are described: 'weeks trained 50 % above the usual load'."""
        return self.steps_with(row.term, row.contrast, row.contrast_size)

    def short_contrast(self, row: EffectRow) -> str:
        """A contrast in a table cell or on an axis: '+50 %', '+1 point', '+1 SD'; from usual low to usual
        high as how far these are apart, '+1.3 points', where that may be told.
        """
        if row.contrast == LOW_TO_HIGH and row.contrast_size is not None:
            size = float(significant(row.contrast_size, 2))
            return f"+{significant(size, 2)} {self.unit_of(row.term, size)}".rstrip()
        return short_contrast(row.term, row.contrast, row.contrast_size, self.variables)

    def sample(self, of: EffectRow | FitFacts) -> str:
        """The denominators of a row or a fit: '38 people, 712 person-weeks'."""
        return self.sizes(of.n_people, of.n_steps)

    def sizes(self, people: int, steps: int) -> str:
        """So many people and steps: '38 people, 712 person-weeks'."""
        return f"{people_said(people)}, {plural(steps, f'person-{self.step}')}"

    def briefly(self, term: str) -> str:
        """An exposure among others that are held equal or left out: 'load', 'sleep'."""
        return "load" if term == "jump" else COMPANION.get(term, self.label(term))

    def adjusted_for(self, row: EffectRow) -> str:
        """What is held equal in a row's comparison, in words, by the fit that it comes from."""
        pain = {
            "during": f"the same {self.asked} {self.on} that {self.step}",
            "before": f"the same {self.asked} before that {self.step}",
            "latent": f"the same {self.asked} behind the ratings of that {self.step}",
        }
        held = [pain[row.pain_adjusted]] if row.pain_adjusted in pain else []
        held += ["usual load"] if self.loaded and row.pain_adjusted != "latent" else []
        return listed([*held, *map(self.briefly, beside(self.findings, row))])
