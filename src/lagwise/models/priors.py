"""Priors of the Bayesian engines, in one place and on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

from lagwise.models.design import DEFAULT as DEFAULT_OUTCOME

HELD = (DEFAULT_OUTCOME.name, DEFAULT_OUTCOME.before)
"""Names of the outcome that is held equal where a plan asks for nothing else."""


@dataclass(frozen=True)
class Priors:
    """Standard deviations of the priors, on the log-odds scale of the ordinal model.

    Every coefficient is normal around 0 per standard deviation of its column: the within-person SD for jump,
    usual load, within parts and the step index; the SD between people for between parts; the indicators
    `rested` and `restarted` stay 0/1.

    Attributes
    ----------
    load : jump and usual load. 0.35 says that an odds ratio above 2 per within-person SD is unlikely (5 %).
    factor : within parts of effort, stress, sleep, worry and the other rated exposures
    between : between parts of the same
    pain_within, pain_between : parts of the adjusted-for outcome, which is expected to predict the next one
        strongly
    other : rested, restarted and the step index
    intercept_sd : scale of the half-normal prior of the SD of person intercepts
    slope_sd : scale of the half-normal prior of the SD of person slopes of jump, per within-person SD of jump
    cutpoints : scale of the logistic distribution whose order statistics are the cutpoints. It is proper, so
        that a category nobody used keeps a place between its neighbours.
    """

    load: float = 0.35
    factor: float = 0.5
    between: float = 1.0
    pain_within: float = 1.0
    pain_between: float = 2.5
    other: float = 0.5
    intercept_sd: float = 1.5
    slope_sd: float = 0.35
    cutpoints: float = 3.0

    def of(self, column: str, held: Sequence[str] = HELD) -> float:
        """Prior SD of the standardised coefficient of a design column; `held` names the outcome that is held
        equal."""
        base, _, part = column.rpartition("_")
        if column in ("jump", "log_usual"):
            return self.load
        if base in held:
            return self.pain_between if part == "between" else self.pain_within
        if part in ("within", "between"):
            return self.between if part == "between" else self.factor
        return self.other

    def scaled(self, factor: float) -> Priors:
        """The same priors with every coefficient's and scale's width multiplied by `factor`; cutpoints
        stay."""
        return replace(self, **{k: v * factor for k, v in asdict(self).items() if k != "cutpoints"})


DEFAULT = Priors()
"""The priors used unless others are given."""
