"""The estimate again under circular shifts of each person's load series."""

from __future__ import annotations

import itertools
from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Drawing, Found
from lagwise.challenges.estimate import Variants, middle, variants
from lagwise.challenges.work import map_tasks
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError
from lagwise.models.design import OF_TRAINING, Design

NAME = "shuffled_load"
LEVEL = 0.05
TASK, ROWS = 100, 1_000_000
"""Shifts in one task, and rows that these may come to."""
LONG, FIRST = 5_000, 199
"""Person-steps beyond which the first shuffles end it where p is three Monte Carlo errors from `LEVEL`."""


def run(context: Context) -> Found:
    """Slides each person's training series (jump, usual load, rest and effort together) by a random number of
    their own observed steps, wrapping round, and re-estimates (in records of more than 5,000
    person-{steps} the first 199 times, and on only where these do not tell p from 0.05). The order within
    each series and which steps are missing stay as they are. In records of more than 400 people 400 are
    asked, evenly through the record, and the estimate that is compared is theirs.

    Compared are estimates over their standard errors, t, with the error of the primary estimate's own engine
    on either side (from 5 to 9 people CR2, clustered on people); p = (1 + number of shuffles with |t| at
    least as large) / (1 + shuffles), two-sided.

    Verdict: holds when p and the interval agree on whether 0 fits these data (p above 0.05 and an interval
    that includes 0, or p at most 0.05 and one that excludes it); does_not_hold when they disagree;
    cannot_tell when p is within its Monte Carlo error of 0.05.
    """
    p, (design, found, asked) = context.primary, context.some()
    ready = variants(design, p.column, p.size)
    columns = moving(design, p.column, context.panel.study.variables[p.term].whole)
    shifts = draw_shifts(np.bincount(design.person), context.draws, context.rng(NAME))
    unmoved = shuffled(ready, columns, np.zeros((1, design.n_people), dtype=int))
    here, own = (float(v[0]) for v in unmoved)
    each = max(1, min(TASK, ROWS // design.n_steps))
    stops = (FIRST, len(shifts)) if design.n_steps > LONG else (len(shifts),)
    done = [np.empty((2, 0))]
    for first, last in itertools.pairwise((0, *stops)):
        tasks = [shifts[i : min(i + each, last)] for i in range(first, last, each)]
        done += map(np.stack, map_tasks(partial(shuffled, ready, columns), tasks, context.executor))
        estimates, t = np.concatenate(done, axis=1)
        good = np.isfinite(t)
        if not np.isfinite(own) or good.mean() < 0.9:
            raise ModelError("too few of the shuffled series can be fitted")
        t, estimates = t[good], estimates[good]
        n = len(t)
        p_value = (1 + int(np.sum(np.abs(t) >= abs(own) - 1e-9))) / (1 + n)
        error = 1.96 * float(np.sqrt(p_value * (1 - p_value) / (1 + n)))
        if abs(p_value - LEVEL) > 1.5 * error:
            break
    rare, excludes = p_value <= LEVEL, found.side != 0
    verdict = (
        "cannot_tell" if abs(p_value - LEVEL) <= error else "holds" if excludes == rare else "does_not_hold"
    )
    # One statistic throughout: t, drawn in points by the one factor that puts this study's t at its estimate.
    scale = here / own if own else found.std_error
    reach = scale * edge(t)
    claim = context.claim(
        NAME,
        verdict,
        "rare" if rare else "often",
        primary=context.measured(found),
        band=Measured(float(np.median(t * scale)), context.unit, -reach, reach),
        t=Measured(own, "standard errors", -edge(t), edge(t)),
        as_they_are=Measured(float(np.median(estimates)), context.unit, *middle(estimates)),
        p=Measured(p_value, "probability", max(0.0, p_value - error), min(1.0, p_value + error)),
        shuffles=Measured(n, "shuffles"),
        **asked,
    )
    drawn = {"mark": here, "band": [-reach, reach], "reference": 0}
    return Found(claim, Drawing("histogram", pd.DataFrame({"value": t * scale}), drawn))


def edge(t: np.ndarray) -> float:
    """The |t| that this study's must reach for p to be at most `LEVEL`, of the shuffled ones; infinite where
    too few were drawn for that."""
    most = int(LEVEL * (1 + len(t))) - 1
    return float(np.sort(np.abs(t))[len(t) - 1 - most]) if most >= 0 else np.inf


def moving(design: Design, column: str, load: bool) -> tuple[str, ...]:
    """Columns that slide together: of `load` all that describe the step's training, else its within part."""
    together = (column, "log_usual", "rested", "restarted", *(f"{term}_within" for term in OF_TRAINING))
    return tuple(name for name in design.names if name in together) if load else (column,)


def draw_shifts(counts: np.ndarray, n: int, rng: np.random.Generator) -> np.ndarray:
    """(n, people) shifts, each uniform on 0 .. that person's steps - 1; rows that move nobody are drawn
    again. ModelError when nobody has two steps."""
    if counts.max() < 2:
        raise ModelError("nobody has two complete steps, so that nothing can be slid along")
    shifts = rng.integers(0, counts, (n, len(counts)))
    while True:
        still = ~shifts.any(axis=1)
        if not still.any():
            return shifts
        shifts[still] = rng.integers(0, counts, (int(still.sum()), len(counts)))


def slid_rows(person: np.ndarray, shifts: np.ndarray) -> np.ndarray:
    """(B, n) which row each row takes its values from under (B, people) shifts: the person's own that many
    rows earlier, wrapping round."""
    count = np.bincount(person)
    start = np.concatenate([[0], np.cumsum(count)[:-1]])[person]
    return start + (np.arange(len(person)) - start - shifts[:, person]) % count[person]


def shuffled(ready: Variants, columns: tuple[str, ...], shifts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Estimates and t of (B, people) shifts."""
    at = [ready.design.names.index(name) for name in columns]
    found = ready.exchange(columns, ready.design.X[:, at][slid_rows(ready.design.person, shifts)])
    return found.estimate, found.estimate / found.std_error
