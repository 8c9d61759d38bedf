"""Error in effort ratings: what the estimate would be had they been free of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lagwise.challenges.context import Context, Found, intervals
from lagwise.challenges.estimate import middle, side
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.models.design import Design, centred_on_people

NAME = "measurement"
SD = 1 / 1.96
"""Error SD of a session's effort rating, points: 95 of 100 ratings within a point of the truth."""
SDS = (0.0, 0.25, SD, 0.75)
LEAST = 0.2
"""Share of effort's own spread (within people, beside the other columns) that must be left after taking the
error off.
"""


@dataclass(frozen=True)
class Pieces:
    """Person-centred cross-products by person: X'X (m, k, k), X'y (m, k), and the sum by which the error
    variance of one rating enters, (m,).
    """

    xx: np.ndarray
    xy: np.ndarray
    weight: np.ndarray
    names: tuple[str, ...]


def run(context: Context) -> Found:
    """Least squares within people with the error variance s^2 taken off effort's cross-product, b = (X'X - n
    s^2 E)^-1 X'y (Fuller 1987), for s = 0, 0.25, 0.51 (95 of 100 ratings within a point of the truth) and
    0.75 points a session; a {step}'s mean of n sessions has s / sqrt(n). Intervals from resampling people,
    `draws` times.

    Verdict, at s = 0.51: holds when the interval lies on the same side of 0, or includes 0, as without error;
    does_not_hold when not. cannot_tell when less than a fifth of effort's own spread (within people, beside
    the other columns) would be left after taking the error off.
    """
    p, design, unit = context.primary, context.design, context.unit
    if "effort_within" not in design.names:
        raise NotApplicable("effort is not in the model")
    parts = pieces(design)
    if p.column not in parts.names or "effort_within" not in parts.names:
        raise ModelError("effort or the primary exposure does not vary within people")
    at = parts.names.index("effort_within")
    spread = float(1 / np.linalg.inv(parts.xx.sum(axis=0))[at, at] / parts.weight.sum())
    people = context.resampled(NAME, design.n_people)
    at_sd, left_at = {}, {}
    for sd in SDS:
        left = 1 - sd**2 / spread
        if left >= LEAST:
            every = np.concatenate([np.ones((1, design.n_people)), people])
            point, *resampled = p.size * corrected(parts, sd, every, p.column)
            at_sd[f"at_{sd:.2f}"] = Measured(float(point), unit, *middle(np.array(resampled)), of=(sd,))
            left_at[f"left_{sd:.2f}"] = Measured(left, "share", told=False)
    plain, assumed = at_sd["at_0.00"], at_sd.get(f"at_{SD:.2f}")
    was, verdict = side(plain.low, plain.high), "cannot_tell"
    if assumed is not None:
        verdict = "holds" if side(assumed.low, assumed.high) == was else "does_not_hold"
    primary, reliability = (
        context.measured(p.answer, told=False),
        Measured(max(0.0, 1 - SD**2 / spread), "share"),
    )
    claim = context.claim(NAME, verdict, "", primary=primary, **at_sd, reliability=reliability, **left_at)
    return Found(claim, intervals(claim, *at_sd))


def pieces(design: Design) -> Pieces:
    """Person-centred cross-products of the columns that vary within people; error enters on trained steps
    only.
    """
    counts = np.bincount(design.person)
    both = np.column_stack([design.X[:, 1:], design.y])
    data = centred_on_people(both, design.person)
    spread, size = ((v * v).sum(axis=0)[:-1] for v in (data, both))
    keep = np.flatnonzero(spread > 1e-9 * np.maximum(1e-300, size))
    x, y = data[:, keep], data[:, -1]
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    rated = design.frame["rested"].ne(1).to_numpy().astype(float)
    sessions = np.maximum(design.frame["n_sessions"].to_numpy(dtype=float), 1)
    weight = np.bincount(design.person, weights=rated / sessions) * (1 - 1 / counts)
    return Pieces(
        np.add.reduceat(x[:, :, None] * x[:, None, :], starts),
        np.add.reduceat(x * y[:, None], starts),
        weight,
        tuple(design.names[1:][i] for i in keep),
    )


def corrected(parts: Pieces, sd: float, people: np.ndarray, column: str) -> np.ndarray:
    """(B,) coefficients of `column` for B sets of person weights, the error variance sd^2 taken off effort's
    square.
    """
    xx = np.tensordot(people, parts.xx, axes=1)
    xy = people @ parts.xy
    at = parts.names.index("effort_within")
    xx[:, at, at] -= sd**2 * (people @ parts.weight)
    values = np.linalg.eigvalsh(xx)
    good = values[:, 0] > 1e-10 * values[:, -1]
    out = np.full(len(people), np.nan)
    out[good] = np.linalg.solve(xx[good], xy[good][:, :, None])[:, parts.names.index(column), 0]
    return out
