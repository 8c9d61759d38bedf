"""Simulated records of this study's own size, gaps, rating error and feedback, with a known effect."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from lagwise.challenges.work import map_tasks
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.core.gate import gate_for
from lagwise.core.question import Outcome, held_column
from lagwise.core.results import Panel
from lagwise.core.study import INTERVAL
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import Design, centred_on_people
from lagwise.models.kernel import fit
from lagwise.models.rated import told_by
from lagwise.models.rated_fit import RatedFit, fit_joint
from lagwise.models.rating_noise import RatingNoise, rating_noise
from lagwise.models.rows import limits
from lagwise.models.within import fit_within
from lagwise.panel.arrays import evenly, people_of
from lagwise.panel.derive import load_columns, split_parts, usual_load, usual_within

MECHANISMS = ("outcome first", "load first")
CHUNK, PART = 100, 8
"""Caseloads that are simulated at once, and that the joint model is put to in one task."""
PEOPLE = 100
"""At most so many people, evenly spread, enter the joint model of a simulated caseload."""
COLUMNS = ("estimate", "std_error", "low", "high")
UNKNOWN = (np.nan,) * len(COLUMNS)
type Each = Callable[[Callable[..., pd.DataFrame], Sequence[Any]], list[pd.DataFrame]]


@dataclass(frozen=True)
class World:
    """What the simulation takes from the study. Grids are (people, longest record); `row_*` map panel rows to
    the grid.

    `level` person means of pain, `log_load` of log load; `carry`, `noise` the slope and SD of the next pain,
    the one that lasts; `error` the SD of a rating around it; `answers` log load per point of that pain of the
    same step and of the step before, `echo` per point of the error of the rating; `load_noise`, `load_memory`
    SD and order-1 autocorrelation of what is left of log load; `pull` what exposures other than load add to
    the next pain; `rest` steps known to be rest; `known_load`, `known_pain` masks by panel row. `joint` is
    the study's own joint model, of some of its people where they are many, None where there is none; its rows
    are the panel's at `joint_rows`. `usual` holds the steps of the usual load, and how many of them it needs.
    """

    design: Design
    outcome: Outcome
    column: str
    size: float
    level: np.ndarray
    log_load: np.ndarray
    carry: float
    noise: float
    error: float
    answers: tuple[float, float]
    echo: float
    load_noise: float
    load_memory: float
    pull: np.ndarray
    rest: np.ndarray
    row_person: np.ndarray
    row_step: np.ndarray
    known_load: np.ndarray
    known_pain: np.ndarray
    rows: np.ndarray
    joint: RatedFit | None
    joint_rows: np.ndarray
    usual: tuple[int, int]


@dataclass(frozen=True)
class Cell:
    """One setting: the mechanism, the true difference per unit of jump, how many caseloads, their seed, the
    SD of a rating where it is not the world's own, and how many of the caseloads (at most `CHUNK`) the joint
    model is put to as well.
    """

    mechanism: str
    effect: float
    caseloads: int
    seed: np.random.SeedSequence
    error: float | None = None
    joint: int = 0


def world_of(panel: Panel, design: Design, column: str, size: float, joint: RatedFit | None = None) -> World:
    """Everything the simulation needs, estimated within people by least squares and from the moments of the
    ratings.

    Ratings carry error, so that what least squares says of their course and of load's answer to them is
    shrunk. Carry-over, rating error, the SD of the next pain and the answer of load to pain, and to the error
    of its rating, are the `joint` model's where there is one. Else carry-over and rating error are those of
    `rating_noise`; the answer of load is that to the rating over its reliability; the SD of the next pain is
    that of the model's residual less what rating error adds to it, at both ends. ModelError when the primary
    exposure is not load or its answer to pain cannot be estimated."""
    outcome, variables, frame = panel.study.outcome, panel.study.variables, panel.frame
    pain = held_column(outcome, design.pain_adjusted)
    if column not in variables or not variables[column].whole:
        raise NotApplicable("the simulation is written for load; the primary exposure is another one")
    if f"{pain}_within" not in design.names:
        raise ModelError("pain does not vary within people, so that its course cannot be simulated")
    names, person = people_of(frame)
    step, load = frame["step"].to_numpy(dtype=int), frame["load"]
    grid = (len(names), int(step.max()) + 1)
    told = ratings(panel, joint)
    slopes, left_over = _within(design.X[:, 1:], design.y, design.person)
    known = dict(zip(design.names[1:], slopes, strict=True))
    log_load = np.log(load.where(load > 0)).to_numpy(dtype=float)
    now, before = (frame[c].to_numpy(dtype=float) for c in (outcome.name, outcome.before))
    at_once, load_noise, memory = _answer(log_load, now, person, step)
    later = _answer(log_load, before, person, step)[0]
    share, lasting, echo = told.reliability.value, told.lasting_sd, 0.0
    if joint is None:
        felt, noise = at_once / share, lasting_noise(told, left_over)
    else:
        felt, noise = told.answer.value, lasting * np.sqrt(1 - told.carry_over.value**2)
        passing = np.exp(2 * joint.free[8])
        echo = -float(joint.free[9] * passing / (passing + joint.days)) / joint.data.scale
    pull, rest, place = np.zeros(grid), np.zeros(grid, dtype=bool), np.full(grid, -1)
    for name, slope in known.items():
        if name.endswith("_within") and name != f"{pain}_within":
            pull[person, step] += slope * np.nan_to_num(frame[name].to_numpy(dtype=float))
    if "rested" in known:
        pull[person, step] += known["rested"] * frame["rested"].eq(1).to_numpy()
    if "step" in known:
        pull += known["step"] * (np.arange(grid[1]) - step.mean())
    place[person, step] = np.arange(len(frame))
    rest[person, step] = load.eq(0)
    named = {name: i for i, name in enumerate(names)}
    rows = place[[named[str(v)] for v in design.frame["person"]], design.frame["step"].to_numpy(dtype=int)]
    answered = (felt - echo) ** 2 * lasting**2 * (1 - share)
    own, own_rows = _of_joint(joint, named, place)
    return World(
        design=design,
        outcome=outcome,
        column=column,
        size=size,
        level=_means(now, person, grid[0]),
        log_load=_means(log_load, person, grid[0]),
        carry=told.carry_over.value,
        noise=noise,
        error=told.error_sd.value,
        answers=(felt, later / share),
        echo=echo,
        load_noise=_less(load_noise, answered),
        load_memory=memory,
        pull=pull,
        rest=rest,
        row_person=person,
        row_step=step,
        known_load=load.notna().to_numpy(),
        known_pain=frame[pain].notna().to_numpy(),
        rows=rows,
        joint=own,
        joint_rows=own_rows,
        usual=(panel.study.load.usual_steps, panel.study.load.usual_needs),
    )


def ratings(panel: Panel, joint: RatedFit | None) -> RatingNoise:
    """What ratings say of themselves and of load's answer, by the joint model where there is one."""
    return rating_noise(panel) if joint is None else told_by(joint, rating_noise(panel))


