"""Caseloads with something built in that one challenge is there to find, and their twins without it. Seeds are 1 throughout."""

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
from challenge_panels import CLINIC, PLAN, drawn, fitted, laid, light_fit, plain_panel, simple

from lagwise.challenges.context import Context
from lagwise.core.results import Fit, Panel
from lagwise.core.study import AnalysisPlan
from lagwise.models import fit_ordinal
from lagwise.panel import panel_from_blocks

Made = tuple[Panel, Fit]
KIN = ("reps", "tonnage", "session_rpe")
GROUPED = replace(PLAN, groups={"knee": ("step-up",), "elbow": ("hammer curl",)})
WITH_EFFORT = replace(PLAN, analysis=AnalysisPlan(exposures=("jump", "effort", "stress")))


def _after(values: np.ndarray) -> np.ndarray:
    """(people, steps) values moved one step on, 0 in the first."""
    return np.column_stack([np.zeros(len(values)), values[:, :-1]])


def planned_on_last_week(feedback: float, **size: int) -> Made:
    """Load of a week is cut by `feedback` per point of the pain of the week before, which the model does not hold equal."""
    made = simple(noise=1.0, **size)
    before = np.column_stack([made["pain"][:, :1], made["pain"][:, :-1]])
    load = made["load"] * np.exp(-feedback * (before - before.mean(axis=1, keepdims=True)))
    return laid(made["pain"], load, stress=made["stress"])


def load_itself() -> Made:
    """Load wanders slowly, and pain follows the load of the week whatever the usual load."""
    made = simple(people=30, steps=30)
    rng = np.random.default_rng(1)
    drift = np.cumsum(rng.normal(0, 0.12, made["load"].shape), axis=1)
    log_load = drift - drift.mean(axis=1, keepdims=True) + rng.normal(0, 0.15, drift.shape)
    pain = np.clip(made["pain"] + 1.5 * _after(log_load), 0, 10)
    return laid(pain, 30 * np.exp(log_load), stress=made["stress"])


def two_regions(of_own: float, of_other: float) -> tuple[Made, pd.DataFrame]:
    """Half hurt at the knee, half at the elbow; later pain follows the load of the own or of the other region, in log units."""
    made = simple(people=40, steps=24)
    rng = np.random.default_rng(1)
    knee, elbow = (15 * np.exp(rng.normal(0, 0.35, (40, 24))) for _ in range(2))
    at_knee = np.arange(40) % 2 == 0
    own, other = (np.where(at_knee[:, None], a, b) for a, b in ((knee, elbow), (elbow, knee)))
    move = of_own * np.log(own / 15) + of_other * np.log(other / 15)
    people = pd.DataFrame(
        {"person": [f"P{i:03d}" for i in range(40)], "region": np.where(at_knee, "Knee", "elbow")}
    )
    extra = {"load_sets__knee": knee, "load_sets__elbow": elbow}
    pain = np.clip(made["pain"] + _after(move), 0, 10)
    return laid(pain, knee + elbow, GROUPED, stress=made["stress"], **extra), people


def one_person_varies(sign: int = 1) -> Made:
    """Pain follows load in all of 12 people, but everybody else's load hardly moves, so that only the first one speaks about it."""
    made = simple(people=12, steps=26)
    rng = np.random.default_rng(1)
    load = 30 * np.exp(rng.normal(0, 0.03, made["load"].shape))
    load[0] = 30 * np.exp(rng.normal(0, 0.5, load.shape[1]))
    pain = np.clip(made["pain"] + sign * 1.2 * _after(np.log(load / 30)), 0, 10)
    return laid(pain, load, stress=made["stress"])


def one_person_steep(slope: float, people: int = 12) -> Made:
    """Everybody's load varies alike; the first person's pain follows it by `slope` per log unit, nobody else's does."""
    made = simple(people=people, steps=26)
    jump = np.log(made["load"] / made["load"].mean(axis=1, keepdims=True))
    pain = made["pain"].copy()
    pain[0] = np.clip(pain[0] + slope * _after(jump)[0], 0, 10)
    return laid(pain, made["load"], stress=made["stress"])


def hidden_weeks(sign: int, effect: float = 0.3) -> Made:
    """After weeks above usual load, pain goes unrecorded where it is about to be high (or low): the week after still shows it."""
    made = simple(people=40, steps=30, effect=sign * effect, carry=0.8, noise=0.5)
    pain, load = made["pain"].copy(), made["load"]
    above = np.log(load / load.mean(axis=1, keepdims=True)) > 0.1
    ache = made["pain"] - made["pain"].mean(axis=1, keepdims=True)
    for t in range(28):
        pain[above[:, t] & (sign * ache[:, t + 2] > 0), t + 1] = np.nan
    return laid(pain, load, stress=made["stress"])


def leaving(worse: float) -> Made:
    """Two of five people stop after week 12, having hurt `worse` points more than usual in their last week; load matters for all."""
    made = simple(people=40, steps=26, effect=1.5, noise=0.5)
    pain, load = made["pain"].copy(), made["load"].copy()
    gone = np.arange(40) % 5 < 2
    pain[gone, 12] = np.clip(pain[gone, 12] + worse, 0, 10)
    pain[gone, 13:], load[gone, 13:] = np.nan, np.nan
    panel, _ = laid(pain, load, stress=made["stress"])
    left = panel.blocks["person"].isin(np.array(sorted(set(panel.blocks["person"])))[gone])
    kept = panel.blocks[~(left & (panel.blocks["step"] > 12))]
    panel = panel_from_blocks(kept.reset_index(drop=True), panel.study)
    return panel, light_fit(panel)


