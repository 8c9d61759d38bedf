"""How far ratings stray from what of them lasts, how much of it lasts, and how load answers it: by moments,
within people.

A rating is y_t = level + d_t + e_t: d, what lasts, an order-1 autoregression with carry-over phi and variance
V; e, the rating's own error, new in every step, with variance R. Load is log x_t = own level - f d_t + rest.
Half the mean squared difference of ratings k steps apart is R + V (1 - phi^k) whatever the person's level (a
variogram; Diggle et al. 2002, Analysis of Longitudinal Data, 3.4), so that neither short records nor centring
bias it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from lagwise.core.errors import ModelError
from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.models.design import centred_on_people
from lagwise.panel.arrays import people_of
from lagwise.panel.derive import shifted

LAGS = 4
"""Distances of ratings compared, at most; a third of the longest record in shorter ones."""
PHI = np.round(np.arange(0.0, 0.951, 0.025), 3)
SD = np.round(np.arange(0.05, 1.551, 0.05), 3)
"""Carry-overs and error SDs, points, that are tried."""
PRIOR_PHI = (0.4, 0.2)
PRIOR_LOG_SD = (float(np.log(0.5)), 0.5)
"""Mean and SD of the weak normal priors of the carry-over and of the log of the error SD, which keep short
records honest."""
TOLD = 0.5
"""Widest interval of the reliability that counts as told by the ratings."""
HELD = ("stress", "sleep_hours", "sleep_quality")
"""Exposures that can come before both pain and load, held equal where load's answer to pain is read off."""
LEAST_PEOPLE = 5
TAIL = (1 - INTERVAL) / 2


@dataclass(frozen=True)
class Span:
    """An estimate with its 95 % interval; limits are infinite, or everything NaN, where it is not known."""

    value: float
    low: float
    high: float

    @property
    def known(self) -> bool:
        """True when the value and both limits are finite."""
        return bool(np.isfinite([self.value, self.low, self.high]).all())


@dataclass(frozen=True)
class RatingNoise:
    """Carry-over, rating error and the answer of load to pain.

    Points are those of the outcome's own scale. `carry_over` is phi of what lasts, per step. `error_sd` is
    the SD of a step's rating around it, points, `lasting_sd` that of what lasts, within people, and
    `reliability` the share lasting_sd^2 / (lasting_sd^2 + error_sd^2). `told` is False where the
    reliability's interval is wider than `TOLD`: the values are then mostly what the weak priors say. `day_sd`
    is the SD of single ratings around their step's mean, NaN where no step holds two. `answer_as_rated` is
    log load per point of the rating of the same step, on trained steps at the same usual load, step, stress
    and sleep; `answer` the same per point of the pain that lasts, as rated over the reliability (-0.12 is
    load lower by 11 %), right where load does not move pain of its own step; `answer_by_instrument` the same
    with the rating of the step before as instrument, right also where it does.
    """

    carry_over: Span
    error_sd: Span
    lasting_sd: float
    reliability: Span
    told: bool
    day_sd: float
    answer: Span
    answer_as_rated: Span
    answer_by_instrument: Span
    n_people: int
    n_steps: int


UNKNOWN = Span(np.nan, np.nan, np.nan)


def rating_noise(panel: Panel) -> RatingNoise:
    """The moments of a panel, which is not changed.

    Carry-over and error: minimum distance to the variogram at `LAGS` distances, with the covariance of its
    values between people (shrunk towards its diagonal where people are few) and weak normal priors, on a
    grid; values are means, intervals the middle 95 of 100. The error is at least what ratings repeated within
    steps leave in their mean (`day_sd`).

    Answer: slopes within people at the same usual load, step and those of stress and sleep that the study
    asks about; intervals by Fieller's theorem over people's sums (t, people - 1 df), and for the one over the
    reliability by the delta method. With pain of the step before as instrument no error of the ratings biases
    it that is new in every step (what person means carry of it, error variance (n - 1) / n a person, is put
    back), but load planned in cycles that move pain weeks later does: in the synthetic clinic -0.03 at a true
    0 and -0.17 at -0.12, against -0.01 and -0.13 over the reliability. Limits are infinite where pain before
    says too little about pain of the step.

    Raises
    ------
    ModelError
        When fewer than 5 people have ratings of steps that follow each other.
    """
    frame, asked = panel.frame, panel.study.outcome
    scale = asked.scale
    person = people_of(frame)[1]
    sums, pairs = variogram(_detrended(frame, asked.name, person) / scale, person)
    told = pairs.sum(axis=1) > 0
    if told.sum() < LEAST_PEOPLE:
        raise ModelError(
            f"{told.sum()} people have ratings of steps that follow each other, too few to tell their error "
            "from ups and downs"
        )
    day, floor = within_steps(panel)
    phi, error, reliability, lasting = fitted(sums[told], pairs[told], floor / scale**2)
    error, lasting = Span(scale * error.value, scale * error.low, scale * error.high), scale * lasting
    instrument, as_rated = answers(panel, person, error.value**2)
    return RatingNoise(
        carry_over=phi, error_sd=error, lasting_sd=lasting, reliability=reliability,
        told=reliability.high - reliability.low <= TOLD, day_sd=day, answer=_over(as_rated, reliability),
        answer_as_rated=as_rated, answer_by_instrument=instrument, n_people=int(told.sum()),
        n_steps=int(frame[asked.name].notna().sum()),
    )  # fmt: skip


