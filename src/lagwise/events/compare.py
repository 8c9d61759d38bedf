"""The outcome after an event against what it would have been without one, from steps with the same history.

Doubly robust: an outcome model by iterated regressions under 'no event so far' (Robins 1986; Bang & Robins
2005, doi:10.1111/j.1541-0420.2005.00377.x) and a discrete-time propensity of the event, which also weighs for
events that come later within the horizon. Leaving such steps out without weights would keep the better ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import expit

from lagwise.core.claim import coded
from lagwise.core.errors import ModelError
from lagwise.events.history import Steps

RIDGE = 1.0
"""Penalty on each standardised coefficient of the propensity."""
NAMES = ("risk_set", "regression", "did", "before_after", "return")
GROUPS, FEWER, MANY = 60, 30, 50_000
"""Groups of whole people that are left out in turn where there are more people than this, and in records of
more than `MANY` steps at risk."""
CELLS = 120_000
"""Steps by horizons by groups that are worked out at once."""
_STEPS, _TINY = 40, 1e-6


@dataclass(frozen=True)
class Compared:
    """Differences and their jackknife: `values` (k, 5) by horizon and estimator (see `NAMES`), the last row
    the mean of the first `steps`; `left_out` (g, k, 5) the same without each group of people; `n` (k,) events
    with the outcome known; `events` (n,) events that are compared; `propensity` (n,) log odds of the event;
    `expected` (n, H) the outcome expected without the event."""

    values: np.ndarray
    left_out: np.ndarray
    n: np.ndarray
    events: np.ndarray
    propensity: np.ndarray
    expected: np.ndarray

    @property
    def std_error(self) -> np.ndarray:
        """(k, 5) jackknife standard errors, whole people left out."""
        g = len(self.left_out)
        return np.sqrt((g - 1) / g * ((self.left_out - self.left_out.mean(axis=0)) ** 2).sum(axis=0))


def compare(
    steps: Steps,
    first: int = 4,
    *,
    only: np.ndarray | None = None,
    jackknife: bool = True,
    groups: int = GROUPS,
) -> Compared:
    """Estimates at each horizon of `steps.Y` and for the mean of the first `first`, over the events compared
    (of `only` those); the jackknife leaves out at most `groups` groups of people in turn.

    A person's mean needs half of its ratings, and each horizon its own. Estimators: risk_set (doubly robust),
    regression (outcome model alone), did (change of the mean of the last three ratings, less that of steps
    without the event), before_after (that change alone), return (the part of before_after that the same
    history brings without an event).

    Raises
    ------
    ModelError
        When no event is at risk, or none has comparable steps without one.
    """
    if not steps.had.any():
        raise ModelError(coded("no event has three earlier ratings and another one after it", "few_ratings"))
    beta = propensity(steps.X, steps.had, np.ones(len(steps.had)))
    logit = steps.X @ beta
    events = steps.had & comparable(steps, logit)
    events = events if only is None else events & only
    if not events.any():
        raise ModelError(coded("no event has comparable steps without one", "none_alike"))
    values, expected = _estimates(
        steps, events, logit[:, None], _Less(np.ones(len(logit), dtype=int), np.zeros(1, dtype=int)), first
    )
    left_out = _left_out(steps, events, beta, first, groups) if jackknife else values[:0]
    known = np.isfinite(steps.Y[events])
    n = np.append(known.sum(axis=0), (known[:, :first].sum(axis=1) * 2 >= first).sum())
    return Compared(values[0], left_out, n, events, logit, expected[:, :, 0])


def propensity(
    X: np.ndarray, had: np.ndarray, weights: np.ndarray, start: np.ndarray | None = None
) -> np.ndarray:
    """(columns,) coefficients of the log odds of the event given what was known before, by ridge-penalised
    logistic regression."""
    share = np.clip(np.average(had, weights=weights), 1e-6, 0.5)
    beta = np.zeros(X.shape[1])
    beta[0] = np.log(share / (1 - share))
    if start is not None:
        beta = start
    held = _held(X)
    for _ in range(_STEPS):
        p = expit(X @ beta)
        slope = X.T @ (weights * (had - p)) - held * beta
        move = np.linalg.solve(_information(X, weights * p * (1 - p), held), slope)
        beta = beta + move
        if np.abs(move).max() < _TINY:
            break
    return beta


NEAR, FEWEST = 4, 5
"""Steps of the calendar either side, and steps without the event (of three people) that an event needs."""


def comparable(steps: Steps, logit: np.ndarray) -> np.ndarray:
    """(n,) by the log odds of the event: True for events with steps without one near on the calendar, others
    as likely to have it, and others with the same last rating (half a standard deviation either way).

    How likely an event was is taken without itself (one step from the fit with it; Pregibon 1981,
    doi:10.1214/aos/1176345513): where events are few, each draws the propensity towards itself.
    """
    found, rows = np.zeros(len(steps.had), dtype=bool), np.flatnonzero(steps.had)
    without = np.flatnonzero(~steps.had & np.isfinite(steps.Y[:, 0]))
    if not len(without):
        return found
    own = _without_itself(steps.X, logit, steps.had)
    at, last, person, odds = steps.at[without], steps.last[without], steps.person[without], logit[without]
    reach, apart = odds.std() / 2, last.std() / 2
    starts = np.flatnonzero(np.diff(person, prepend=-1))
    size = max(1, CELLS // len(without))
    for some in (slice(k, k + size) for k in range(0, len(rows), size)):
        row = rows[some, None]
        near = (np.abs(at - steps.at[row]) <= NEAR) & (person != steps.person[row])
        people = np.logical_or.reduceat(near, starts, axis=1).sum(axis=1)
        like = (odds >= own[some, None] - reach).sum(axis=1)
        rated = (np.abs(last - steps.last[row]) <= apart).sum(axis=1)
        fewest = np.minimum(np.minimum(near.sum(axis=1), like), rated)
        found[rows[some]] = (people >= 3) & (fewest >= FEWEST)
    return found


def _without_itself(X: np.ndarray, logit: np.ndarray, had: np.ndarray) -> np.ndarray:
    """(events,) log odds of each event from the others."""
    p = expit(logit)
    spread = np.einsum(
        "ij,ij->i", X[had], np.linalg.solve(_information(X, p * (1 - p), _held(X)), X[had].T).T
    )
    return logit[had] - spread * (1 - p[had]) / (1 - spread * (p * (1 - p))[had])


def _information(X: np.ndarray, weights: np.ndarray, held: np.ndarray) -> np.ndarray:
    """(columns, columns) information of the propensity's coefficients, with the penalty."""
    found = (X * weights[:, None]).T @ X
    found.flat[:: len(held) + 1] += held
    return found


