"""Priors of the Bayesian engines, in one place, and the columns of a design on the scale they speak of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace

import numpy as np
import pandas as pd
from scipy.special import ndtri

from lagwise.core.study import INTERVAL
from lagwise.core.variable import JUMP
from lagwise.core.words import slope_unit
from lagwise.models.design import DEFAULT as PLAN
from lagwise.models.design import MARKS, Design, centred_on_people

HELD = (PLAN.outcome.name, PLAN.outcome.before)
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
        return float(getattr(self, prior_of(column, held)))

    def scaled(self, factor: float) -> Priors:
        """The same priors with every coefficient's and scale's width multiplied by `factor`; cutpoints
        stay."""
        return replace(self, **{k: v * factor for k, v in asdict(self).items() if k != "cutpoints"})


def prior_of(column: str, held: Sequence[str] = HELD) -> str:
    """Which of `Priors` a design column has."""
    base, _, part = column.rpartition("_")
    if column in (JUMP, "log_usual"):
        return "load"
    if base in held:
        return f"pain_{part}"
    return {"within": "factor", "between": "between"}.get(part, "other")


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


PER_STEP, PER_PERSON, PER_BOTH = "SD", "people", "people x SD"


def prior_table(design: Design, columns: Standardised, priors: Priors, unit: float = 0.0) -> pd.DataFrame:
    """The priors as what they leave room for: 95 of 100 by the prior alone, on a scale that readers know.

    Parameters
    ----------
    unit : points of the outcome in one log-odds unit, of a model in points; 0 of one whose coefficients are
        log odds

    Returns
    -------
    DataFrame
        prior (an attribute of `Priors`), per (what it is for: one SD of a column, of people, or twice the
        load), sd (the prior's own, log-odds or points; of spreads the scale of the half-normal), scale
        ('odds_ratio' of a higher rating or 'points'), low, high.
    """
    held = (design.asked.name, design.asked.before)
    named = {prior_of(c, held) for c in columns.names}
    rows = [(f.name, PER_STEP, getattr(priors, f.name)) for f in fields(priors) if f.name in named]
    if JUMP in columns.names:
        size, twice = slope_unit(JUMP)
        sd = priors.load * size / columns.scale[columns.names.index(JUMP)]
        rows.insert(1, ("load", twice.removeprefix("for "), sd))
    rows.append(("intercept_sd", PER_PERSON, priors.intercept_sd))
    rows += [("slope_sd", PER_BOTH, priors.slope_sd)] if columns.slope is not None else []
    table = pd.DataFrame(rows, columns=["prior", "per", "sd"]).assign(
        scale="points" if unit else "odds_ratio"
    )
    table["sd"] *= unit or 1.0
    far = ndtri(0.5 + INTERVAL / 2) * table["sd"]
    near = far.where(table["prior"].isin(["intercept_sd", "slope_sd"]), 0.0)
    ends = table.assign(low=near - far, high=far)
    return ends if unit else ends.assign(**{end: np.exp(ends[end]) for end in ("low", "high")})


def prior_of_contrast(label: str, draws: np.ndarray) -> dict[str, object]:
    """The row of `prior_table` for a contrast in points, from draws of the priors alone, which lie evenly
    around 0."""
    far = float(np.quantile(np.abs(draws), INTERVAL))
    own = {"prior": "difference", "per": label, "sd": float(draws.std()), "scale": "points"}
    return own | {"low": -far, "high": far}