def variogram(pain: np.ndarray, person: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Per person and distance (m, K): sum of half the squared differences of ratings, and their number."""
    longest, m = int(np.bincount(person).max()), int(person.max()) + 1
    sums, pairs = [], []
    for k in range(1, max(3, min(LAGS, longest // 3)) + 1):
        half = (pain - shifted(pain, person, k)) ** 2 / 2
        known = np.isfinite(half)
        sums.append(np.bincount(person[known], weights=half[known], minlength=m))
        pairs.append(np.bincount(person[known], minlength=m))
    return np.stack(sums, axis=1), np.stack(pairs, axis=1).astype(float)


def fitted(sums: np.ndarray, pairs: np.ndarray, floor: float) -> tuple[Span, Span, Span, float]:
    """Carry-over, error SD, reliability and the SD of what lasts from the variogram of m people; `floor` is
    the least error variance."""
    m, total = len(sums), pairs.sum(axis=0)
    used = total > 0
    sums, pairs, total = sums[:, used], pairs[:, used], total[used]
    g = sums.sum(axis=0) / total
    u = sums - g * pairs
    # Values of neighbouring distances share most of their error; what is shrunk towards its diagonal is the
    # covariance of the first and of the differences.
    steps = np.eye(len(g)) - np.eye(len(g), k=-1)
    covariance = steps @ (u.T @ u * m / (m - 1) / np.outer(total, total)) @ steps.T
    shrink = min(1.0, len(g) / m)
    diagonal = np.diag(np.maximum(np.diag(covariance), 1e-9 * max(1.0, float((g**2).max()))))
    W = steps.T @ np.linalg.inv((1 - shrink) * covariance + shrink * diagonal) @ steps
    shape = 1 - PHI[:, None] ** (np.flatnonzero(used) + 1)
    rest = g - SD[:, None] ** 2
    V = np.maximum((shape @ W @ rest.T) / np.einsum("pk,kl,pl->p", shape, W, shape)[:, None], 1e-6)
    off = rest[None] - V[:, :, None] * shape[:, None]
    distance = np.einsum("psk,kl,psl->ps", off, W, off)
    distance += ((PHI[:, None] - PRIOR_PHI[0]) / PRIOR_PHI[1]) ** 2
    distance += ((np.log(SD) - PRIOR_LOG_SD[0]) / PRIOR_LOG_SD[1]) ** 2 + 2 * np.log(SD)
    possible = min(np.sqrt(floor), SD[-1]) - 1e-9 <= SD
    weight = np.where(possible, np.exp(-(distance - distance[:, possible].min()) / 2), 0.0)
    weight /= weight.sum()
    reliability = V / (V + SD**2)
    every = (np.broadcast_to(PHI[:, None], V.shape), np.broadcast_to(SD, V.shape), reliability)
    phi, error, share = (_middle(values, weight) for values in every)
    return phi, error, share, float(np.sqrt((weight * V).sum()))


def _middle(values: np.ndarray, weight: np.ndarray) -> Span:
    order = np.argsort(values, axis=None)
    ordered, up_to = values.ravel()[order], np.cumsum(weight.ravel()[order])
    low, high = (
        float(ordered[min(len(ordered) - 1, int(np.searchsorted(up_to, q)))]) for q in (TAIL, 1 - TAIL)
    )
    return Span(float((values * weight).sum()), low, high)


def within_steps(panel: Panel) -> tuple[float, float]:
    """SD of single ratings around their step's mean, NaN without repeated ratings, and the mean over rated
    steps of the error variance that this leaves in the summary.

    Only the mean, the last rating and the number n are kept of a step, and of pain alone; of any other
    outcome nothing is told (NaN, 0): E (last - mean)^2 = s^2 (1 - 1 / n). The summary 'mean' keeps s^2 / n of
    it; 'last' all; 'worst' is left at the mean's.
    """
    blocks, name = panel.blocks, panel.study.outcome.name
    if f"{name}_last" not in blocks:
        return np.nan, 0.0
    n = blocks["n_ratings"].to_numpy(dtype=float)
    off = blocks[f"{name}_last"].to_numpy(dtype=float) - blocks[f"{name}_mean"].to_numpy(dtype=float)
    more = (n >= 2) & np.isfinite(off)
    if not more.any():
        return np.nan, 0.0
    n, rated = n[more], int((n >= 1).sum())
    variance = float(np.sum(off[more] ** 2)) / float(np.sum(1 - 1 / n))
    kept = np.full(len(n), variance) if panel.study.pain.summary == "last" else variance / n
    return float(np.sqrt(variance)), float(kept.sum()) / rated


def _over(slope: Span, share: Span) -> Span:
    """A slope over a share, interval by the delta method with independent errors."""
    if not slope.known:
        return UNKNOWN
    value = slope.value / share.value
    reach = np.hypot((slope.high - slope.low) / 2, value * (share.high - share.low) / 2) / share.value
    return Span(value, float(value - reach), float(value + reach))


def answers(panel: Panel, person: np.ndarray, error: float) -> tuple[Span, Span]:
    """Log load per point of pain by the rating before as instrument, and per point of the step's rating; the
    error variance is `error`."""
    frame = panel.frame
    asked = [term for term in HELD if term in panel.study.analysis.exposures and frame[term].notna().any()]
    held = [f"{term}_within" for term in asked]
    load = np.log(frame["load"].where(frame["load"] > 0)).to_numpy(dtype=float)
    pain = frame[panel.study.outcome.name].to_numpy(dtype=float)
    data = np.column_stack(
        [frame[["log_usual", "step", *held]].to_numpy(dtype=float), load, pain, shifted(pain, person, 1)]
    )
    known = np.isfinite(data).all(axis=1)
    if not known.any():
        return UNKNOWN, UNKNOWN
    data, code = data[known], np.unique(person[known], return_inverse=True)[1]
    counts = np.bincount(code)
    if len(counts) < LEAST_PEOPLE or len(code) < len(counts) + data.shape[1]:
        return UNKNOWN, UNKNOWN
    data = centred_on_people(data, code)
    x, y, z = (data[:, -3:] - data[:, :-3] @ np.linalg.lstsq(data[:, :-3], data[:, -3:], rcond=1e-10)[0]).T
    xz, yz, xy, yy = (np.bincount(code, weights=a * b) for a, b in ((x, z), (y, z), (x, y), (y, y)))
    return fieller(xz, yz + error * (counts - 1) / counts), fieller(xy, yy)


def fieller(above: np.ndarray, below: np.ndarray) -> Span:
    """Ratio of two sums over m people, with Fieller's interval (t, m - 1 df); infinite limits where the sum
    below may be 0.

    Limits are the values r at which sum(above - r below) over its standard error equals the quantile of t.
    """
    m, a, b = len(above), float(above.sum()), float(below.sum())
    if b == 0:
        return UNKNOWN
    quantile = float(stdtrit(m - 1, 1 - TAIL)) ** 2 * m
    aa, ab, bb = (
        quantile * float(v)
        for v in (np.var(above, ddof=1), np.cov(above, below)[0, 1], np.var(below, ddof=1))
    )
    square, middle, rest = b**2 - bb, a * b - ab, a**2 - aa
    if square <= 0:
        return Span(a / b, -np.inf, np.inf)
    reach = np.sqrt(max(0.0, middle**2 - square * rest))
    return Span(a / b, float((middle - reach) / square), float((middle + reach) / square))


def _detrended(frame: pd.DataFrame, name: str, person: np.ndarray) -> np.ndarray:
    """A rating less the trend over steps that people have in common."""
    pain, step = frame[name].to_numpy(dtype=float), frame["step"].to_numpy(dtype=float)
    known = np.isfinite(pain)
    if not known.any():
        return pain
    code = np.unique(person[known], return_inverse=True)[1]
    y, x = np.ascontiguousarray(centred_on_people(np.column_stack([pain, step])[known], code).T)
    return pain - (float(x @ y) / float(x @ x) if x.any() else 0.0) * step
