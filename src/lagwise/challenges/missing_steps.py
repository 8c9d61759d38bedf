"""Multiple imputation of missing steps, and how different they would have to be to change the reading."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, numbers, row
from lagwise.challenges.estimate import Answer, answer, side
from lagwise.challenges.imputation import Gaps, fill, gaps_of, pooled, rebuilt
from lagwise.challenges.phrases import MINUS, count, difference, fixed, interval, more, places, sample, stays, step_word
from lagwise.challenges.work import map_tasks, seeds
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.core.gate import gate_for
from lagwise.core.results import Challenge, Panel, Picture
from lagwise.core.study import INTERVAL
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import columns_for, design, design_from, usual_held
from lagwise.models.kernel import fit
from lagwise.models.rows import limits
from lagwise.models.within import fit_within
from lagwise.panel.build import panel_from_blocks

NAME = "missing_steps"
TITLE = "Missing {steps}"
QUESTION = "Would the {steps} that are missing have changed the reading?"
LIMITS = (
    "It fills gaps between a person's first and last record and the one {step} after somebody left early; what came later is not filled in. Filled values follow the recorded ones, and the shift "
    "tried on top is the same for everybody; {steps} missing for reasons tied to {exposure} and pain at once can differ in other ways."
)
DELTAS = (-3.0, -2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0, 3.0)
IMPUTATIONS, QUICK = 20, 10
LEAST = 10
"""Steps without pain, and with it, below which nothing is asked of what precedes them."""
EARLY = 3
"""Steps before the caseload's last one at which a record that ends has ended early."""
LEAVING = 0.2
"""Share of people who left early from which the pain they left with counts."""
TIED = 0.03
"""Share of steps by which pain goes unrecorded more, or less, often after the primary contrast from which that counts."""


@dataclass(frozen=True)
class Asked:
    """The primary question, to be asked of every filled panel."""

    exposures: tuple[str, ...]
    pain_adjusted: str
    outcome: str
    column: str
    size: float
    term: str


