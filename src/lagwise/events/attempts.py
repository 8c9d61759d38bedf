"""Attempts to break a comparison of what followed an event. Each gives a claim; the words are elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from itertools import product
from typing import Any

import numpy as np

from lagwise.core.claim import Claim, Measured
from lagwise.core.errors import ModelError
from lagwise.events.change import Change
from lagwise.events.compare import compare
from lagwise.events.history import EARLIER
from lagwise.events.own_size import known_truth

DRAWS, QUICK = 99, 29
"""Times that events are moved to false dates."""
GOOD = 0.90
OFF = 0.25
"""Share of the smallest important change that false dates may give on average."""


def of_some(attempt: Callable[[Change], Claim]) -> Callable[[Change], Claim]:
    """An attempt that is made on some of the people where a record is large; the claim then says how many."""

    @wraps(attempt)
    def tried(change: Change) -> Claim:
        some = change.some
        found = attempt(some)
        if some is change:
            return found
        people = Measured(len(some.steps.people), f"of {len(change.steps.people)}")
        return replace(found, numbers={**found.numbers, "drawn": people})

    return tried


@of_some
def false_dates(change: Change) -> Claim:
    """Events moved to steps without one, drawn as likely to have had it and for staying without one after it,
    and compared like real ones. It checks the comparison; it is no test of the difference.

    Verdict: does_not_hold when the mean difference of false dates is beyond a quarter of the smallest
    important change by more than two Monte Carlo errors; cannot_tell when the real difference, with an
    interval that leaves out 0, lies within the middle 95 of 100 of them, or when the mean is apart from 0 by
    more than two Monte Carlo errors and the real interval less that mean stands otherwise to 0; else holds.
    """
    s, c, rng = change.steps, change.compared, change.rng("false_dates")
    stays = _stays(change)
    pool = np.flatnonzero(~s.had & (stays > 0) & np.isfinite(s.Y[:, : change.first]).any(axis=1))
    chance = np.exp(c.propensity[pool] - c.propensity[pool].max()) / stays[pool]
    n, found = int(c.events.sum()), []
    for _ in range(QUICK if change.quick else DRAWS):
        false = drawn_dates(s.person, pool, chance, n, rng)
        until = np.full(s.person.max() + 1, np.inf)
        until[s.person[false]] = s.step[false]
        kept = s.step <= until[s.person]
        moved = s.with_events(false | s.had, s.Y[:, : change.first]).take(kept)
        try:
            found.append(compare(moved, change.first, only=false[kept], jackknife=False).values[-1, 0])
        except ModelError:
            continue
    if len(found) < 10:
        raise ModelError("too few steps without the event are like those with it")
    own, values = change.measured(), np.array(found)
    mean, error = float(values.mean()), float(values.std(ddof=1) / np.sqrt(len(values)))
    low, high = np.quantile(values, [0.025, 0.975])
    important = change.panel.study.outcome_of(change.outcome).important
    off = abs(mean) - 2 * error > OFF * important
    inside = own.side != 0 and low <= own.value <= high
    less = replace(own, value=own.value - mean, low=own.low - mean, high=own.high - mean)
    turned = abs(mean) > 2 * error and less.side != own.side
    verdict = "does_not_hold" if off else "cannot_tell" if inside or turned else "holds"
    return _claim(
        change,
        "false_dates",
        verdict,
        own=own,
        mean=Measured(mean, change.unit, mean - 2 * error, mean + 2 * error),
        spread=Measured(float(np.median(values)), change.unit, float(low), float(high)),
        draws=Measured(len(values), "draws"),
    )


def rating_before(change: Change) -> Claim:
    """How far the last rating before the event stood above, or below, what the history before it lets expect:
    what set the event off, as far as the record shows.

    Verdict: informative.
    """
    s = change.steps
    earlier = np.flatnonzero(s.later >= 0)
    to = s.later[earlier]
    moved = s.take(np.isin(np.arange(len(s.had)), earlier))
    had = s.had[to] & change.compared.events[to]
    one = moved.with_events(had, Y=s.last[to][:, None])
    found = compare(one, 1, groups=change.groups)
    value, error = float(found.values[0, 1]), float(found.std_error[0, 1])
    return _claim(
        change,
        "rating_before",
        "informative",
        before=Measured(value, change.unit, value - 2 * error, value + 2 * error, int(had.sum())),
    )


def one_person_out(change: Change) -> Claim:
    """The difference without each person, or each of 60 groups of people where there are more.

    Verdict: cannot_tell when leaving somebody out changes the side of 0 of the interval or whether it
    includes 0 (its width held), else holds.
    """
    c, own = change.compared, change.measured()
    out = c.left_out[:, -1, 0]
    reach = (own.high - own.low) / 2
    sides = (out - reach > 0).astype(int) - (out + reach < 0)
    turned = int((sides != own.side)[np.isfinite(out)].sum())
    return _claim(
        change,
        "one_person_out",
        "cannot_tell" if turned else "holds",
        own=own,
        turned=Measured(turned, f"of {len(out)}"),
        without=Measured(
            float(np.nanmedian(out)), change.unit, float(np.nanmin(out)), float(np.nanmax(out)), alone=True
        ),
    )


@of_some
def rating_that_cannot_answer(change: Change) -> Claim:
    """The same comparison with a rating that the event could hardly have changed (hours of sleep, unless the
    plan names another).

    Verdict: does_not_hold when its interval leaves out 0, else holds.
    """
    name = change.panel.study.events.unmoved.get(change.kind, "sleep_hours")
    if name == change.outcome or name not in change.panel.frame or not change.panel.frame[name].notna().any():
        raise ModelError(f"{name} is not rated beside {change.outcome}")
    other = change.other(outcome=name)
    found = other.measured()
    return _claim(
        change,
        "rating_that_cannot_answer",
        "does_not_hold" if found.side else "holds",
        rating=name,
        found=found,
    )


@of_some
def other_events(change: Change) -> Claim:
    """The difference without events that had another kind within the first steps after.

    Verdict: cannot_tell when the side of 0 changes, or fewer than half of the events are left; else holds.
    """
    own, n = change.measured(), int(change.compared.events.sum())
    other = change.other(alone=True)
    left = int(other.compared.events.sum())
    if left == n:
        return _claim(change, "other_events", "holds", own=own, left=Measured(left, f"of {n}"))
    found = other.measured()
    verdict = "holds" if found.side == own.side and 2 * left >= n else "cannot_tell"
    return _claim(change, "other_events", verdict, own=own, found=found, left=Measured(left, f"of {n}"))


@of_some
def own_step(change: Change) -> Claim:
    """The difference where the rating of the event's own step counts as one before it, also where it is dated
    after: right where dates are those of the step and not of the event.

    Verdict: cannot_tell when the side of 0 changes; does_not_hold when it turns round; else holds.
    """
    s, events, own = change.steps, change.panel.events, change.measured()
    dated = events[(events["kind"] == change.kind) & (events["step"] > events["after"])]
    keys = set(zip(dated["person"], dated["after"], strict=True))
    rows = np.flatnonzero(s.had)
    moved = sum((s.people[p], at) in keys for p, at in zip(s.person[rows], s.step[rows], strict=True))
    if not moved:
        return _claim(change, "own_step", "holds", own=own, moved=Measured(0, f"of {int(s.had.sum())}"))
    found = change.other(within=True).measured()
    turned = found.side * own.side < 0
    verdict = "does_not_hold" if turned else "holds" if found.side == own.side else "cannot_tell"
    return _claim(
        change, "own_step", verdict, own=own, found=found, moved=Measured(moved, f"of {int(s.had.sum())}")
    )


@of_some
def horizon_and_history(change: Change) -> Claim:
    """The difference over the first 2, 4 and 8 steps, with 1, 3 and 6 earlier ratings held equal; quick, the
    extremes of both alone beside the one reported.

    Verdict: does_not_hold when two of them leave out 0 on different sides; cannot_tell when some leave out 0
    and others do not; else holds.
    """
    numbers: dict[str, Any] = {}
    own = (change.first, change.ratings)
    for first, ratings in product(sorted({2, change.first, change.horizon}), (1, EARLIER, 2 * EARLIER)):
        if change.quick and (first, ratings) != own and (first == own[0] or ratings == own[1]):
            continue
        try:
            other = change if (first, ratings) == own else change.other(first=first, ratings=ratings)
            found = other.measured(of=(first, ratings))
        except ModelError:
            continue
        numbers[f"first_{first}_ratings_{ratings}"] = found
    sides = {found.side for found in numbers.values()}
    verdict = "does_not_hold" if {-1, 1} <= sides else "cannot_tell" if len(sides) > 1 else "holds"
    return _claim(change, "horizon_and_history", verdict, **numbers)


@of_some
def truth_at_this_size(change: Change) -> Claim:
    """Simulated ratings with this record's size, carry-over and rating error: what the comparison finds at a
    true 0 and at the smallest important change, where the rating sets the event off, and where the unrated
    level does as strongly.

    Verdict: does_not_hold when, with a logged trigger, the mean is off by more than a quarter of the smallest
    important change beyond two Monte Carlo errors, or intervals as wide as the one
    reported cover fewer than 90 of 100, beyond two Monte Carlo errors; else
    holds. What an unrated trigger gives is told and not judged.
    """
    cells = known_truth(change)
    logged = [cell for cell in cells.values() if cell["logged"]]
    important = change.panel.study.outcome_of(change.outcome).important
    off = any(
        abs(c["bias"]) - 2 * c["error"] > OFF * important
        or c["coverage"] + 2 * np.sqrt(0.1 * 0.9 / c["n"]) < GOOD
        for c in logged
    )
    numbers = {}
    for name, c in cells.items():
        numbers[name] = Measured(
            c["bias"],
            change.unit,
            c["bias"] - 2 * c["error"],
            c["bias"] + 2 * c["error"],
            of=(c["truth"], c["logged"]),
        )
        numbers[f"{name}_coverage"] = Measured(c["coverage"], "share", of=(c["truth"], c["logged"]))
    draws = Measured(next(iter(cells.values()))["n"], "caseloads")
    return _claim(change, "truth_at_this_size", "does_not_hold" if off else "holds", draws=draws, **numbers)


def drawn_dates(
    person: np.ndarray, pool: np.ndarray, chance: np.ndarray, n: int, rng: np.random.Generator
) -> np.ndarray:
    """(len(person),) False dates of `n` people, and of half of those in `pool` at most: one
    each, among its rows by their `chance`.

    Every row is drawn by itself and the first of its person counts, as a real event is the first: one row in
    place of another would be chosen by what came after it.
    """
    clock, soonest = -np.log(rng.random(len(pool))) / chance, np.full(person.max() + 1, np.inf)
    np.minimum.at(soonest, person[pool], clock)
    most = max(1, min(n, len(np.unique(person[pool])) // 2))
    hit = pool[clock <= np.sort(soonest)[most - 1]]
    false = np.zeros(len(person), dtype=bool)
    false[hit[np.unique(person[hit], return_index=True)[1]]] = True
    return false


def _stays(change: Change) -> np.ndarray:
    """(n,) chance of no event at the next first - 1 steps at risk; 0 where one came within them."""
    s = change.steps
    p = 1 / (1 + np.exp(-change.compared.propensity))
    chance, at = np.ones(len(p)), np.arange(len(p))
    for _ in range(change.first - 1):
        at = np.where(at >= 0, s.later[at], -1)
        there = at >= 0
        chance[there] *= np.where(s.had[at[there]], 0.0, 1 - p[at[there]])
    return chance


def _claim(change: Change, name: str, verdict: str, **numbers: Any) -> Claim:
    asked: dict[str, Any] = {"kind": change.kind, "outcome": change.outcome, "first": change.first}
    return Claim(f"events.{name}", verdict, verdict, asked | numbers)


ATTEMPTS: dict[str, Callable[[Change], Claim]] = {
    f.__name__: f
    for f in (
        false_dates,
        rating_before,
        rating_that_cannot_answer,
        one_person_out,
        other_events,
        own_step,
        horizon_and_history,
        truth_at_this_size,
    )
}
"""In the order they are run and shown."""
