"""How far estimates moved between two reports, and whether by more than the new data explain."""

from __future__ import annotations

import math
import statistics
from collections.abc import Collection, Iterator
from typing import Any

import numpy as np

from lagwise.core.effects import LOW_TO_HIGH, PER_SD, PER_UNIT
from lagwise.core.study import FLARE_RISE, INTERVAL, MARGINS, MODELLED
from lagwise.findings.facts import EffectRow, FitFacts
from lagwise.findings.since import Kind, Limits, Move, Verdict
from lagwise.findings.value import Findings

UNMOVED = 0.1
"""A move of less than this share of the earlier standard error is none: draws of a posterior differ by it."""

Told = tuple[Kind, int, EffectRow, FitFacts | None]


def spread(old: float, new: float, old_steps: float, new_steps: float, *, kept: float = 1.0) -> float | None:
    """Standard deviation that new data alone give the difference of two estimates of one quantity.

    With the records of the earlier estimate among those of the new one, and an efficient estimator,
    cov(old, new) = var(new), so that var(new - old) = var(old) - var(new) (Hausman 1978,
    doi:10.2307/1913827). Where only the share `kept` of the earlier records is still there, cov(old, new) =
    kept var(new). The difference of two estimated variances is itself uncertain: where var(new) and the
    person-steps make var(old) larger than it was estimated, that stands in its place. Checked in
    `tests/bench/since.py`.

    Parameters
    ----------
    old, new : standard errors of the two estimates
    old_steps, new_steps : person-steps that they rest on
    kept : share of the earlier person-steps that the new estimate rests on as well, 0 to 1

    Returns
    -------
    float or None
        None where it cannot be told: no standard error, or the new estimate is no more precise than the
        earlier one although nothing was taken away.
    """
    if not (old > 0 and new > 0 and old_steps > 0 and math.isfinite(old + new)):
        return None
    shared = new**2 * (2 * kept - 1)
    if old**2 <= shared:
        return None
    return math.sqrt(max(old**2, new**2 * new_steps / old_steps) - shared)


def moves(new: Findings, old: Findings, changed: Collection[str], *, kept: float | None) -> Iterator[Move]:
    """How each estimate moved: the primary row of every question, the exposures, flare-ups, events.

    Parameters
    ----------
    new, old : Findings
    changed : keys of the plan that differ, as 'section.key'
    kept : share of the earlier person-steps whose people are still there; None where that is unknown
    """
    was = {key_of(row): (row, fit) for _, _, row, fit in _every(old)}
    now = {key_of(row) for _, _, row, _ in _every(new)}
    seen = set()
    for kind, question, row, fit in told(new):
        if (key := key_of(row)) in seen:
            continue
        seen.add(key)
        before, its = was.get(key, (None, None))
        made = {**_named(kind, question, row), "new": _limits(row)}
        if before is None:
            yield Move(**made, old=None, verdict="new")
            continue
        why = "shared" if new.shared or old.shared else "codes" if kept is None else ""
        why = why or ("analysis" if _other_model(kind, changed, fit, its) else "")
        yield Move(**made, old=_limits(before), **_verdict(row, before, 1.0 if kept is None else kept, why))
    for kind, _, row, _ in told(old):
        if (key := key_of(row)) not in now and key not in seen:
            seen.add(key)
            yield Move(**_named(kind, 0, row), old=_limits(row), new=None, verdict="gone")


def told(findings: Findings) -> Iterator[Told]:
    """The rows that a comparison tells, each with its fit and the number of its question."""
    views = [findings, *(findings.asking(q) for q in findings.also)]
    for question, view in enumerate(views):
        yield from (("primary", question, row, fit) for row, fit in _rows(view) if row.primary)
    for row, fit in _rows(findings):
        lead = findings.primary
        alone = lead is None or row.term == lead.term or row.engine == lead.engine
        if not row.primary and alone and row.contrast == _contrast(findings, row):
            yield "exposure", 0, row, fit
    onsets = next(findings.usable(answers="onset"), None)
    if onsets is not None:
        for row in onsets.effects:
            own = row.scale == "odds_ratio" and row.engine == onsets.engine and _asked(findings, row)
            if own and row.contrast == _contrast(findings, row):
                yield "onset", 0, row, onsets
    for one in findings.followed:
        yield from (("event", 0, row, None) for row in one.effects[:1] if row.estimate is not None)


def _every(findings: Findings) -> Iterator[Told]:
    """Every row that an earlier or later one may be set beside, the rows that are told first."""
    yield from told(findings)
    for question, view in enumerate([findings, *(findings.asking(q) for q in findings.also)]):
        for fit in view.fits:
            if fit.usable:
                yield from (("exposure", question, row, fit) for row in fit.effects)


def _rows(view: Findings) -> list[tuple[EffectRow, FitFacts]]:
    """Adjusted rows in points of what a question asks about, the primary one first."""
    found = [
        (row, fit)
        for fit in view.usable()
        for row in fit.effects
        if row.scale == "points"
        and row.outcome == view.study.outcome.column
        and not fit.by.comparator
        and (row.primary or _asked(view, row))
    ]
    return sorted(found, key=lambda pair: not pair[0].primary)


