"""The restricted likelihood of the joint model and its weak priors, at given variances."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from lagwise.models.rated_data import ROWS, RatedData
from lagwise.models.rated_filter import sums
from lagwise.models.rated_slope import slopes

SHARE, HALFWAY = 0.5, 0.2
"""SD of k around f / 2."""
NAMES = (
    "phi", "log_q", "log_tau", "log_sway", "log_slope", "log_sv", "f", "g", "log_sw", "k", "rho", "miss",
    "miss_heavy",
)  # fmt: skip
"""Free parameters, in the order of `rated_filter.PSI`: SDs as logs, carry-over and answers as they are."""
LOGS, REACH = [1, 2, 3, 4, 5, 8], (-9.0, 4.0)
"""Those that are logs of SDs, and how far these reach."""
CENTRE = np.array(
    [0.4, np.log(0.8), 0.0, np.log(0.3), np.log(0.3), np.log(0.3), 0.0, 0.0, np.log(0.3), 0.0, 0.5, 0.0, 0.0]
)
SPREAD = np.array([0.25, 1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.3, 1.0, np.inf, 0.5, 0.1, 1.0])
"""Weak normal priors; that of log_sw is widened here, as the step's whole error has the one below."""
ERROR = (float(np.log(0.5)), 0.5)
"""Mean and SD of the log SD of a step's whole rating error, days included."""
NOTHING = np.empty((0, 2, 1))
THREADED = 8_000
"""Person-steps from which two threads share the people; the numbers do not depend on it."""
EDGE = 0.97


@dataclass(frozen=True)
class Point:
    """The model at one value of the free parameters: deviance, coefficients theta and their covariance."""

    deviance: float
    theta: np.ndarray
    cov: np.ndarray


def psi_of(free: np.ndarray) -> np.ndarray:
    """Free parameters -> `rated_filter.PSI`."""
    out = np.array(free, dtype=float)
    out[LOGS] = np.exp(2 * np.clip(out[LOGS], *REACH))
    return out


def penalty(free: np.ndarray, days: float) -> float:
    """-2 log of the weak priors; `days` is the mean error variance that the days leave."""
    off = (free - CENTRE) / SPREAD
    whole = 0.5 * np.log(np.exp(2 * free[8]) + days)
    return float(
        off @ off + ((whole - ERROR[0]) / ERROR[1]) ** 2 + ((free[9] - SHARE * free[6]) / HALFWAY) ** 2
    )


def penalty_slopes(free: np.ndarray, days: float) -> np.ndarray:
    """(13,) slopes of `penalty`."""
    out, passing = 2 * (free - CENTRE) / SPREAD**2, np.exp(2 * free[8])
    out[8] += (np.log(passing + days) - 2 * ERROR[0]) / ERROR[1] ** 2 * passing / (passing + days)
    apart = 2 * (free[9] - SHARE * free[6]) / HALFWAY**2
    out[9] += apart
    out[6] -= SHARE * apart
    return out


def filtered(d: RatedData, free: np.ndarray, out: np.ndarray, logs: np.ndarray, kept: np.ndarray) -> None:
    """`rated_filter.sums` of a data set at free parameters; `out`, `logs` and `kept` are overwritten."""
    if len(kept):
        sums(d.start, *(getattr(d, name) for name in ROWS), d.gone_noise, psi_of(free), out, logs, kept)
    else:
        _by_person(sums, d, free, (), (out, logs), (kept,))


