"""For whom and of what a text speaks: the step's name, the outcome, the exposures with their units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lagwise.core.claim import Claim
from lagwise.core.study import AnalysisPlan, RatingPlan, Study
from lagwise.core.variable import Variable, with_ratings
from lagwise.core.words import capital, step_name, steps_against, steps_with


@dataclass(frozen=True)
class Voice:
    """What words depend on beside the claim: what a step is called, what is asked about, and what variables
    are called.

    `primary` is the exposure asked about. Numbers that may not be shown are not in the claim that is said, so
    that a voice needs no list of them.
    """

    step: str
    outcome: Variable
    primary: Variable
    variables: Mapping[str, Variable]

    @classmethod
    def of(cls, study: Study) -> Voice:
        """The voice of a study."""
        asked = study.analysis
        return cls(
            study.step, study.variables[asked.outcome], study.variables[asked.primary], study.variables
        )

    @classmethod
    def of_plan(cls, plan: Mapping[str, Any]) -> Voice:
        """The voice of a plan as plain values, as findings hold it."""
        asked, known = (
            plan["analysis"],
            with_ratings({k: RatingPlan(**v) for k, v in plan.get("ratings", {}).items()}),
        )
        step = step_name(int(plan["clock"]["step_days"]))
        return cls(step, known[asked.get("outcome", AnalysisPlan.outcome)], known[asked["primary"]], known)

    @property
    def unit(self) -> str:
        """Unit of the outcome in the plural: 'points'."""
        return f"{self.outcome.unit}s"

    def tenth(self, one: str = "") -> str:
        """A tenth of the outcome's scale: 'point' ('one point') of 0-10, '10 points' of 0-100."""
        size = self.outcome.width / 10
        return f"{one}{self.outcome.unit}" if size == 1 else f"{size:g} {self.unit}"

    @property
    def exposure(self) -> str:
        """The exposure asked about in the middle of a sentence: 'load', 'stress'."""
        return called(self.primary)

    def fill(self, text: str) -> str:
        """A text with {step}, {steps}, {exposure} and {outcome} ({Outcome} at its beginning) and {amount}
        filled in."""
        what = self.outcome.label
        named = {
            "steps": f"{self.step}s",
            "step": self.step,
            "exposure": self.exposure,
            "outcome": what,
            "amount": self.tenth(),
            "Outcome": capital(what),
        }
        for name, word in named.items():
            text = text.replace(f"{{{name}}}", word)
        return text

    def more(self, claim: Claim) -> str:
        """How the steps of the primary contrast are described: 'weeks trained 50 % above the usual load'."""
        return steps_with(self.step, claim["term"], claim["contrast"], claim["size"].value, self.variables)

    def difference(self, claim: Claim) -> str:
        """An axis of differences in the outcome for the primary contrast."""
        return f"difference in {self.outcome.label}, {self.unit}, per {claim['contrast']}"

    def reference(self, claim: Claim) -> str:
        """What the primary contrast is set against: 'weeks at the usual load'."""
        return steps_against(self.step, claim["term"], self.variables)


def called(variable: Variable) -> str:
    """A variable in the middle of a sentence; load where it is load against the person's own usual."""
    return "load" if variable.whole else variable.label
