"""Known truth at a record's own size: events set off by the rating, or by the level that is not rated."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import expit

from lagwise.core.errors import ModelError
from lagwise.events.compare import compare, propensity
from lagwise.events.history import EARLIER, Ratings, calendar, steps_of
from lagwise.models.rating_noise import fitted, variogram
from lagwise.panel.arrays import people_of

if TYPE_CHECKING:
    from lagwise.events.change import Change

CASELOADS, QUICK = 60, 20
_ROUNDS = 30


def known_truth(change: Change) -> dict[str, dict[str, Any]]:
    """By setting: truth, logged (whether the rating sets the event off), bias, error (Monte Carlo), coverage
    of intervals as wide as those reported, and n caseloads."""
    world = _World(change)
    important = change.panel.study.outcome_of(change.outcome).important
    cells = {"logged_0": (0.0, True), "logged_important": (-important, True), "unlogged_0": (0.0, False)}
    n, out = QUICK if change.quick else CASELOADS, {}
    own = change.measured()
    reach = (own.high - own.low) / 2
    for name, (truth, logged) in cells.items():
        found = []
        for _ in range(n):
            try:
                found.append(world.estimate(truth, logged=logged) - truth)
            except ModelError:
                continue
        if len(found) < n / 2:
            raise ModelError("simulated records of this size cannot be compared")
        off = np.array(found)
        out[name] = {
            "truth": truth,
            "logged": logged,
            "bias": float(off.mean()),
            "n": len(off),
            "error": float(off.std(ddof=1) / np.sqrt(len(off))),
            "coverage": float((np.abs(off) <= reach).mean()),
        }
    return out


class _World:
    """Ratings as an order-1 autoregression with error around people's levels, on the record's own steps."""

    def __init__(self, change: Change) -> None:
        frame = change.panel.frame
        self.first, self.rng = change.first, change.rng("truth_at_this_size")
        self.code = people_of(frame)[1]
        values = frame[change.outcome].to_numpy(dtype=float)
        self.known = np.isfinite(values)
        self.at, self.step = calendar(change.panel), frame["step"].to_numpy()
        length = np.bincount(self.code)
        self.there = np.arange(length.max())[:, None] < length
        known = np.zeros(self.there.T.shape, dtype=int)
        known[self.there.T] = self.known
        self.free = (known.cumsum(axis=1).T >= EARLIER) & (np.arange(length.max())[:, None] < length - 1)
        sums, pairs = variogram(values, self.code)
        told = pairs.sum(axis=1) > 0
        if told.sum() < 2:
            raise ModelError("ratings of steps that follow each other are too few to simulate from")
        phi, error, _, lasting = fitted(sums[told], pairs[told], 0.0)
        self.phi, self.error, self.lasting = phi.value, error.value, max(lasting, 1e-3)
        n = np.bincount(self.code[self.known], minlength=self.code.max() + 1)
        means = np.bincount(self.code[self.known], weights=values[self.known], minlength=len(n)) / np.maximum(
            n, 1
        )
        self.level = float(means[n > 0].mean())
        self.between = float(np.sqrt(max(means[n > 0].var() - self.lasting**2 / max(n.mean(), 1), 1e-4)))
        v = change.variable
        self.low, self.high = (-np.inf if v.low is None else v.low), (np.inf if v.high is None else v.high)
        self.whole = bool(np.allclose(values[self.known] % 1, 0))
        s = change.steps
        last = np.column_stack([np.ones(len(s.last)), s.last - s.last.mean()])
        slope = propensity(last, s.had, np.ones(len(s.had)))[1]
        total = self.lasting**2 + self.between**2
        self.slope = {True: slope, False: slope * (total + self.error**2) / total}
        self.events = int(s.had.sum())
        self.base = {logged: self._base(logged) for logged in (True, False)}

    def estimate(self, truth: float, *, logged: bool) -> float:
        """The doubly robust difference in one simulated record."""
        ratings, after = self._draw(truth, logged, self.base[logged])
        drawn = Ratings(self.code, self.step, self.at, np.where(self.known, ratings, np.nan))
        return float(compare(steps_of(drawn, after, self.first), self.first, jackknife=False).values[-1, 0])

    def _draw(self, truth: float, logged: bool, base: float) -> tuple[np.ndarray, np.ndarray]:
        """(n,) ratings and, per person, the step after whose rating the event came (inf for never)."""
        rng, (steps, people) = self.rng, self.there.shape
        mean, state = rng.normal(self.level, self.between, people), rng.normal(0, self.lasting, people)
        felt, error, chance = (np.empty((steps, people)) for _ in range(3))
        for t in range(steps):
            felt[t] = mean + state
            error[t] = rng.normal(0, self.error, people)
            chance[t] = rng.random(people)
            state = self.phi * state + rng.normal(0, self.lasting * np.sqrt(1 - self.phi**2), people)
        drive = (self._rated(felt + error) if logged else felt) - self.level
        new = self.free & (chance < expit(base + self.slope[logged] * drive))
        after = np.where(new.any(axis=0), new.argmax(axis=0), np.inf)
        ratings = self._rated(felt + truth * (np.arange(steps)[:, None] > after) + error)
        return ratings.T[self.there.T], after

    def _rated(self, felt: np.ndarray) -> np.ndarray:
        """What is felt on the rating's scale."""
        return np.clip(np.round(felt) if self.whole else felt, self.low, self.high)

    def _base(self, logged: bool) -> float:
        """The intercept at which about as many people have the event as in the record."""
        low, high = -12.0, 4.0
        for _ in range(_ROUNDS // 3):
            middle = (low + high) / 2
            n = np.mean([np.isfinite(self._draw(0.0, logged, middle)[1]).sum() for _ in range(3)])
            low, high = (middle, high) if n < self.events else (low, middle)
        return (low + high) / 2
