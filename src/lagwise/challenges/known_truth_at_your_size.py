"""Does the analysis find a known truth in records of this study's own size, gaps, rating error and feedback?"""

from __future__ import annotations

from collections.abc import Hashable
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Row, numbers, row
from lagwise.challenges.phrases import capital, fixed, listed, places, sample, step_word
from lagwise.challenges.small_world import COLUMNS, MECHANISMS, PEOPLE, Cell, World, ratings, simulate, world_of
from lagwise.challenges.work import map_tasks, seeds
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Picture
from lagwise.models.rated_fit import RatedFit

NAME = "known_truth_at_your_size"
TITLE = "A known truth at this study's size"
QUESTION = "In simulated records of this size, with these gaps, ratings as inexact and this answer of {exposure} to pain, does the analysis find what was put in?"
LIMITS = (
    "The simulated records follow the model that is tried on them: the same slope for everybody, a rating error that is new in every {step}, gaps where this study has them whatever the pain. How inexact ratings are is "
    "itself estimated. It shows what size, gaps, rating error and feedback alone do to the answer, and nothing about causes that were not recorded."
)
CASELOADS, QUICK = 500, 200
JOINT, JOINT_QUICK = (50, 15), (16, 6)
"""Caseloads that the joint model is put to, at a true 0 and in any other setting, in records of up to `ROWS` person-steps; fewer, and at least half of it, in longer ones."""
ROWS = 1500
GOOD, BAD = 0.925, 0.90
SEEN, OFF = 0.80, 0.2
"""Share of caseloads in which the smallest important difference must be seen, and the share of itself by which it may be off."""
APART = 0.1
"""Share of the smallest important difference by which the estimate must lie off the other truths to be one of its own."""
RIGHT = {"during": "pain first", "before": "load first"}


def run(context: Context) -> Challenge:
    """Simulates 500 caseloads (200 when quick) in each setting: a true difference of 0, of the smallest that is important (the plan's `important_change`, on the estimate's side of 0) and of the estimate, where that is another one, under
    two mechanisms. Pain first: load answers the pain of its own {step}. Load first: load answers the pain before and moves the pain of its own {step} as well. People, {steps}, gaps, rest, spread and what other exposures add are
    this study's own; so are carry-over, the error of ratings and the answer of load to the pain that lasts, by the joint model (`fit_rated`) or, where that is not usable, from what ratings say once their error is allowed for (`models.rating_noise`). Each caseload is analysed by the primary
    mixed model with person intercepts (within people below 10). Where the joint model leads, it is put to 50 of the caseloads at a true 0 with pain first (16 when quick) and to 15 (6) at the other truths and at 0 with load first, half of that in long records, and to at most 100 people, evenly spread. A report would name a difference where both estimates leave out 0 on the same side.
    Where the mixed model leads, a true 0 is also tried at the least and the largest rating error that the ratings allow (95 % interval).

    Verdict, for the estimate that leads, in the mechanism that it is made for (pain first for the joint model and where the mixed one holds pain during the {step} equal, else load first): holds when the intervals cover the truth in at
    least 92.5 of 100 caseloads (or less by no more than one Monte Carlo error) at 0 and at the estimate, with a bias of at most half a standard error, in no fewer than 90 of 100 by more than two Monte Carlo errors at either limit of the rating error (mixed model), and when the smallest important difference is seen (an interval on its
    side of 0, of both estimates where the joint model leads) in at least 80 of 100, off by at most a fifth of itself on average; does_not_hold when coverage is below 90 of 100 by more than two Monte Carlo errors at 0 or at the estimate; else cannot_tell.
    """
    p, led = context.primary, context.led
    noise = ratings(context.panel, context.joint)
    world = world_of(context.panel, context.design, p.column, p.size, context.joint)
    right = MECHANISMS[0] if led else RIGHT[p.pain_adjusted]
    cells = _cells(context, world, right, (noise.error_sd.low, noise.error_sd.high))
    tables = map_tasks(partial(simulate, world), cells, context.executor)
    found = pd.DataFrame([s for c, t in zip(cells, tables, strict=True) for s in _summaries(c, t, p.size)])
    decimals = places(p.answer.low, p.answer.high)
    found["label"] = [_where(c, decimals) for c in found.to_dict("records")]
    leads = found["joint"] == (led is not None)
    own, other = (
        found[leads & found["error"].isna() & (found["mechanism"].eq(right) == same)] for same in (True, False)
    )
    limits = found[found["error"].notna()]
    verdict = judged(own.iloc[:-1], limits, own.iloc[-1])
    reading = {
        "holds": "At this size the analysis finds what was put in.",
        "does_not_hold": "At this size the intervals leave out the truth too often to be taken at their word.",
        "cannot_tell": "At this size the analysis is not quite true to what was put in.",
    }[verdict]
    step = step_word(context.panel.study)
    sure = f"({noise.error_sd.low:.1f} to {noise.error_sd.high:.1f} possible{'' if noise.told else ', hardly told by these ratings'})"
    tell = _by_both if led else _by_one
    sentence = (
        f"In simulated caseloads with load that answers pain as it does here ({right}) and ratings off by an SD of {noise.error_sd.value:.1f} points {sure}, {tell(own, other, found, decimals)} ({sample(p.answer, step)}). "
        f"{_some_people(led)}{reading}"
    )
    rows = [one for c in found.to_dict("records") for one in _rows(c)]
    carry, answer = noise.carry_over, 100 * float(np.expm1(world.answers[MECHANISMS.index(right)]))
    rows += [
        row("error SD of a rating", noise.error_sd.value, "points", noise.error_sd.low, noise.error_sd.high),
        row("carry-over of the pain that lasts", carry.value, "points per point", carry.low, carry.high),
        row("answer of load to the pain that lasts", answer, "% per point"),
        row("simulated caseloads in each setting", cells[0].caseloads, "caseloads"),
    ]
    if led:
        rows.append(row("simulated caseloads the joint model was put to at a true 0", cells[0].joint, "caseloads"))
    data = found.rename(columns={"mean": "estimate", "p025": "low", "p975": "high"})[
        ["label", "estimate", "low", "high"]
    ]
    picture = Picture(
        "intervals",
        "What the analysis finds when the truth is known",
        data.assign(group=""),
        f"difference in pain, points, per {p.label}: mean and middle 95 of 100 caseloads",
        "",
        "; ".join(f"{a}: mean {fixed(b, decimals)}" for a, b in zip(data["label"], data["estimate"], strict=True))
        + ".",
        {"reference": 0, "subtitle": f"{_counted(found)}; {sample(p.answer, step)}"},
    )
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def _cells(context: Context, world: World, right: str, limits: tuple[float, float]) -> list[Cell]:
    """The settings: each mechanism at each truth, the right one first; and, where the mixed model leads, a true 0 at the limits of the rating error."""
    p, led, quick = context.primary, context.led, context.quick
    estimate = led.contrast("jump", p.size)[0] if led else p.answer.estimate
    effects, n = truths(estimate, p.important, p.size), QUICK if quick else CASELOADS
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