def _of_joint(
    joint: RatedFit | None, named: dict[str, int], place: np.ndarray
) -> tuple[RatedFit | None, np.ndarray]:
    """The joint model of at most `PEOPLE` people, and the panel rows of its data."""
    if joint is None:
        return None, np.empty(0, dtype=int)
    m = len(joint.data.people)
    if m > PEOPLE:
        data = joint.data.take(evenly(m, PEOPLE))
        joint = replace(joint, data=data, spread=joint.spread * m / PEOPLE)
    return joint, np.concatenate([place[named[p]][place[named[p]] >= 0] for p in joint.data.people])


def lasting_noise(told: RatingNoise, left_over: float) -> float:
    """SD of the next lasting pain's own noise, from that of the model's residual.

    The residual of the next rating on this one holds, beside it, the next rating's error R and the part of
    lasting pain that this rating does not tell, carry-over^2 V R / (V + R). At least a quarter of the
    residual's variance is left.
    """
    error, share = told.error_sd.value**2, told.reliability.value
    return _less(left_over, error + told.carry_over.value**2 * error * share)


def _less(sd: float, variance: float) -> float:
    """An SD with so much variance taken off, at most three quarters of it."""
    return float(np.sqrt(max(sd**2 - variance, sd**2 / 4)))


def simulate(world: World, cells: Sequence[Cell], each: Each = map_tasks) -> list[pd.DataFrame]:
    """For every setting one row per caseload: estimate, std_error, low, high of the primary contrast by the
    mixed model, and the same as joint_estimate and so on, NaN where the joint model was not put to it or is
    not usable. `each` does the tasks: of a setting the mixed model's, and the joint model's by `PART`.
    """
    parts = [(c, at) for c, one in enumerate(cells) for at in range(0, min(one.joint, CHUNK), PART)]
    tasks = [(cells[c], slice(at, min(at + PART, cells[c].joint))) for c, at in parts]
    found = each(partial(_simulated, world), [*tasks, *((one, None) for one in cells)])
    empty = pd.DataFrame(columns=[f"joint_{c}" for c in COLUMNS], dtype=float)
    return [
        mixed.join(pd.concat([empty, *(found[i] for i, (of, _) in enumerate(parts) if of == c)]))
        for c, mixed in enumerate(found[len(parts) :])
    ]


