"""The question as a value: which outcome at which lag, by which margins, and what each row of the effect
table estimates.
"""

from __future__ import annotations

from dataclasses import dataclass

from lagwise.core.errors import no_such
from lagwise.core.numbers import size
from lagwise.core.variable import Variable
from lagwise.core.words import ways

IMPORTANT, ZERO, RISE = 0.10, 0.05, 0.20
"""Margins as shares of the outcome's range where a plan names none: important change, practically zero, rise
of a flare-up.
"""


@dataclass(frozen=True)
class Outcome:
    """What is asked about: a rating, `lag` steps after the exposures (1 the next step, 0 the same), and its
    margins on its own scale.

    `important` is the smallest average difference that matters, `zero` the range called practically zero
    either way, `rise` the rise above a person's own earlier usual that counts as a flare-up.
    """

    variable: Variable
    lag: int = 1
    important: float = 1.0
    zero: float = 0.5
    rise: float = 2.0

    @property
    def name(self) -> str:
        """Panel column of the rating in a step."""
        return self.variable.name

    @property
    def column(self) -> str:
        """Panel column that models explain."""
        return f"{self.name}_next" if self.lag else self.name

    @property
    def before(self) -> str:
        """Panel column of the last rating before a step's first session."""
        return f"{self.name}_before"

    @property
    def span(self) -> str:
        """Ends of its scale: '0-10'."""
        return self.variable.span

    @property
    def later(self) -> str:
        """Panel column of the rating in the next step."""
        return f"{self.name}_next"

    @property
    def usual(self) -> str:
        """Panel column of a person's own usual over earlier steps."""
        return f"usual_{self.name}"

    @property
    def ways(self) -> tuple[str, str]:
        """Which way it can differ: higher or lower, of hours longer or shorter."""
        return ways(f"{self.variable.unit}s")

    def amount(self, value: float) -> str:
        """A planned amount of it, without its sign: '1 point', '0.5 points', '2 hours'."""
        return f"{size(value)} {self.variable.unit}{'' if abs(value) == 1 else 's'}"

    @property
    def scale(self) -> float:
        """Size of its range next to 0-10 (1 of hours, 10 of 0-100), with which weak priors grow."""
        return self.variable.tenth


def held_column(outcome: Outcome, adjustment: str) -> str:
    """Panel column of the earlier outcome that an adjustment holds equal: 'before' (A), 'during' (B), '' for
    'none'. Raises ModelError for any other.
    """
    columns = {"before": outcome.before, "during": outcome.name, "none": "", "latent": ""}
    if adjustment not in columns:
        raise no_such(adjustment, f"{outcome.variable.label} adjustment", columns)
    return columns[adjustment]
