"""Priors of the Bayesian engines, in one place, and the columns of a design on the scale they speak of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

import numpy as np

from lagwise.core.variable import JUMP
from lagwise.models.design import DEFAULT as DEFAULT_OUTCOME
from lagwise.models.design import MARKS, Design, centred_on_people

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
        if column in (JUMP, "log_usual"):
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

SLOPE_OF = JUMP
"""The exposure whose slope differs between people."""


@dataclass(frozen=True)
class Standardised:
    """A design without its intercept, on the scale of the priors.

    `X` is (n, p): (column - centre) / scale. `scale` is the SD within people for columns that vary within
    people, the SD between people for the others and 1 for indicators. `prior_sd` (p,) goes with it. `slope`
    (n,) is jump / its scale, not centred, so that a person's intercept is their level at usual load; None
    without jump.
    """

    names: tuple[str, ...]
    X: np.ndarray
    centre: np.ndarray
    scale: np.ndarray
    prior_sd: np.ndarray
    slope: np.ndarray | None

    def index(self, name: str) -> int | None:
        """Position of a column, or None when it was left out."""
        return self.names.index(name) if name in self.names else None


def standardise(design: Design, priors: Priors) -> Standardised:
    """Centre and scale the columns of a design; see `Standardised`."""
    names = design.names[1:]
    raw = design.X[:, 1:]
    centre = raw.mean(axis=0)
    scale = np.array([1.0 if c in MARKS else column_scale(raw[:, i], design) for i, c in enumerate(names)])
    X = (raw - centre) / scale
    slope = raw[:, names.index(SLOPE_OF)] / scale[names.index(SLOPE_OF)] if SLOPE_OF in names else None
    held = (design.asked.name, design.asked.before)
    return Standardised(names, X, centre, scale, np.array([priors.of(c, held) for c in names]), slope)


def column_scale(values: np.ndarray, design: Design) -> float:
    """Pooled SD within people; where the column does not vary within people, the SD between their means."""
    n, m = design.n_steps, design.n_people
    within = float(np.sum(centred_on_people(values[:, None], design.person) ** 2))
    if n > m and within > 1e-12 * max(1.0, float(np.sum(values**2))):
        return float(np.sqrt(within / (n - m)))
    means = np.bincount(design.person, weights=values, minlength=m) / np.bincount(design.person, minlength=m)
    return float(means.std(ddof=1))