def _held(X: np.ndarray) -> np.ndarray:
    """(columns,) penalty: none on the constant."""
    return np.where(np.arange(X.shape[1]) > 0, RIDGE, 0.0)


def _groups(steps: Steps, events: np.ndarray, most: int) -> np.ndarray:
    """(n,) group of each row's person: everybody alone, or groups with like numbers of events."""
    people = np.unique(steps.person)
    first = np.lexsort((people, ~np.isin(people, steps.person[events])))
    group = np.empty(len(people), dtype=int)
    group[first] = np.arange(len(people)) % min(len(people), FEWER if len(steps.had) > MANY else most)
    return group[np.searchsorted(people, steps.person)]


def _left_out(steps: Steps, events: np.ndarray, beta: np.ndarray, first: int, groups: int) -> np.ndarray:
    """(g, H + 1, 5) estimates without each group of people; NaN where no event is left."""
    group = _groups(steps, events, groups)
    every, out = np.unique(group), []
    size = max(FEWEST, CELLS // steps.Y.size)
    for some in (every[at : at + size] for at in range(0, len(every), size)):
        less = _Less(group, some)
        logit = steps.X @ _coefficients(steps, beta, less).T
        out.append(_estimates(steps, events, logit, less, first)[0])
    return np.concatenate(out)


@dataclass(frozen=True)
class _Less:
    """Rows by the `group` (n,) they belong to, once without each of `some` groups (g,)."""

    group: np.ndarray
    some: np.ndarray

    @cached_property
    def order(self) -> np.ndarray:
        """(n,) rows with those of a group together."""
        return np.argsort(self.group, kind="stable")

    @cached_property
    def weights(self) -> np.ndarray:
        """(n, g) 1, and 0 where a row is left out."""
        return (self.group[:, None] != self.some).astype(float)

    def products(self, A: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """(g, columns, columns) products of the columns of `A`, of some of the rows (n,): those of all, less
        those left out."""
        at = self.order[rows[self.order]]
        A, group = A[at], self.group[at]
        ends = np.searchsorted(group, [self.some, self.some + 1])
        return A.T @ A - np.array([A[first:last].T @ A[first:last] for first, last in ends.T])

    def sums(self, values: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """(g,) sums of `values` (m,) of the rows at positions `rows` (m,): of all, less those left out."""
        own = np.bincount(self.group[rows], weights=values, minlength=int(self.some.max()) + 1)
        return values.sum() - own[self.some]


def _coefficients(steps: Steps, beta: np.ndarray, less: _Less) -> np.ndarray:
    """(g, columns) coefficients of the propensity without each group: Newton's steps from everybody's, with
    the information of the first of them."""
    X, held, weights, p = steps.X, _held(steps.X), less.weights, expit(steps.X @ beta)
    information = less.products(X * np.sqrt(p * (1 - p))[:, None], np.full(len(p), True)) + np.diag(held)
    inverse, own = np.linalg.inv(information), np.tile(beta, (weights.shape[1], 1))
    for _ in range(_STEPS):
        slope = (weights * (steps.had[:, None] - expit(X @ own.T))).T @ X - held * own
        move = (inverse @ slope[:, :, None])[:, :, 0]
        own = own + move
        if np.abs(move).max() < _TINY**1.5:  # as near as one more step of Newton's own would come
            return own
    return np.array([propensity(X, steps.had, w, beta) for w in weights.T])


def _estimates(
    steps: Steps, events: np.ndarray, logit: np.ndarray, less: _Less, first: int
) -> tuple[np.ndarray, np.ndarray]:
    """(g, H + 1, 5) estimates and (n, H, g) expected outcomes without each group, by columns of `logit`."""
    H, weights = steps.Y.shape[1], less.weights
    expected, rest = _iterated(steps, less)
    Y, F, pre, w = steps.Y[events], expected[events], steps.before[events], weights[events]
    known = np.isfinite(Y)
    enough = known[:, :first].sum(axis=1) * 2 >= first
    share = np.zeros((H + 1, len(Y), H))
    share[np.arange(H), :, np.arange(H)] = known.T
    share[H, :, :first] = (
        known[:, :first] / np.maximum(known[:, :first].sum(axis=1, keepdims=True), 1) * enough[:, None]
    )
    Y, each = np.where(known, Y, 0.0), share.sum(axis=2)
    there = each @ w
    n = np.maximum(there, _TINY)
    after, earlier = np.einsum("kmh,mh->km", share, Y) @ w / n, (each * pre) @ w / n
    without = np.einsum("kmh,mhg->kg", share, F * w[:, None]) / n
    horizon = np.einsum("kmh,mg->khg", share, w) / n[:, None]
    correction = (horizon * _augmented(steps, logit, weights, rest)).sum(axis=1)
    others = (horizon * _changes(steps, less)).sum(axis=1)
    values = (
        after - without - correction,
        after - without,
        after - earlier - others,
        after - earlier,
        without - earlier,
    )
    return np.stack([np.where(there > 0, v, np.nan).T for v in values], axis=2), expected


def _iterated(steps: Steps, less: _Less) -> tuple[np.ndarray, np.ndarray]:
    """(n, H, g) outcome expected h steps on without an event until then, and what each regression leaves over
    (n, H, g), NaN where its target is not known."""
    X, has, weights = steps.X, steps.later >= 0, less.weights
    penalty = _TINY * weights.sum(axis=0)[:, None, None] * np.eye(X.shape[1])
    target, expected, rest = np.repeat(steps.Y[:, :1], weights.shape[1], axis=1), [], []
    for _ in range(steps.Y.shape[1]):
        use = ~steps.had & np.isfinite(target[:, 0])
        if not use.any():
            raise ModelError("no step without the event has a known outcome")
        A, w = X[use], weights[use]
        gram = less.products(X, use) + penalty
        beta = np.linalg.solve(gram, ((w * target[use]).T @ A)[:, :, None])[:, :, 0]
        mean = X @ beta.T
        expected.append(mean)
        rest.append(np.where(use[:, None], target - mean, np.nan))
        target = np.full(mean.shape, np.nan)
        target[has] = mean[steps.later[has]]
    return np.stack(expected, axis=1), np.stack(rest, axis=1)


def _augmented(steps: Steps, logit: np.ndarray, weights: np.ndarray, rest: np.ndarray) -> np.ndarray:
    """(H, g) what the outcome models leave over in steps without the event, weighed as likely to have had it
    then, and for having had none since."""
    H, rows, p = rest.shape[1], np.flatnonzero(steps.later >= 0), expit(logit)
    to = steps.later[rows]
    known = np.isfinite(rest[:, :, 0]).astype(float)
    rest = np.where(np.isfinite(rest), rest, 0.0)
    weigh = np.where(steps.had[:, None], 0.0, np.exp(logit - logit.max(axis=0)) * weights)
    total = np.zeros((H, rest.shape[2]))
    for stage in range(H):
        sums = np.einsum("nhg,ng->hg", rest[:, : H - stage], weigh)
        of = known[:, : H - stage].T @ weigh
        total[stage:] += np.divide(sums, of, out=np.zeros_like(sums), where=of > 0)
        moved = np.zeros_like(weigh)
        moved[to] = np.where(steps.had[to][:, None], 0.0, weigh[rows] / (1 - p[to]))
        weigh = moved
    return total


def _changes(steps: Steps, less: _Less) -> np.ndarray:
    """(H, g) mean change from the last three ratings in steps without the event until then."""
    free, has = ~steps.had, steps.later >= 0
    follows, out = np.zeros(len(free), dtype=bool), []
    for h in range(steps.Y.shape[1]):
        change = steps.Y[:, h] - steps.before
        use = np.flatnonzero(free & np.isfinite(change))
        sums, of = less.sums(change[use], use), less.sums(np.ones(len(use)), use)
        out.append(np.divide(sums, of, out=np.full(len(of), np.nan), where=of > 0))
        follows[has] = free[steps.later[has]]
        free = free & (follows | ~has)
    return np.array(out)
