"""Panels for the tests of challenges: drawn from the documented process, or laid out from arrays. Seeds are 1 throughout."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd

from lagwise.challenges.context import Context
from lagwise.challenges.estimate import answer
from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.errors import ModelError
from lagwise.core.results import Challenge, Fit, Panel
from lagwise.core.study import AnalysisPlan, Study
from lagwise.models import fit_mixed
from lagwise.models.design import adjustments, available, design, primary_adjustment
from lagwise.models.rows import levels
from lagwise.panel import panel_from_blocks
from lagwise.say.challenge import challenge
from lagwise.synthetic import CLINIC, NO_EFFECT, Spec, simulate_panel

PLAN = Study("Test", analysis=AnalysisPlan(exposures=("jump", "stress")))
STEADY = replace(
    CLINIC, of_jump_sd=0.0, feedback=0.0, stress_cut=0.0, missing_of_pain=0.0, dropout_of_pain=0.0
)
"""As the clinic, but load does not answer pain or stress and every person has the same slope."""
BLANK = ("effort", "near_failure_share", "stress", "sleep_hours", "sleep_quality", "worry", "confidence", "flare_reported")  # fmt: skip


@cache
def drawn(spec: Spec) -> Panel:
    """A panel of this process."""
    return simulate_panel(spec, np.random.default_rng(1))


@cache
def fitted(spec: Spec) -> Fit:
    """Its light fit."""
    return light_fit(drawn(spec))


def light_fit(panel: Panel, *, both: bool = True) -> Fit:
    """What challenges ask of a mixed fit, without the tables that take its time: the primary row, and `both` adjustments; the mixed fit where there is no such row, which says why."""
    plan, first = panel.study.analysis, primary_adjustment(panel.study, panel.frame)
    column, size = (
        levels(plan.primary, between=False)[0][1],
        contrast_size(plan.primary, plan.primary_contrast),
    )
    try:
        found = {
            how: answer(design(panel, pain_adjusted=how), column, size)
            for how in adjustments(panel.study, first)[: 1 + both]
        }
    except ModelError:
        return fit_mixed(panel)
    table = pd.DataFrame(
        [{"pain_adjusted": how, **vars(a), "primary": how == first} for how, a in found.items()]
    )
    label = contrast_label(plan.primary, plan.primary_contrast)
    own = table[table["primary"]].assign(engine="mixed", term=plan.primary, contrast=label)
    kept = available(panel, plan.exposures)[0]
    return Fit("mixed", panel.study.outcome.column, own.reset_index(drop=True), pd.DataFrame(), True, "", settings={"exposures": kept}, tables={"adjustments": table})  # fmt: skip


def clinic() -> tuple[Panel, Fit]:
    return drawn(CLINIC), fitted(CLINIC)


def no_effect() -> tuple[Panel, Fit]:
    return drawn(NO_EFFECT), fitted(NO_EFFECT)


def context(spec: Spec, **options) -> Context:
    """A context of a process."""
    return Context(drawn(spec), fitted(spec), **options)


def mixed_leads(made: tuple[Panel, Fit]) -> tuple[Panel, Fit]:
    """The same records under a plan that lets the mixed model lead."""
    panel, fit = made
    plan = replace(panel.study.analysis, headline="mixed")
    return replace(panel, study=replace(panel.study, analysis=plan)), fit


def blocks(pain: np.ndarray, load: np.ndarray, **others: np.ndarray) -> pd.DataFrame:
    """Blocks from (people, steps) arrays of pain and load (NaN not known, 0 rest) and of other columns by name."""
    n, T = pain.shape
    known = (~np.isnan(pain)).astype("int64")
    columns = {
        "recorded": np.where(np.isnan(load), "unknown", np.where(load > 0, "trained", "rest")),
        "n_sessions": (load > 0).astype("int64"), "load_sets": load, "n_checkins": known, "n_ratings": known,
        "pain_mean": pain, "pain_worst": pain, "pain_last": pain,
        "pain_before": np.column_stack([np.full(n, np.nan), pain[:, :-1]]),
    }  # fmt: skip
    columns |= {name: np.full((n, T), np.nan) for name in BLANK} | others
    start = np.datetime64("2024-01-01", "us") + (np.arange(T) * 7).astype("timedelta64[D]")
    frame = {"step": np.tile(np.arange(T), n), "step_start": np.tile(start, n)}
    frame |= {name: np.asarray(values).ravel() for name, values in columns.items()}
    person = pd.Series(np.repeat([f"P{i:03d}" for i in range(n)], T), dtype="str")
    return pd.DataFrame({"person": person, **frame, "source": "logs"})


def laid(pain: np.ndarray, load: np.ndarray, study: Study = PLAN, **others: np.ndarray) -> tuple[Panel, Fit]:
    """A panel from arrays and its fit."""
    panel = panel_from_blocks(blocks(pain, load, **others), study)
    return panel, light_fit(panel)


def plain_panel(
    pain: np.ndarray, load: np.ndarray, exposures: tuple[str, ...] = ("jump",), **others
) -> Panel:
    """A panel from arrays under a plan with these exposures, the first of them primary."""
    study = Study("Arrays", analysis=AnalysisPlan(exposures=exposures, primary=exposures[0]))
    return panel_from_blocks(blocks(pain, load, **others), study)


def slopes_panel(slopes: np.ndarray, T: int = 40, noise: float = 0.6) -> Panel:
    """People with given slopes of next step's pain on jump; nothing else goes on. Seed 1."""
    rng = np.random.default_rng(1)
    n = len(slopes)
    load = np.exp(rng.normal(3, 0.3, (n, T)))
    usual = np.stack([load[:, t - 4 : t].mean(axis=1) for t in range(4, T)], axis=1)
    jump = np.column_stack([np.zeros((n, 4)), np.log(load[:, 4:] / usual)])
    pain = np.full((n, T), 5.0)
    pain[:, 1:] += np.asarray(slopes)[:, None] * jump[:, :-1] + rng.normal(0, noise, (n, T - 1))
    return plain_panel(np.clip(pain, 0, 10), load)