def _by_person(
    each: Any,
    d: RatedData,
    free: np.ndarray,
    given: tuple[np.ndarray, ...],
    out: tuple[np.ndarray, ...],
    after: tuple[np.ndarray, ...] = (),
) -> None:
    """Call a compiled function over all people, `out` with one entry a person; two threads share large
    records."""
    told, m = (*(getattr(d, name) for name in ROWS), d.gone_noise, psi_of(free), *given), len(d.people)

    def over(first: int, last: int) -> None:
        each(d.start[first : last + 1], *told, *(values[first:last] for values in out), *after)

    if len(d.y) < THREADED:
        over(0, m)
        return
    with ThreadPoolExecutor(2) as both:
        list(both.map(over, (0, m // 2), (m // 2, m)))


class Likelihood:
    """Penalised restricted deviance of one data set."""

    def __init__(self, data: RatedData) -> None:
        p = 1 + len(data.of_rating) + len(data.of_load) + len(data.of_pain) + data.G.shape[1]
        m = len(data.people)
        self.data, self.evaluations = data, 0
        self._sums, self._logs = np.empty((m, p, p)), np.empty(m)
        rated = ~np.isnan(data.y)
        self.days = float(data.noise[rated].mean())

    def point(self, free: np.ndarray) -> Point:
        """Deviance, coefficients and their covariance.

        Raises
        ------
        numpy.linalg.LinAlgError
            Where the columns cannot be told apart at these variances.
        """
        self.evaluations += 1
        filtered(self.data, free, self._sums, self._logs, NOTHING)
        total = self._sums.sum(axis=0)
        total = np.tril(total) + np.tril(total, -1).T
        S, c = total[1:, 1:], total[1:, 0]
        L = np.linalg.cholesky(S)
        inverse = np.linalg.inv(L)
        half = inverse @ c
        deviance = (
            self._logs.sum()
            + 2 * np.log(np.diag(L)).sum()
            + total[0, 0]
            - half @ half
            + penalty(free, self.days)
        )
        return Point(float(deviance), inverse.T @ half, inverse.T @ inverse)

    def slope(self, free: np.ndarray, at: Point) -> np.ndarray:
        """(13,) slope of the deviance along the free parameters at the point there."""
        whole = np.append(1.0, -at.theta)
        M = np.outer(whole, whole)
        M[1:, 1:] += at.cov
        return self._along(free, M).sum(axis=0) + penalty_slopes(free, self.days)

    def scores(self, free: np.ndarray, theta: np.ndarray) -> np.ndarray:
        """(m, 13) slopes of the people's log likelihoods along the free parameters, at coefficients theta."""
        whole = np.append(1.0, -theta)
        return -self._along(free, np.outer(whole, whole)) / 2

    def _along(self, free: np.ndarray, M: np.ndarray) -> np.ndarray:
        out = np.empty((len(self.data.people), len(free)))
        _by_person(slopes, self.data, free, (M,), (out,))
        inside = (free[LOGS] > REACH[0]) & (free[LOGS] < REACH[1])
        out[:, LOGS] *= np.where(inside, 2 * psi_of(free)[LOGS], 0.0)
        return out

    def people(self, theta: np.ndarray) -> np.ndarray:
        """(m,) deviances of the people at coefficients theta and the variances of the point last asked
        for."""
        whole = np.append(1.0, -theta)
        return (
            self._logs
            + 2 * np.einsum("ijk,j,k->i", np.tril(self._sums), whole, whole)
            - np.einsum("ijj,j->i", self._sums, whole**2)
        )

    def slopes(self, theta: np.ndarray) -> np.ndarray:
        """(m, p) slopes of the people's log likelihoods along theta, at the variances of the point last asked
        for."""
        lower = np.tril(self._sums[:, 1:, 1:])
        return (
            self._sums[:, 1:, 0]
            - lower @ theta
            - np.einsum("ijk,j->ik", np.tril(self._sums[:, 1:, 1:], -1), theta)
        )

    def __call__(self, free: np.ndarray) -> float:
        """The deviance, huge where the point is not possible."""
        if abs(free[0]) >= EDGE:
            return 1e12
        try:
            return self.point(free).deviance
        except np.linalg.LinAlgError:
            return 1e12


def start_of(data: RatedData) -> np.ndarray:
    """Rough values from the spread of ratings and loads within and between people."""
    free = CENTRE.copy()
    person = np.repeat(np.arange(len(data.people)), np.diff(data.start))
    rated = ~np.isnan(data.y)
    n = np.bincount(person[rated], minlength=len(data.people))
    means = np.bincount(person[rated], weights=data.y[rated], minlength=len(n)) / np.maximum(n, 1)
    within = float(np.mean((data.y[rated] - means[person[rated]]) ** 2))
    free[1] = 0.5 * np.log(max(0.5 * within, 0.01))
    free[2] = np.log(max(float(means.std()), 0.1))
    free[5] = np.log(max(float(data.moved[data.moved != 0].std()), 0.02))
    free[8] = 0.5 * np.log(max(0.2 * within, 0.01))
    free[6], free[9] = 0.1, 0.05
    return free
