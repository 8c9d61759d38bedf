"""Multiple imputation of missing steps, and how different they would have to be to change the reading."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context, Drawing, Found
from lagwise.challenges.estimate import Answer, answer, side
from lagwise.challenges.imputation import Gaps, fill, gaps_of, moved, pooled, rebuilt
from lagwise.challenges.work import map_tasks, seeds
from lagwise.core.claim import Measured
from lagwise.core.errors import ModelError, NotApplicable
from lagwise.core.gate import gate_for
from lagwise.core.results import Panel
from lagwise.models.crossproducts import CrossProducts
from lagwise.models.design import columns_for, design, design_from, usual_held
from lagwise.models.estimates import picked
from lagwise.models.kernel import fit
from lagwise.models.rows import limits
from lagwise.models.within import fit_within
from lagwise.panel.build import panel_from_blocks

NAME = "missing_steps"
DELTAS = (-3.0, -2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0, 3.0)
IMPUTATIONS, QUICK, LONG = 20, 10, 5_000
"""Imputations; when quick, and in records of more person-steps than the third, where each takes long and
tells more.
"""
LEAST = 10
"""Steps without pain, and with it, below which nothing is asked of what precedes them."""
EARLY = 3
"""Steps before the caseload's last one at which a record that ends has ended early."""
LEAVING = 0.2
"""Share of people who left early from which the pain they left with counts."""
TIED = 0.03
"""Share of steps by which pain goes unrecorded more, or less, often after the primary contrast from which
that counts.
"""


@dataclass(frozen=True)
class Asked:
    """The primary question, to be asked of every filled panel."""

    exposures: tuple[str, ...]
    pain_adjusted: str
    outcome: str
    column: str
    size: float
    term: str


def run(context: Context) -> Found:
    """Fills unknown {outcome}, load, rest and exposures of {steps} within each record, and of the {step}
    after the last one of people who left early (3 {steps} or more before the caseload's last one, with a
    record that much shorter than the longest), 20 times (10 when quick and in records of more than 5,000
    person-{steps}) by chained regressions on the other columns, the {step} before and the {step} after;
    builds every lag again; pools by Rubin's rules with Barnard-Rubin df. Then adds delta points to all filled
    {outcome} (from
    -3 to 3) and asks again. Mixed model with person intercepts (within people below 10), beside the same
    model of the recorded {steps} alone.

    Verdict: does_not_hold when the pooled interval (delta 0) lies on another side of 0, or includes 0
    otherwise than the recorded {steps} alone; holds when that is so for no delta up to the plan's flare rise
    either way; else cannot_tell. Also cannot_tell in the place of holds when at least a fifth of the people
    left early and their last recorded {outcome}, taken from their own mean and the common trend, has an
    interval above 0; or when {outcome} of the {step} it is asked of goes unrecorded more or less often after
    the primary contrast, at the same {outcome}, by at least 3 of 100 {steps} with an interval that leaves out
    0: what is missing is then tied to the exposure, and if to {outcome} as well no filling can undo it.
    """
    p, outcome, step = context.primary, context.outcome, context.panel.study.step
    asked = Asked(p.exposures, p.pain_adjusted, p.outcome, p.column, p.size, p.term)
    plain = np.array(_answer(context.panel, asked))
    base = limits(*plain)
    early = leavers(context.panel)
    gaps = gaps_of(lengthened(context.panel, early), p.exposures)
    if not (np.isnan(gaps.values).any() or np.isnan(gaps.rest).any()):
        raise NotApplicable(
            f"nothing is missing within the records, and nobody left {EARLY} {step}s early or more"
        )
    recorded, people = context.panel.frame, context.panel.frame["person"].nunique()
    last = last_pain(recorded, outcome.name, early)
    deltas = tuple(d * outcome.scale for d in DELTAS)
    few = context.quick or len(recorded) > LONG
    tasks = seeds(context.seed_of(NAME), QUICK if few else IMPUTATIONS)
    tried = np.stack(map_tasks(partial(_asked_again, gaps, asked, deltas), tasks, context.executor))
    table = pd.DataFrame([_pool(tried[:, i], d) for i, d in enumerate(deltas)])
    turned = [side(low, high) != side(*base) for low, high in zip(table["low"], table["high"], strict=True)]
    at = sorted(table["delta"][turned], key=abs)
    lost = unrecorded(context.panel, asked)
    beyond = last[2] < 0 if outcome.variable.worse == "low" else last[1] > 0
    worse = len(early) >= LEAVING * people and beyond and outcome.variable.worse != "neither"
    tied = lost is not None and lost.side != 0 and abs(lost.estimate) >= TIED
    verdict = (
        "does_not_hold"
        if 0.0 in at
        else "cannot_tell"
        if any(abs(d) <= outcome.rise for d in at)
        else "holds"
    )
    if verdict == "holds" and (worse or tied):
        verdict = "cannot_tell"
    reason = "left_worse" if worse else "tied" if tied else "shifts"
    unit = context.unit
    shifted = {
        f"shift_{r['delta']:+g}" if r["delta"] else "filled": Measured(
            r["estimate"], unit, r["low"], r["high"], of=(r["delta"],) if r["delta"] else ()
        )
        for r in table.to_dict("records")
    }
    zero = table.loc[table["delta"] == 0].iloc[0]
    share = f"share of {len(recorded)}"
    loads = float(recorded["load"].isna().mean())
    no_load = {"no_load": Measured(loads, share)} if loads < 1 else {}
    claim = context.claim(
        NAME,
        verdict,
        reason if verdict == "cannot_tell" else "",
        primary=context.measured(p.answer, told=False),
        imputations=Measured(len(tasks), "imputations", told=False),
        plain=Measured(plain[0], unit, *base),
        filled=shifted.pop("filled"),
        **shifted,
        tipping=Measured(at[0] if at else np.nan, unit),
        without=Measured(float(recorded[outcome.name].isna().mean()), share),
        **no_load,
        early=Measured(len(early), f"of {people} people", people=people),
        **({"last": Measured(last[0], unit, *last[1:], alone=True)} if np.isfinite(last[0]) else {}),
        before=Measured(_before(gaps), unit),
        span=Measured(zero["estimate"], unit, float(table["estimate"].min()), float(table["estimate"].max())),
        missing=Measured(float(zero["missing"]), "share"),
        **(
            {}
            if lost is None
            else {"lost": Measured(100 * lost.estimate, f"of 100 {step}s", 100 * lost.low, 100 * lost.high)}
        ),
    )
    data = table.rename(columns={"delta": "x"})[["x", "estimate", "low", "high"]]
    return Found(claim, Drawing("curve", data, {"reference": 0}))