def _simulated(world: World, task: tuple[Cell, slice | None]) -> pd.DataFrame:
    """The mixed model's estimates of all caseloads of a setting, or the joint model's of some of them."""
    cell, some = task
    rng = np.random.default_rng(cell.seed)
    if some is None:
        sizes = [min(CHUNK, cell.caseloads - i) for i in range(0, cell.caseloads, CHUNK)]
        every = [_estimates(world, *_rows(world, _records(world, cell, n, rng))) for n in sizes]
        return pd.concat(every, ignore_index=True)
    told = _records(world, cell, min(CHUNK, cell.caseloads), rng)
    at, both = (world.row_person, world.row_step), [UNKNOWN] * (some.stop - some.start)
    if world.joint is not None:
        each = zip(told.now[some], told.seen[some], told.usual[some], strict=True)
        both = [_joint(world, world.joint, one[at], *loads) for one, *loads in each]
    columns = [f"joint_{c}" for c in COLUMNS]
    return pd.DataFrame(both, columns=columns, index=range(some.start, some.stop), dtype=float)


@dataclass(frozen=True)
class Records:
    """Simulated caseloads: ratings `now` (n, people, steps + 1), the ones that load answers (n, people,
    steps), and load as it was seen and the usual load (n, panel rows).
    """

    now: np.ndarray
    answered: np.ndarray
    seen: np.ndarray
    usual: np.ndarray


def _records(world: World, cell: Cell, n: int, rng: np.random.Generator) -> Records:
    load, lasting, off, first = _weeks(world, cell, n, rng)
    now = np.clip(lasting + off, *_ends(world))
    # With load first the rating before is the one of the step before; its own in the first step.
    answered = now[:, :, :-1] if first else np.concatenate([now[:, :, :1], now[:, :, :-2]], axis=2)
    seen = np.where(world.known_load, load[:, world.row_person, world.row_step], np.nan)
    usual = usual_load(seen.ravel(), _people(world, n), *world.usual)
    return Records(now, answered, seen, usual.reshape(seen.shape))


def _people(world: World, n: int) -> np.ndarray:
    """(n x panel rows,) the person of every row of n caseloads, each caseload with people of its own."""
    people = int(world.row_person.max()) + 1
    return (np.arange(n)[:, None] * people + world.row_person).ravel()


def _rows(world: World, told: Records) -> tuple[list[int], np.ndarray, np.ndarray]:
    """Columns of the design that differ between caseloads, their values and what is explained."""
    d, at = world.design, (world.row_person, world.row_step)
    person = _people(world, len(told.now))
    columns = load_columns(told.seen.ravel(), told.usual.ravel(), person)
    held = told.now if d.pain_adjusted == "during" else told.answered
    parts = [split_parts(one, at[0]) for one in np.where(world.known_pain, held[:, *at], np.nan)]
    name = held_column(world.outcome, d.pain_adjusted)
    usual = usual_within(columns["log_usual"], told.usual.ravel(), person)
    values = {
        world.column: columns[world.column].reshape(told.seen.shape),
        "log_usual": usual.reshape(told.seen.shape),
        f"{name}_within": np.stack([a for a, _ in parts]),
        f"{name}_between": np.stack([b for _, b in parts]),
    }
    there = [c for c in values if c in d.names]
    X = np.stack([values[c][:, world.rows] for c in there], axis=2)
    y = told.now[:, at[0][world.rows], at[1][world.rows] + 1]
    return [d.names.index(c) for c in there], X, y


def _joint(
    world: World, own: RatedFit, pain: np.ndarray, load: np.ndarray, usual: np.ndarray
) -> tuple[float, ...]:
    """The joint model's estimate, standard error and interval from one caseload, by panel rows."""
    at = world.joint_rows
    with np.errstate(divide="ignore"):
        data = own.data.redrawn(pain[at], np.log(load[at]), np.log(usual[at]))
    try:
        found = fit_joint(data, near=own)
    except np.linalg.LinAlgError:
        return UNKNOWN
    if not found.usable:
        return UNKNOWN
    estimate, std_error, df = found.contrast(world.column, world.size)
    return estimate, std_error, *limits(estimate, std_error, df)