def _by_one(own: pd.DataFrame, other: pd.DataFrame, found: pd.DataFrame, decimals: int) -> str:
    null, limits = own.iloc[0], found[found["error"].notna()]["coverage"]
    return (
        f"{null['n']} in each setting, a true 0 gave on average {fixed(null['mean'], decimals)} points and an interval without 0 in "
        f"{_of_100(1 - null['coverage'])} caseloads (Monte Carlo error {100 * null['coverage_error']:.1f}; 5 are expected), {listed([f'{100 * (1 - c):.1f}' for c in limits])} at the least and largest error; "
        f"{listed([_real(c, decimals) for c in own.iloc[1:].to_dict('records')])}. "
        f"With {other.iloc[0]['mechanism']} coverage would be {listed([f'{100 * c:.1f}' for c in other['coverage']])} of 100"
    )


def _by_both(own: pd.DataFrame, other: pd.DataFrame, found: pd.DataFrame, decimals: int) -> str:
    null, late, plain = own.iloc[0], other.iloc[0], found[~found["joint"]].iloc[0]
    real = [f"{_real(c, decimals)} ({c['n']} caseloads, Monte Carlo errors {100 * c['coverage_error']:.1f} and {100 * c['seen_error']:.1f})" for c in own.iloc[1:].to_dict("records")]  # fmt: skip
    return (
        f"a true 0 gave by the joint model on average {fixed(null['mean'], decimals)} points and an interval without 0 in {_of_100(1 - null['coverage'])} ({null['n']} caseloads, Monte Carlo error {100 * null['coverage_error']:.1f}; 5 are expected), "
        f"and one in {_of_100(1 - plain['coverage'])} by the mixed model, with ratings as they are ({plain['n']} caseloads). Both lay on the same side, so that a report would name a difference, in {_of_100(null['named'])} (Monte Carlo error {100 * null['named_error']:.1f}). "
        f"{capital(listed(real))}. With {late['mechanism']} a true 0 would be covered in {_of_100(late['coverage'])} ({late['n']} caseloads, Monte Carlo error {100 * late['coverage_error']:.1f}) and a difference named in {_of_100(late['named'])}"
    )


def _some_people(led: RatedFit | None) -> str:
    if led is None or len(led.data.people) <= PEOPLE:
        return ""
    return f"To keep it short the joint model was put to {PEOPLE} of the {len(led.data.people)} people, so that its intervals are wider there than the study's. "