def beside_stress(of_stress: float, effect: float) -> Made:
    """Stress makes people train more and moves later pain by `of_stress`; load moves it by `effect` per log unit."""
    made = simple(people=40, steps=26)
    strain = made["stress"] - 4
    load = made["load"] * np.exp(0.15 * strain)
    jump = np.log(load / load.mean(axis=1, keepdims=True))
    return laid(
        np.clip(made["pain"] + _after(of_stress * strain + effect * jump), 0, 10), load, stress=made["stress"]
    )


def two_measures(own: float, other: float, sign: int = 1) -> Made:
    """Later pain follows the load in sets by `own` and that in reps, tonnage and effort x minutes by `other`, per log unit; the two loads are unrelated."""
    made = simple(people=40, steps=20)
    rng = np.random.default_rng(1)
    second = 30 * np.exp(rng.normal(0, 0.3, made["load"].shape))
    move = own * np.log(made["load"] / 30) + other * np.log(second / 30)
    pain = np.clip(made["pain"] + sign * _after(move), 0, 10)
    extra = {f"load_{name}": second for name in KIN}
    return laid(pain, made["load"], stress=made["stress"], **extra)


def short_records() -> Made:
    """6 weeks of 150 people whose pain cuts load by 60 % a point: centring on so short a record biases the estimate."""
    made = simple(people=150, steps=6, feedback=0.6, carry=0.5, noise=1.2)
    return laid(made["pain"], made["load"], stress=made["stress"])


def after_bad_weeks(more: float) -> Made:
    """Ordinary ups and downs, but for `more` points in the week after a bad one."""
    made = simple(people=40, steps=40, noise=1.1)
    rng = np.random.default_rng(1)
    pain = np.empty_like(made["pain"])
    pain[:, 0] = 5
    for t in range(39):
        bad = pain[:, t] >= 6.8
        pain[:, t + 1] = np.clip(5 + 0.4 * (pain[:, t] - 5) + more * bad + rng.normal(0, 1, 40), 0, 10)
    return laid(pain, made["load"], stress=made["stress"])


def rated_effort(
    of_effort: float, effect: float, tie: float, error: float, spread: float = 0.7, people: int = 60
) -> Made:
    """Load follows effort by `tie` per point; later pain follows true effort and load; recorded effort carries error."""
    made = simple(people=people, steps=30)
    rng = np.random.default_rng(1)
    effort = 7 + rng.normal(0, spread, made["load"].shape)
    load = made["load"] * np.exp(tie * (effort - 7))
    jump = np.log(load / load.mean(axis=1, keepdims=True))
    recorded = effort + rng.normal(0, error, effort.shape)
    pain = np.clip(made["pain"] + _after(of_effort * (effort - 7) + effect * jump), 0, 10)
    return laid(pain, load, WITH_EFFORT, stress=made["stress"], effort=recorded)


@cache
def small_study() -> tuple[Made, Fit]:
    """Few steps and a difference of 3.3 standard errors: enough for the priors as they are, too little for narrow ones. The size is reckoned, not searched for."""
    made = simple(people=16, steps=12)
    jump = np.log(made["load"] / 30)
    context = Context(*laid(made["pain"], made["load"], stress=made["stress"]))
    unit = context.primary.answer.std_error / context.primary.size
    add = 3.3 * unit - context.primary.answer.estimate / context.primary.size
    pain = np.clip(made["pain"] + add * _after(jump), 0, 10)
    made_up = laid(pain, made["load"], stress=made["stress"])
    return made_up, fit_ordinal(made_up[0], seed=1)


@cache
def half_a_point() -> tuple[Made, Fit]:
    """The clinic with slopes of 0.5, and its ordinal fit: priors around 0 pull a difference the less the smaller it is."""
    spec = replace(CLINIC, of_jump=0.5)
    return (drawn(spec), fitted(spec)), fit_ordinal(drawn(spec), draws=700, tune=400, seed=1)


def rated_against_the_last() -> Panel:
    """12 people x 105 steps: load swings slowly, pain follows by 0.09 points per log unit, and each rating's error is taken off the next."""
    rng, n, T = np.random.default_rng(1), 12, 105
    load = np.exp(
        3 + 0.8 * np.sin(2 * np.pi * (np.arange(T) / 35 + rng.random((n, 1)))) + rng.normal(0, 0.01, (n, T))
    )
    usual = np.stack([load[:, t - 4 : t].mean(axis=1) for t in range(4, T)], axis=1)
    jump = np.column_stack([np.zeros((n, 4)), np.log(load[:, 4:] / usual)])
    pain = 5 + np.diff(rng.normal(0, 0.6, (n, T + 1)), axis=1)
    pain[:, 1:] += 0.09 * jump[:, :-1]
    return plain_panel(np.clip(pain, 0, 10), load)