def _weeks(
    world: World, cell: Cell, n: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray, bool]:
    """Load, lasting pain of the step and the error of its rating, (n, people, steps [+ 1 but for load]), and
    whether load answered the pain of its own step.
    """
    (people, T), ends = world.pull.shape, _ends(world)
    first = cell.mechanism == MECHANISMS[0]
    answer = world.answers[0 if first else 1]
    # With load first, part of its sequel runs through the same step's pain: same + carry x same = effect.
    same = 0.0 if first else cell.effect / (1 + world.carry)
    later = cell.effect if first else same
    load, pain = np.zeros((n, people, T)), np.zeros((n, people, T + 1))
    off = rng.normal(0, world.error if cell.error is None else cell.error, (n, people, T + 1))
    spread = world.noise / np.sqrt(1 - world.carry**2)
    pain[:, :, 0] = np.clip(world.level + rng.normal(0, spread, (n, people)), *ends)
    left = rng.normal(0, world.load_noise, (n, people))
    fresh = world.load_noise * np.sqrt(1 - world.load_memory**2)
    for t in range(T):
        by = t if first or t == 0 else t - 1
        left = world.load_memory * left + rng.normal(0, fresh, (n, people))
        trained = np.exp(
            world.log_load + answer * (pain[:, :, by] - world.level) + world.echo * off[:, :, by] + left
        )
        load[:, :, t] = np.where(world.rest[:, t], 0.0, trained)
        past = load[:, :, max(0, t - world.usual[0]) : t]
        usual = past.mean(axis=2) if t else load[:, :, t]
        both = (usual > 0) & (load[:, :, t] > 0)
        jump = np.where(both, np.log(np.where(both, load[:, :, t], 1.0) / np.where(both, usual, 1.0)), 0.0)
        pain[:, :, t] = np.clip(pain[:, :, t] + same * jump, *ends)
        move = world.carry * (pain[:, :, t] - world.level) + later * jump + world.pull[:, t]
        pain[:, :, t + 1] = np.clip(world.level + move + rng.normal(0, world.noise, (n, people)), *ends)
    return load, pain, off, first


def _ends(world: World) -> tuple[float | None, float | None]:
    return world.outcome.variable.low, world.outcome.variable.high


def _estimates(world: World, at: list[int], X: np.ndarray, y: np.ndarray) -> pd.DataFrame:
    d, column = world.design, world.column
    if gate_for(d.n_people).within_only:
        found = []
        for values, answer in zip(X, y, strict=True):
            full = d.X.copy()
            full[:, at] = values
            found.append(fit_within(replace(d, X=full, y=answer)).contrast(column, world.size))
        estimate, error, df = np.array(found).T
    else:
        weights = world.size * (np.array(d.names) == column)
        cross = CrossProducts.build(d.y, d.X, None, d.person)
        both = np.concatenate([X, y[:, :, None]], axis=2)
        contrast = fit(cross.with_columns([*at, cross.p], both)).contrast(weights)
        estimate, error, df = contrast.estimate, contrast.std_error, contrast.df
    reach = stdtrit(df, 0.5 + INTERVAL / 2) * error
    values = (estimate, error, estimate - reach, estimate + reach)
    return pd.DataFrame(dict(zip(COLUMNS, values, strict=True)))


def _means(values: np.ndarray, person: np.ndarray, people: int) -> np.ndarray:
    """(people,) means of known values; the mean over people where a person has none."""
    known = np.isfinite(values)
    n = np.bincount(person[known], minlength=people)
    sums = np.bincount(person[known], weights=values[known], minlength=people)
    means = np.divide(sums, n, out=np.full(people, np.nan), where=n > 0)
    return np.where(n > 0, means, np.nanmean(means))


def _within(X: np.ndarray, y: np.ndarray, person: np.ndarray) -> tuple[np.ndarray, float]:
    """Within-person least squares: slopes (0 for columns without spread) and residual SD."""
    data = centred_on_people(np.column_stack([X, y]), person)
    slopes = np.linalg.lstsq(data[:, :-1], data[:, -1], rcond=1e-10)[0]
    rest = data[:, -1] - data[:, :-1] @ slopes
    return slopes, float(np.sqrt(rest @ rest / max(1, len(y) - person.max() - 1 - X.shape[1])))


def _answer(
    log_load: np.ndarray, pain: np.ndarray, person: np.ndarray, step: np.ndarray
) -> tuple[float, float, float]:
    """Slope of log load on pain beside the step, SD of what it leaves and that rest's lag-1 correlation."""
    known = np.isfinite(log_load) & np.isfinite(pain)
    people, code = np.unique(person[known], return_inverse=True)
    if known.sum() < len(people) + 5:
        raise ModelError("too few trained steps with pain to see how load answers it")
    X = np.column_stack([pain[known], step[known]])
    slope, left = _within(X, log_load[known], code)
    rest = np.full(len(log_load), np.nan)
    rest[known] = centred_on_people((log_load[known] - X @ slope)[:, None], code)[:, 0]
    pair = np.isfinite(rest[1:]) & np.isfinite(rest[:-1]) & (person[1:] == person[:-1])
    memory = np.mean(rest[1:][pair] * rest[:-1][pair]) / np.mean(rest[known] ** 2) if pair.sum() > 5 else 0.0
    return float(slope[0]), left, float(np.clip(memory, -0.9, 0.9))