def run(context: Context) -> Challenge:
    """Fills unknown pain, load, rest and exposures of {steps} within each record, and of the {step} after the last one of people who left early (3 {steps} or more before the caseload's last one, with a record that much shorter than the longest), 20 times (10 when quick) by chained regressions on the other columns, the {step} before and the {step} after; builds every lag
    again; pools by Rubin's rules with Barnard-Rubin df. Then adds delta points to all filled pain (from -3 to 3) and asks again. Mixed model with person intercepts (within people below 10), beside the same
    model of the recorded {steps} alone.

    Verdict: does_not_hold when the pooled interval (delta 0) lies on another side of 0, or includes 0 otherwise than the recorded {steps} alone; holds when that is so for no delta up to the
    plan's flare rise either way; else cannot_tell. Also cannot_tell in the place of holds when at least a fifth of the people left early and their last recorded pain, taken from their own mean and the common trend, has an interval above 0; or when pain of the next {step} goes unrecorded more or less often after the
    primary contrast, at the same pain, by at least 3 of 100 {steps} with an interval that leaves out 0: what is missing is then tied to the exposure, and if to pain as well no filling can undo it.
    """
    p, step = context.primary, step_word(context.panel.study)
    asked = Asked(p.exposures, p.pain_adjusted, p.outcome, p.column, p.size, p.term)
    plain = np.array(_answer(context.panel, asked))
    base_low, base_high = limits(*plain)
    early = leavers(context.panel)
    gaps = gaps_of(lengthened(context.panel, early), p.exposures)
    if not (np.isnan(gaps.values).any() or np.isnan(gaps.rest).any()):
        raise NotApplicable(f"nothing is missing within the records, and nobody left {EARLY} {step}s early or more")
    recorded = context.panel.frame
    unknown, no_load, n = recorded["pain"].isna(), recorded["load"].isna(), len(recorded)
    people = recorded["person"].nunique()
    last = last_pain(recorded, early)
    worse = len(early) >= LEAVING * people and last[1] > 0
    m = QUICK if context.quick else IMPUTATIONS
    tasks = seeds(context.seed_of(NAME), m)
    tried = np.stack(map_tasks(partial(_asked_again, gaps, asked), tasks, context.executor))
    table = pd.DataFrame([_pool(tried[:, i], d) for i, d in enumerate(DELTAS)])
    zero = table[table["delta"] == 0].iloc[0]
    own = side(base_low, base_high)
    turned = np.array([side(low, high) for low, high in zip(table["low"], table["high"], strict=True)]) != own
    edge = context.panel.study.pain.flare_rise
    near = table["delta"].abs().to_numpy() <= edge
    verdict = "does_not_hold" if turned[table["delta"] == 0][0] else "cannot_tell" if (turned & near).any() else "holds"
    lost = unrecorded(context.panel, asked)
    tied = lost is not None and lost.side != 0 and abs(lost.estimate) >= TIED
    if verdict == "holds" and (worse or tied):
        verdict = "cannot_tell"
    at = [float(d) for d in sorted(table["delta"][turned], key=abs)]
    decimals = places(base_low, base_high)
    tipping = (
        f"it first changes at {fixed(at[0], 1)} points"
        if at
        else "it changes at no shift tried, up to 3 points either way"
    )
    reading = {
        "holds": "The reading changes only if the missing weeks were very different from the recorded ones." + stays(own),
        "does_not_hold": "Filling in what is missing changes the reading.",
        "cannot_tell": "People left in worse weeks than their own usual, so that what they did not record is not like what they did."
        if worse
        else f"Pain of the next {step} goes unrecorded {_share(lost)} after {more(p, step)}; were it also high or low {step}s that go unrecorded, no filling could undo it."
        if tied and lost is not None
        else "Missing weeks that are worse or better than the recorded ones by an amount that can happen would change the reading.",
    }[verdict].replace("weeks", f"{step}s")  # fmt: skip
    loads = f" and {100 * no_load.mean():.0f} of 100 no known load" if not no_load.all() else ""
    sentence = (
        f"{100 * unknown.mean():.0f} of 100 {step}s have no pain{loads}. With what is missing filled in, the estimate of a model without person slopes goes from {fixed(plain[0], decimals)} "
        f"({interval(base_low, base_high, decimals)}) to {fixed(zero['estimate'], decimals)} points ({interval(zero['low'], zero['high'], decimals)}); with filled pain shifted, {tipping} "
        f"({count(m, 'imputation')}; {sample(p.answer, step)}). {_left(early, people, last, step)} {reading}"
    )
    rows = [
        row("recorded alone", plain[0], "points", base_low, base_high),
        row("missing filled in", zero["estimate"], "points", zero["low"], zero["high"]),
        *(row(f"filled pain shifted by {r['delta']:+g}".replace("-", MINUS), r["estimate"], "points", r["low"], r["high"]) for r in table.to_dict("records") if r["delta"]),
        row("smallest shift that changes the reading", at[0] if at else np.nan, "points"),
        row(f"{step}s without pain", float(unknown.mean()), f"share of {n}"),
        row(f"{step}s without known load", float(no_load.mean()), f"share of {n}"),
        row("people who left early", len(early), f"of {people}"),
        row("last recorded pain of people who left early, from their own mean", last[0], "points", *last[1:]),
        row(f"pain of the {step} before, from the person's mean: before missing less before recorded", _before(gaps), "points"),
        row("lowest and highest estimate over all shifts", float(zero["estimate"]), "points", float(table["estimate"].min()), float(table["estimate"].max())),
        row("information missing", float(zero["missing"]), "share"),
        *([] if lost is None else [row(f"pain of the next {step} unrecorded after the contrast", 100 * lost.estimate, f"of 100 {step}s", 100 * lost.low, 100 * lost.high)]),
    ]  # fmt: skip
    picture = Picture(
        "curve",
        "The estimate if missing pain was lower or higher than filled in",
        table.rename(columns={"delta": "x"})[["x", "estimate", "low", "high"]],
        "shift of filled pain, points",
        f"difference in pain, points, per {p.label}",
        f"Filled in: {fixed(zero['estimate'], decimals)} points ({interval(zero['low'], zero['high'], decimals)}); {tipping}.",
        {
            "reference": 0,
            "subtitle": f"{100 * unknown.mean():.0f} of 100 {step}s without pain; {sample(p.answer, step)}",
        },
    )
    return Challenge(NAME, TITLE, QUESTION, verdict, numbers(rows), sentence, LIMITS, picture)


def leavers(panel: Panel) -> list[str]:
    """People whose record ends at least `EARLY` steps before the caseload's last one and is that much shorter than the longest."""
    last = panel.blocks.groupby("person", sort=True)["step_start"].max()
    steps = panel.blocks.groupby("person", sort=True).size()
    behind = (last.max() - last) / pd.Timedelta(days=panel.study.clock.step_days)
    return [str(who) for who in last.index[(behind >= EARLY) & (steps.max() - steps >= EARLY)]]


def lengthened(panel: Panel, people: list[str]) -> Panel:
    """The panel with one more step, of which nothing is known, after the last one of these people."""
    blocks = panel.blocks
    ends = blocks[blocks["person"].isin(people)].groupby("person", sort=False).tail(1)
    if ends.empty:
        return panel
    counts = dict.fromkeys(("n_sessions", "n_checkins", "n_ratings"), 0)
    known = {"person", "step", "step_start", "source", "recorded", *counts}
    after = ends.assign(
        step=ends["step"] + 1, step_start=ends["step_start"] + pd.Timedelta(days=panel.study.clock.step_days),
        recorded="unknown", **counts, **{name: np.nan for name in blocks.columns if name not in known},
    ).astype(blocks.dtypes.to_dict())  # fmt: skip
    order = {who: i for i, who in enumerate(dict.fromkeys(blocks["person"]))}
    both = pd.concat([blocks, after], ignore_index=True)
    both = both.assign(_at=both["person"].map(order)).sort_values(["_at", "step"], kind="stable", ignore_index=True)
    return panel_from_blocks(both.drop(columns="_at"), panel.study)