def simple(
    *,
    people: int = 30,
    steps: int = 20,
    effect: float = 0.0,
    feedback: float = 0.0,
    carry: float = 0.4,
    noise: float = 0.8,
) -> dict[str, np.ndarray]:
    """(people, steps) pain, load, stress and innovations `shock` of a plain process; load of t moves pain of t + 1."""
    rng = np.random.default_rng(1)
    level = rng.normal(4.5, 1, people)
    load, pain, shock = (np.empty((people, steps)) for _ in range(3))
    stress = rng.normal(4, 1.2, (people, steps))
    pain[:, 0] = level
    for t in range(steps):
        load[:, t] = np.rint(30 * np.exp(rng.normal(0, 0.25, people) - feedback * (pain[:, t] - level))) + 1
        usual = load[:, max(0, t - 4) : t].mean(axis=1) if t else load[:, 0]
        shock[:, t] = rng.normal(0, noise, people)
        if t + 1 < steps:
            move = effect * np.log(load[:, t] / usual)
            pain[:, t + 1] = np.clip(level + carry * (pain[:, t] - level) + move + shock[:, t], 0, 10)
    return {"pain": pain, "load": load, "stress": stress, "shock": shock}


def one(name: str, made: tuple[Panel, Fit], **options: object) -> Challenge:
    """The outcome of one challenge, with what every outcome must have checked."""
    found = challenge(*made, only=[name], **options)[name]
    assert list(found.numbers.columns) == ["quantity", "value", "low", "high", "unit", "key"]
    assert found.limits
    assert found.question
    assert found.sentence
    if not found.problem:
        assert found.picture is not None
        assert found.picture.alt
        assert len(found.picture.data)
        assert found.numbers["value"].notna().any()
    return found


def tried(name: str, spec: Spec, **options: object) -> Challenge:
    """One challenge of a process."""
    return one(name, (drawn(spec), fitted(spec)), **options)


def tried_on(name: str, panel: Panel, **options: object) -> Challenge:
    """One challenge of a panel."""
    return one(name, (panel, light_fit(panel)), **options)


def value(found: Challenge, quantity: str) -> float:
    """One number of an outcome by its name."""
    rows = found.numbers[found.numbers["quantity"] == quantity]
    assert len(rows) == 1, found.numbers["quantity"].tolist()
    return float(rows["value"].iloc[0])