def _asked(view: Findings, row: EffectRow) -> bool:
    """Whether a row is adjusted as the plan's own and of a contrast that does not follow the record."""
    plain = view.as_rated
    adjusted = plain is None or row.pain_adjusted == plain.pain_adjusted or row.by.headline == "joint"
    own = row.adjustment == "adjusted" and row.level in ("within", "whole") and row.estimate is not None
    return own and adjusted and row.contrast not in (PER_SD, LOW_TO_HIGH)


def _contrast(findings: Findings, row: EffectRow) -> str:
    """The contrast at which an exposure is told: the planned one of the primary exposure, else one unit."""
    lead = findings.primary
    return lead.contrast if lead is not None and lead.term == row.term else PER_UNIT


SAME = ("outcome", "engine", "level", "pain_adjusted", "contrast", "contrast_size", "scale")
"""What two rows of a term share where they estimate the same, besides being adjusted."""


def key_of(one: EffectRow | Move) -> tuple[Any, ...]:
    """What an estimate is of, by which it is found again in another report."""
    crude, term = (False, one.subject) if isinstance(one, Move) else (one.adjustment == "crude", one.term)
    told = (getattr(one, name) for name in SAME)
    return (term, crude, *(round(v, 6) if isinstance(v, float) else v for v in told))


def _named(kind: Kind, question: int, row: EffectRow) -> dict[str, Any]:
    named = {name: getattr(row, name) for name in SAME}
    return {"kind": kind, "question": question, "subject": row.term, **named}


def _limits(row: EffectRow) -> Limits:
    held = {k: getattr(row, k) for k in ("low", "high", "n_people", "n_steps")}
    return Limits(estimate=row.estimate or 0.0, **held)


def _other_model(kind: Kind, changed: Collection[str], fit: FitFacts | None, was: FitFacts | None) -> bool:
    """Whether the plan, or the columns of the fit, make another model of the same quantity."""
    margins = MARGINS | (set() if kind == "onset" else {FLARE_RISE})
    if any(key not in margins and key.split(".")[0] in MODELLED for key in changed):
        return True
    columns = (fit.columns, was.columns) if fit is not None and was is not None else ((), ())
    return all(columns) and set(columns[0]) != set(columns[1])


def _verdict(row: EffectRow, was: EffectRow, kept: float, why: str) -> dict[str, Any]:
    """Difference, spread and verdict of one estimate against the earlier one."""
    ratio = row.scale == "odds_ratio"
    now, then = (_measured(r, ratio) for r in (row, was))
    if now is None or then is None:
        return {"verdict": "cannot_tell", "reason": why or "interval"}
    difference = now[0] - then[0]
    found: dict[str, Any] = {"difference": difference}
    if why:
        return found | {"verdict": "cannot_tell", "reason": why}
    if abs(difference) < UNMOVED * then[1]:
        return found | {"verdict": "within", "reason": "unmoved"}
    if (row.n_steps, row.n_people, kept) == (was.n_steps, was.n_people, 1.0):
        return found | {"verdict": "beyond", "reason": "no_data"}
    sd = spread(then[1], now[1], was.n_steps, row.n_steps, kept=kept)
    if sd is None:
        return found | {"verdict": "cannot_tell", "reason": "precision"}
    reach = max(now[2], then[2]) * sd
    verdict: Verdict = "within" if abs(difference) <= reach else "beyond"
    return found | {"reach": reach, "verdict": verdict}


def _measured(row: EffectRow, ratio: bool) -> tuple[float, float, float] | None:
    """Estimate, standard error and half an interval in standard errors, of odds ratios on the log scale."""
    if row.estimate is None or row.low is None or row.high is None or not row.std_error:
        return None
    if not ratio:
        return row.estimate, row.std_error, (row.high - row.low) / 2 / row.std_error
    if min(row.estimate, row.low, row.high) <= 0:
        return None
    error = row.std_error / row.estimate
    return math.log(row.estimate), error, math.log(row.high / row.low) / 2 / error


def chance_of_looks(steps: Collection[int]) -> float:
    """How probable it is that at least one of several intervals of a growing record leaves out a true 0.

    Each look is a point of a random walk whose time is the person-steps (Armitage, McPherson & Rowe 1969,
    doi:10.2307/2343787); a look that added no steps is no further one.

    Parameters
    ----------
    steps : person-steps behind each interval, in the order of the looks; 0 where there was none
    """
    times: list[float] = []
    last = max(steps, default=0)
    for so_far in steps:
        if last and so_far / last > (times[-1] if times else 0.0) + 0.001:
            times.append(so_far / last)
    if len(times) < 2:
        return 1 - INTERVAL if times else 0.0
    z = statistics.NormalDist().inv_cdf(0.5 + INTERVAL / 2)
    grid, before, past = np.array([0.0]), np.array([1.0]), 0.0
    for at in times:
        edge, sd = z * math.sqrt(at), math.sqrt(at - past)
        nodes, weights = np.polynomial.legendre.leggauss(max(60, round(12 * edge / sd)))
        here = edge * nodes
        density = np.exp(-(((here[:, None] - grid) / sd) ** 2) / 2) / (sd * math.sqrt(2 * math.pi))
        grid, before, past = here, (density @ before) * edge * weights, at
    return float(1 - before.sum())
