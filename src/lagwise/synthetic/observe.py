"""From what happened to what was recorded: day ratings, heaping, missed check-ins, gaps, drop-out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lagwise.synthetic.process import Weeks
from lagwise.synthetic.spec import Spec

DAYS = 7
_ON = np.array([[1, 1, 1, 1, 1, 1, 1], [1, 0, 1, 0, 0, 1, 0], [0, 0, 0, 0, 0, 0, 1]], dtype=bool)


@dataclass(frozen=True)
class Records:
    """What was written down. `made` (n, T, 7) check-ins made; ratings (n, T, 7), meaningful where made.

    `pain`, `stress`, `worry`, `confidence`, `sleep_quality` are whole 0-10, `sleep_hours` half hours, `flare`
    bool. `logged` (n, T) sessions (or rest) were written down; `present` (n, T) the person was still there;
    `pattern` (n,) 0 daily, 1 some days, 2 weekly on the last day.
    """

    made: np.ndarray
    pain: np.ndarray
    stress: np.ndarray
    sleep_hours: np.ndarray
    sleep_quality: np.ndarray
    worry: np.ndarray
    confidence: np.ndarray
    flare: np.ndarray
    logged: np.ndarray
    present: np.ndarray
    pattern: np.ndarray

    @property
    def due(self) -> np.ndarray:
        """(n, 7) days on which each person means to check in."""
        return _ON[self.pattern]


@dataclass(frozen=True)
class DayNoise:
    """The chance part of ratings of pain, (n, T, 7): deviation in points and a uniform for heaping."""

    deviation: np.ndarray
    uniform: np.ndarray


def day_noise(spec: Spec, rng: np.random.Generator, pattern: np.ndarray) -> DayNoise:
    """The chance part of ratings for people of these patterns; one rating of a whole week strays less."""
    shape = (len(pattern), spec.n_steps, DAYS)
    sd = np.where(pattern == 2, spec.week_sd, spec.day_sd)[:, None, None]
    return DayNoise(sd * rng.normal(0, 1, shape), rng.random(shape))


def rate_pain(pain: np.ndarray, noise: DayNoise, heaping: float) -> np.ndarray:
    """(n, T, 7) whole 0-10 ratings of weekly pain (n, T): day deviation, floor and ceiling, heaping at 0, 5
    and 10.
    """
    whole = _whole(pain[:, :, None] + noise.deviation)
    anchor = 5.0 * np.rint(whole / 5)
    heaped = (np.abs(whole - anchor) == 1) & (noise.uniform < heaping)
    return np.where(heaped, anchor, whole)


def observe(weeks: Weeks, spec: Spec, rng: np.random.Generator) -> Records:
    """Records of these weeks under the spec's chances of missing, heaping and drop-out."""
    n, T = weeks.pain.shape
    ache = weeks.pain - weeks.level[:, None]
    pattern = np.asarray(np.digitize(rng.random(n), np.cumsum(spec.patterns)[:2]))
    pain = rate_pain(weeks.pain, day_noise(spec, rng, pattern), spec.heaping)
    missed = rng.random((n, T, DAYS)) < _chance(spec.missing, spec.missing_of_pain * ache)[:, :, None]
    leaves = rng.random((n, T)) < _chance(spec.dropout, spec.dropout_of_pain * ache)
    leaves[:, :6] = False
    present = np.cumsum(leaves, axis=1) == 0
    said = rng.random((n, T)) < 1 / (1 + np.exp(3.0 - 1.4 * ache))
    written = rng.random((n, T)) < np.where(weeks.load == 0, spec.rest_logged, 1 - spec.unlogged)
    return Records(
        made=_ON[pattern][:, None, :] & ~missed & present[:, :, None],
        pain=pain,
        stress=_around(weeks.stress, 0.8, rng),
        sleep_hours=np.clip(
            np.rint(2 * (weeks.sleep_hours[:, :, None] + rng.normal(0, 0.7, (n, T, DAYS)))) / 2, 2, 12
        ),
        sleep_quality=_around(weeks.sleep_quality, 0.8, rng),
        worry=_around(weeks.worry, 0.5, rng),
        confidence=_around(weeks.confidence, 0.5, rng),
        flare=said[:, :, None] & (pain >= np.rint(weeks.level[:, None, None] + 1)),
        logged=written & present,
        present=present,
        pattern=pattern,
    )


def _around(weekly: np.ndarray, sd: float, rng: np.random.Generator) -> np.ndarray:
    return _whole(weekly[:, :, None] + rng.normal(0, sd, (*weekly.shape, DAYS)))


def _whole(values: np.ndarray) -> np.ndarray:
    return np.clip(np.floor(values + 0.5), 0, 10)


def _chance(base: float, log_odds: np.ndarray) -> np.ndarray:
    if base <= 0:
        return np.zeros_like(log_odds)
    return 1 / (1 + (1 - base) / base * np.exp(-log_odds))