def leavers(panel: Panel) -> list[str]:
    """People whose record ends at least `EARLY` steps before the caseload's last one and is that much shorter
    than the longest.
    """
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
    both = both.assign(_at=both["person"].map(order)).sort_values(
        ["_at", "step"], kind="stable", ignore_index=True
    )
    return panel_from_blocks(both.drop(columns="_at"), panel.study)


def last_pain(frame: pd.DataFrame, name: str, people: list[str]) -> tuple[float, float, float]:
    """Mean over these people of their last recorded outcome less their own mean and the trend common to all,
    with its t interval; NaN below 3 people.
    """
    known = frame.dropna(subset=[name])
    centred = known[[name, "step"]].astype(float) - known.groupby("person")[[name, "step"]].transform("mean")
    rated, step = (centred[column].to_numpy(dtype=float) for column in (name, "step"))
    trend = float(step @ rated) / float(step @ step) if step.any() else 0.0
    left = (centred[name] - trend * centred["step"]).groupby(known["person"]).last()
    values = left[left.index.isin(people)].to_numpy()
    if len(values) < 3:
        return np.nan, np.nan, np.nan
    error = float(values.std(ddof=1) / np.sqrt(len(values)))
    return float(values.mean()), *limits(float(values.mean()), error, len(values) - 1)


def unrecorded(panel: Panel, asked: Asked) -> Answer | None:
    """How much more often the step asked about, within the record, has no outcome after the primary contrast,
    as a share of steps, the earlier outcome held equal; None where hardly any goes unrecorded.

    A linear probability model of the primary form with the exposure and the earlier outcome alone.
    """
    frame = usual_held(panel.frame)
    lag = panel.study.outcome.lag
    inside = frame["person"].eq(frame["person"].shift(-lag))
    lost = frame[panel.study.outcome.name].shift(-lag).isna().astype(float).where(inside)
    columns = columns_for(panel, (asked.term,), asked.pain_adjusted)
    try:
        d = design_from(
            frame.assign(lost_next=lost),
            columns,
            outcome="lost_next",
            pain_adjusted=asked.pain_adjusted,
            study=panel.study,
        )
        return answer(d, asked.column, asked.size) if min(d.y.sum(), (1 - d.y).sum()) >= LEAST else None
    except ModelError:
        return None


def _asked_again(
    gaps: Gaps, asked: Asked, deltas: tuple[float, ...], seed: np.random.SeedSequence
) -> np.ndarray:
    """(deltas, 3) estimate, standard error, df of one imputation."""
    filled = fill(gaps, np.random.default_rng(seed))
    panel = rebuilt(gaps, filled)
    return np.array([_answer(moved(panel, gaps, filled, delta), asked) for delta in deltas])


def _answer(panel: Panel, asked: Asked) -> tuple[float, float, float]:
    d = design(panel, exposures=asked.exposures, pain_adjusted=asked.pain_adjusted, outcome=asked.outcome)
    if asked.column not in d.names:
        raise ModelError(f"{asked.column} {dict(d.dropped).get(asked.column, 'was not recorded')}")
    if gate_for(d.n_people).within_only:
        return fit_within(d).contrast(asked.column, asked.size)
    weights = picked(d.names, asked.column, asked.size)
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
    """Mean distance from the person's own mean of the outcome before steps without one, less that before
    steps with one.
    """
    rated = pd.Series(gaps.values[:, 0])
    earlier = rated.groupby(gaps.person).shift(1)
    lost = rated.isna()
    return float(earlier[lost].mean() - earlier[~lost].mean())