def _counted(found: pd.DataFrame) -> str:
    n = found.groupby("joint")["n"]
    said = [f"{n.max()[False]} simulated caseloads each"]
    if found["joint"].any():
        said.append(f"{n.min()[True]} to {n.max()[True]} by the joint model")
    return ", ".join(said)


def truths(estimate: float, important: float, size: float) -> tuple[float, ...]:
    """True differences per unit of the exposure: 0, the estimate where it is `APART` from the others, and the smallest important one on its side of 0."""
    far = important if estimate >= 0 else -important
    own = (estimate,) if min(abs(estimate), abs(estimate - far)) > APART * important else ()
    return tuple(v / size for v in (0.0, *own, far))


def _of_100(share: float) -> str:
    return f"{100 * share:.1f} of 100"


def _real(cell: dict[Hashable, Any], decimals: int) -> str:
    seen = "named" if cell["joint"] else "seen"
    return f"a true {fixed(cell['truth'], decimals)} gave {fixed(cell['mean'], decimals)} on average, was covered in {_of_100(cell['coverage'])} and {seen} in {_of_100(cell['seen'])}"


def _where(cell: dict[Hashable, Any], decimals: int) -> str:
    error = "" if np.isnan(cell["error"]) else f", rating error {cell['error']:.2f}"
    return (
        f"{'joint model, ' if cell['joint'] else ''}{cell['mechanism']}, true {fixed(cell['truth'], decimals)}{error}"
    )


def _rows(cell: dict[Hashable, Any]) -> list[Row]:
    where, reach = cell["label"], 1.96 * cell["bias_error"]
    rows = [
        row(f"bias: {where}", cell["bias"], "points", cell["bias"] - reach, cell["bias"] + reach),
        row(f"coverage: {where}", cell["coverage"], "share", *_around(cell["coverage"], cell["coverage_error"])),
        row(f"intervals without 0: {where}", cell["without_0"], "share"),
    ]
    if cell["joint"]:
        named = f"difference named by both estimates: {where}"
        rows.append(row(named, cell["named"], "share", *_around(cell["named"], cell["named_error"])))
    return rows


def judged(own: pd.DataFrame, limits: pd.DataFrame, important: pd.Series) -> str:
    """The verdict from the settings of 0 and the estimate, of 0 at the `limits` of the rating error, and of the smallest important difference."""

    def low(cells: pd.DataFrame) -> bool:
        return bool((cells["coverage"] + 2 * cells["coverage_error"] < BAD).any())

    if low(own):
        return "does_not_hold"
    fair = (own["coverage"] + own["coverage_error"] >= GOOD) & (own["bias"].abs() <= own["std_error"] / 2)
    enough = important["seen"] >= SEEN and abs(important["bias"]) <= OFF * abs(important["truth"])
    return "holds" if fair.all() and not low(limits) and enough else "cannot_tell"


def _summaries(cell: Cell, table: pd.DataFrame, size: float) -> list[dict[str, float | str | bool]]:
    """What the mixed model found in one setting and, where it was put to some of the caseloads, the joint model."""
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
) -> dict[str, float | str | bool]:
    known = table.dropna()
    if len(known) < len(table) / 2:
        raise ModelError("more than half of the simulated caseloads could not be fitted")
    truth, n = cell.effect * size, len(known)
    named = named[table.notna().all(axis=1)]
    covered = float(((known["low"] <= truth) & (known["high"] >= truth)).mean())
    seen, any_side = float((named == np.sign(truth)).mean()), float((named != 0).mean())
    bias = float(known["estimate"].mean()) - truth
    low, high = np.quantile(known["estimate"], [0.025, 0.975])
    return {
        "joint": joint,
        "n": n,
        "mechanism": cell.mechanism,
        "error": np.nan if cell.error is None else cell.error,
        "truth": truth,
        "mean": bias + truth,
        "bias": bias,
        "bias_error": float(known["estimate"].std() / np.sqrt(n)),
        "coverage": covered,
        "coverage_error": _error(covered, n),
        "seen": seen,
        "seen_error": _error(seen, n),
        "named": any_side,
        "named_error": _error(any_side, n),
        "without_0": float((sides(known) != 0).mean()),
        "std_error": float(known["std_error"].mean()),
        "p025": float(low),
        "p975": float(high),
    }


def _error(share: float, n: int) -> float:
    """Monte Carlo error of a share of n, worked out at one more with and one more without, so that all or none are not taken for certain."""
    around = (n * share + 1) / (n + 2)
    return float(np.sqrt(around * (1 - around) / n))


def _around(share: float, error: float) -> tuple[float, float]:
    return max(0.0, share - 1.96 * error), min(1.0, share + 1.96 * error)
