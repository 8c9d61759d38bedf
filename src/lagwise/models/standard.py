"""Design columns on the scale of the priors: centred, and in standard deviations within or between people."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lagwise.models.design import Design
from lagwise.models.priors import Priors

INDICATORS = ("rested", "restarted")
SLOPE_OF = "jump"
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
    scale = np.array(
        [1.0 if c in INDICATORS else column_scale(raw[:, i], design) for i, c in enumerate(names)]
    )
    X = (raw - centre) / scale
    slope = raw[:, names.index(SLOPE_OF)] / scale[names.index(SLOPE_OF)] if SLOPE_OF in names else None
    held = (design.asked.name, design.asked.before)
    return Standardised(names, X, centre, scale, np.array([priors.of(c, held) for c in names]), slope)


def column_scale(values: np.ndarray, design: Design) -> float:
    """Pooled SD within people; where the column does not vary within people, the SD between their means."""
    n, m = design.n_steps, design.n_people
    count = np.bincount(design.person, minlength=m)
    means = np.bincount(design.person, weights=values, minlength=m) / count
    within = float(np.sum((values - means[design.person]) ** 2))
    if n > m and within > 1e-12 * max(1.0, float(np.sum(values**2))):
        return float(np.sqrt(within / (n - m)))
    return float(means.std(ddof=1))
