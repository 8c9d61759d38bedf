"""Is a known truth found in records of this study's own size, gaps, rating error and feedback?"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Found, about_later_load, intervals
from lagwise.challenges.estimate import middle
from lagwise.challenges.small_world import COLUMNS, MECHANISMS, Cell, World, ratings, simulate, world_of
from lagwise.challenges.work import seeds
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError
from lagwise.core.numbers import decimals

NAME = "known_truth_at_your_size"
HERE = True
CASELOADS, QUICK, LONG = 500, 200, 5_000
"""Caseloads in each setting; fewer when quick, and in records of more than so many person-steps."""
JOINT, JOINT_QUICK = (50, 15), (16, 6)
"""Caseloads that the joint model is put to, at a true 0 and in any other setting, in records of up to `ROWS`
person-steps; fewer, and at least half of it, in longer ones.
"""
ROWS = 1500
GOOD, BAD = 0.925, 0.90
SEEN, OFF = 0.80, 0.2
"""Share of caseloads in which the smallest important difference must be seen, and the share of itself by
which it may be off.
"""
APART = 0.1
"""Share of the smallest important difference by which the estimate must lie off the other truths to be one of
its own.
"""
RIGHT = dict(zip(("during", "before"), MECHANISMS, strict=True))
applies = about_later_load


def run(context: Context) -> Found:
    """Simulates 500 caseloads (200 when quick, or with more than 5,000 person-{steps}) in each setting: a
    true difference of 0, of the smallest that is important (the plan's `important_change`, on the estimate's
    side of 0) and of the estimate, where that is another one, under two mechanisms. {Outcome} first: load
    answers the {outcome} of its own {step}. Load first: load answers the {outcome} before and moves the
    {outcome} of its own {step} as well. People, {steps}, gaps, rest, spread and what other exposures add are
    this study's own; so are carry-over, the error of ratings and the answer of load to the {outcome} that
    lasts, by the joint model (`fit_rated`) or, where that is not usable, from what ratings say once their
    error is allowed for (`models.rating_noise`). Each caseload is analysed by the primary mixed model with
    person intercepts (within people below 10). Where the joint model leads, it is put to 50 of the caseloads
    at a true 0 with {outcome} first (16 when quick) and to 15 (6) at the other truths and at 0 with load
    first, half of that in long records, and to at most 100 people, evenly spread. A report would name a
    difference where both estimates leave out 0 on the same side. Where the mixed model leads, a true 0 is
    also tried at the least and the largest rating error that the ratings allow (95 % interval).

    Verdict, for the estimate that leads, in the mechanism that it is made for ({outcome} first for the joint
    model and where the mixed one holds {outcome} during the {step} equal, else load first): holds when the
    intervals cover the truth in at least 92.5 of 100 caseloads at 0 and at the estimate, with a bias of at
    most half a standard error (both give or take one Monte Carlo error), in no fewer than 90 of 100 by more
    than two Monte Carlo errors at either limit of the rating error (mixed model), and when the smallest
    important difference is seen (an interval on its side of 0, of both estimates where the joint model leads)
    in at least 80 of 100, off by at most a fifth of itself on average (give or take one Monte Carlo error);
    does_not_hold when coverage is below 90 of 100 by more than two Monte Carlo errors at 0 or at the
    estimate; else cannot_tell.
    """
    p, led = context.primary, context.led
    noise = ratings(context.panel, context.joint)
    world = world_of(context.panel, context.design, p.column, p.size, context.joint)
    right = MECHANISMS[0] if led else RIGHT[p.pain_adjusted]
    cells = _cells(context, world, right, (noise.error_sd.low, noise.error_sd.high))
    tables = simulate(world, cells, context.each)
    every = [s for c, t in zip(cells, tables, strict=True) for s in _summaries(c, t, p.size)]
    found = pd.DataFrame(every)
    leads = found["joint"] == (led is not None)
    limits = found[found["error"].notna()]
    of_leader = found[leads & found["error"].isna()]
    own = of_leader[of_leader["mechanism"].eq(right)]
    verdict = judged(own.iloc[:-1], limits, own.iloc[-1])
    unit, per, tenth = context.unit, context.outcome.variable.unit, context.outcome.scale
    places = decimals(p.answer.low, p.answer.high)
    answer = 100 * float(np.expm1(tenth * world.answers[MECHANISMS.index(right)]))
    told: dict[str, Any] = {"led": led is not None, "told_by_ratings": noise.told}
    told |= {"primary": context.measured(p.answer, told=False)}
    told |= {"people": Measured(0 if led is None else len(led.data.people), "people", told=False)}
    told |= {f"{i}/{m.of[0]}": m for i, one in enumerate(every) for m in measured(one, unit, places)}
    for name, span, its in (
        ("error", noise.error_sd, unit),
        ("carry", noise.carry_over, f"{unit} per {per}"),
    ):
        told[name] = Measured(span.value, its, span.low, span.high)
    told["answer"] = Measured(answer, f"% per {per if tenth == 1 else f'{tenth:g} {unit}'}")
    told["caseloads"] = Measured(cells[0].caseloads, "caseloads")
    if led:
        told["joint_caseloads"] = Measured(cells[0].joint, "caseloads")
    claim = context.claim(NAME, verdict, right.split()[0], **told)
    return Found(claim, intervals(claim, *(f"{i}/mean" for i in range(len(every)))))


def measured(cell: dict[str, Any], unit: str, places: int) -> list[Measured]:
    """What one setting came to, each number named first in `of`, which labels it: name, joint model or not,
    mechanism, truth, decimals to say it with, rating error (None for the study's own). Labels hold an
    estimate, so that none is ever shared.
    """
    setting = (cell["joint"], cell["mechanism"], cell["truth"], places, cell["error"])

    def one(
        name: str, unit: str, low: float = np.nan, high: float = np.nan, *, told: bool = True
    ) -> Measured:
        return Measured(cell[name], unit, low, high, of=(name, *setting), told=told, alone=True)

    def around(name: str) -> Measured:
        share, reach = cell[name], 1.96 * cell[f"{name}_error"]
        return one(name, "share", max(0.0, share - reach), min(1.0, share + reach))

    reach = 1.96 * cell["bias_error"]
    untold = ("seen", "coverage_error", "seen_error", "named_error")
    return [
        one("bias", unit, cell["bias"] - reach, cell["bias"] + reach),
        around("coverage"),
        one("without_0", "share"),
        *([around("named")] if cell["joint"] else []),
        one("mean", unit, cell["p025"], cell["p975"], told=False),
        *(one(name, "share", told=False) for name in untold),
        one("n", "caseloads", told=False),
    ]


def _cells(context: Context, world: World, right: str, limits: tuple[float, float]) -> list[Cell]:
    """The settings: each mechanism at each truth, the right one first; and, where the mixed model leads, a
    true 0 at the limits of the rating error.
    """
    p, led, quick = context.primary, context.led, context.quick
    estimate = led.contrast(p.column, p.size)[0] if led else p.answer.estimate
    effects = truths(estimate, context.outcome.important, p.size)
    n = QUICK if quick or context.design.n_steps > LONG else CASELOADS
    both = (right, *(m for m in MECHANISMS if m != right))
    settings: list[tuple[str, float, float | None]] = [(m, e, None) for m in both for e in effects]
    settings += [] if led else [(right, 0.0, sd) for sd in limits]
    share = min(1.0, max(0.5, ROWS / max(len(world.joint_rows), 1)))
    first, then = (int(share * k) if led else 0 for k in (JOINT_QUICK if quick else JOINT))
    streams = seeds(context.seed_of(NAME), len(settings))
    return [
        Cell(m, e, n, s, sd, joint=0 if m != right and e else then if m != right or e else first)
        for (m, e, sd), s in zip(settings, streams, strict=True)
    ]


def truths(estimate: float, important: float, size: float) -> tuple[float, ...]:
    """True differences per unit of the exposure: 0, the estimate where it is `APART` from the others, and the
    smallest important one on its side of 0.
    """
    far = important if estimate >= 0 else -important
    own = (estimate,) if min(abs(estimate), abs(estimate - far)) > APART * important else ()
    return tuple(v / size for v in (0.0, *own, far))


def judged(own: pd.DataFrame, limits: pd.DataFrame, important: pd.Series) -> str:
    """The verdict from the settings of 0 and the estimate, of 0 at the `limits` of the rating error, and of
    the smallest important difference.
    """

    def low(cells: pd.DataFrame) -> bool:
        return bool((cells["coverage"] + 2 * cells["coverage_error"] < BAD).any())

    if low(own):
        return "does_not_hold"
    covered = own["coverage"] + own["coverage_error"] >= GOOD
    fair = covered & (own["bias"].abs() - own["bias_error"] <= own["std_error"] / 2)
    off = abs(important["bias"]) - important["bias_error"]
    enough = important["seen"] >= SEEN and off <= OFF * abs(important["truth"])
    return "holds" if fair.all() and not low(limits) and enough else "cannot_tell"


def _summaries(cell: Cell, table: pd.DataFrame, size: float) -> list[dict[str, Any]]:
    """What the mixed model found in one setting and, where it was put to some of the caseloads, the joint
    model.
    """
    mixed = table[list(COLUMNS)]
    rows = [_summary(cell, mixed, sides(mixed), size, joint=False)]
    if cell.joint:
        some = table.iloc[: cell.joint]
        joint = some[[f"joint_{c}" for c in COLUMNS]].set_axis(list(COLUMNS), axis=1)
        both = np.where(sides(joint) == sides(some), sides(joint), 0)
        rows.append(_summary(cell, joint, both, size, joint=True))
    return rows


def sides(table: pd.DataFrame) -> np.ndarray:
    """The side of 0 on which each interval lies: -1, 1, or 0 where it includes 0."""
    return (table["low"] > 0).to_numpy(dtype=int) - (table["high"] < 0).to_numpy(dtype=int)


def _summary(
    cell: Cell, table: pd.DataFrame, named: np.ndarray, size: float, *, joint: bool
) -> dict[str, Any]:
    known, named = table.dropna(), named[table.notna().all(axis=1)]
    if len(known) < len(table) / 2:
        raise ModelError("more than half of the simulated caseloads could not be fitted")
    truth, n = cell.effect * size, len(known)
    bias, (low, high) = float(known["estimate"].mean()) - truth, middle(known["estimate"].to_numpy())
    shares = {
        "coverage": float(((known["low"] <= truth) & (known["high"] >= truth)).mean()),
        "seen": float((named == np.sign(truth)).mean()),
        "named": float((named != 0).mean()),
        "without_0": float((sides(known) != 0).mean()),
    }
    return {
        "joint": joint,
        "n": float(n),
        "mechanism": cell.mechanism,
        "error": cell.error,
        "truth": truth,
        "mean": bias + truth,
        "bias": bias,
        "bias_error": float(known["estimate"].std() / np.sqrt(n)),
        **shares,
        **{f"{name}_error": _error(share, n) for name, share in shares.items()},
        "std_error": float(known["std_error"].mean()),
        "p025": low,
        "p975": high,
    }


def _error(share: float, n: int) -> float:
    """Monte Carlo error of a share of n, worked out at one more with and one more without, so that all or
    none are not taken for certain.
    """
    around = (n * share + 1) / (n + 2)
    return float(np.sqrt(around * (1 - around) / n))