def last_pain(frame: pd.DataFrame, people: list[str]) -> tuple[float, float, float]:
    """Mean over these people of their last recorded pain less their own mean and the trend common to all, with its t interval; NaN below 3 people."""
    known = frame.dropna(subset=["pain"])
    centred = known[["pain", "step"]].astype(float) - known.groupby("person")[["pain", "step"]].transform("mean")
    pain, step = (centred[name].to_numpy(dtype=float) for name in ("pain", "step"))
    trend = float(step @ pain) / float(step @ step) if step.any() else 0.0
    left = (centred["pain"] - trend * centred["step"]).groupby(known["person"]).last()
    values = left[left.index.isin(people)].to_numpy()
    if len(values) < 3:
        return np.nan, np.nan, np.nan
    error = float(values.std(ddof=1) / np.sqrt(len(values)))
    return float(values.mean()), *limits(float(values.mean()), error, len(values) - 1)


def unrecorded(panel: Panel, asked: Asked) -> Answer | None:
    """How much more often the next step within the record has no pain after the primary contrast, as a share of steps, the pain adjusted for held equal; None where hardly any goes unrecorded.

    A linear probability model of the primary form with load and pain alone.
    """
    frame = usual_held(panel.frame)
    inside = frame["person"].eq(frame["person"].shift(-1))
    lost = frame["pain"].shift(-1).isna().astype(float).where(inside)
    columns = columns_for(panel, (asked.term,), asked.pain_adjusted)
    try:
        d = design_from(frame.assign(lost_next=lost), columns, outcome="lost_next", pain_adjusted=asked.pain_adjusted)
        return answer(d, asked.column, asked.size) if min(d.y.sum(), (1 - d.y).sum()) >= LEAST else None
    except ModelError:
        return None


def _share(lost: Answer) -> str:
    """'4 of 100 weeks more often (95 % interval 2 to 6)'."""
    low, high = sorted((100 * abs(lost.low), 100 * abs(lost.high)))
    return f"{100 * abs(lost.estimate):.0f} of 100 times {'more' if lost.estimate > 0 else 'less'} often ({100 * INTERVAL:g} % interval {low:.0f} to {high:.0f})"


def _left(early: list[str], people: int, last: tuple[float, float, float], step: str) -> str:
    """How many left early and how they were when last heard of."""
    if not early:
        return ""
    told = f"{len(early)} of {count(people, 'person', 'people')} left early (record {EARLY} {step}s or more short)"
    if np.isnan(last[0]):
        return f"{told}."
    decimals = places(*last[1:])
    return f"{told}; their last recorded pain was {difference(last[0], decimals)} than their own mean ({interval(*last[1:], decimals)})."


def _asked_again(gaps: Gaps, asked: Asked, seed: np.random.SeedSequence) -> np.ndarray:
    """(deltas, 3) estimate, standard error, df of one imputation."""
    filled = fill(gaps, np.random.default_rng(seed))
    return np.array([_answer(rebuilt(gaps, filled, delta), asked) for delta in DELTAS])


def _answer(panel: Panel, asked: Asked) -> tuple[float, float, float]:
    d = design(panel, exposures=asked.exposures, pain_adjusted=asked.pain_adjusted, outcome=asked.outcome)
    if asked.column not in d.names:
        raise ModelError(f"{asked.column} {dict(d.dropped).get(asked.column, 'was not recorded')}")
    if gate_for(d.n_people).within_only:
        return fit_within(d).contrast(asked.column, asked.size)
    weights = np.zeros(len(d.names))
    weights[d.names.index(asked.column)] = asked.size
    found = fit(CrossProducts.build(d.y, d.X, None, d.person)).contrast(weights)
    return float(found.estimate[0]), float(found.std_error[0]), float(found.df[0])


def _pool(found: np.ndarray, delta: float) -> dict[str, float]:
    good = found[np.isfinite(found).all(axis=1)]
    if len(good) < 2:
        raise ModelError("the filled records cannot be fitted")
    estimate, error, df = pooled(good[:, 0], good[:, 1], float(good[:, 2].mean()))
    low, high = limits(estimate, error, df)
    missing = 1 - float(np.mean(good[:, 1] ** 2)) / error**2
    return {"delta": delta, "estimate": estimate, "low": low, "high": high, "missing": missing}


def _before(gaps: Gaps) -> float:
    """Mean distance from the person's own mean of the pain before steps without pain, less that before steps with pain."""
    pain = pd.Series(gaps.values[:, 0])
    earlier = pain.groupby(gaps.person).shift(1)
    lost = pain.isna()
    return float(earlier[lost].mean() - earlier[~lost].mean())
