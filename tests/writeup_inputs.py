"""Inputs of the write-up made by hand: caseloads, panels, fits and challenges of any size and result."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd

from lagwise.core.columns import names
from lagwise.core.effects import contrast_label, contrast_size, effects_frame
from lagwise.core.results import Caseload, Challenge, Challenges, Fit, Panel, Picture
from lagwise.core.study import AnalysisPlan, Clock, Study
from lagwise.core.terms import panel_columns
from lagwise.document.markdown import render_md
from lagwise.findings import Findings
from lagwise.findings.codes import with_pages
from lagwise.models.reach import COLUMNS
from lagwise.say.report.document import document, on_sheets
from lagwise.writeup.collect import collect
from lagwise.writeup.write import files

STUDY = Study(title="Shoulder and elbow pain in a climbing gym, winter block", setting="One gym, two coaches")
KINDS = {
    "higher": (0.42, 0.11, 0.73), "lower": (-0.38, -0.66, -0.10), "practically_none": (0.03, -0.21, 0.27),
    "undecided": (0.20, -0.35, 0.75), "small_higher": (0.22, 0.08, 0.36),
    "small_lower": (-0.22, -0.36, -0.08),
}  # fmt: skip

LIKELY = {
    "higher": (0.99, 0.62, 0.02), "lower": (0.01, 0.70, 0.03), "practically_none": (0.6, 0.99, 0.0),
    "undecided": (0.75, 0.8, 0.06), "small_higher": (0.99, 0.99, 0.0), "small_lower": (0.01, 0.99, 0.0),
}  # fmt: skip
"""Chances of a difference above 0, of one that is practically none, and of one that matters."""


def panel(
    people: int = 12, steps: int = 10, *, study: Study = STUDY, loads: bool = True, seed: int = 5, codes=None
) -> Panel:
    """A panel with holes, rests and a few flare-ups, of whatever the study asks about; rows are drawn once."""
    whole = _rows(people, steps, study.outcome, panel_columns(study), loads, seed, codes and tuple(codes))
    states = {str(k): int(v) for k, v in whole["state"].value_counts().items()}
    return Panel(whole.copy(), study, states=states)


@cache
def _rows(people, steps, asked, columns, loads, seed, codes) -> pd.DataFrame:
    rng, rows = np.random.default_rng(seed), []
    low, high = asked.variable.low, asked.variable.high
    for i in range(people):
        n = steps - (i % 3)
        state = rng.choice(["trained", "rest", "unknown"], n, p=[0.7, 0.15, 0.15] if loads else [0, 0, 1])
        load = np.where(state == "trained", rng.integers(6, 30, n), np.where(state == "rest", 0.0, np.nan))
        usual = pd.Series(load).rolling(4, min_periods=3).mean().shift(1).to_numpy()
        with np.errstate(divide="ignore", invalid="ignore"):
            jump = np.where((load > 0) & (usual > 0), np.log(load / usual), np.where(load >= 0, 0.0, np.nan))
        jump = np.where(np.isnan(usual), np.nan, jump)
        pain = np.clip(rng.normal(3.5, 1.8, n), 0, 10).round() * (high - low) / 10 + low
        pain[rng.random(n) < 0.15] = np.nan
        after, known = np.append(pain[1:], np.nan), (~np.isnan(pain)).astype(int)
        before = pd.Series(pain).expanding(3).mean().shift(1).to_numpy()
        risk = np.where(np.isnan(pain) | np.isnan(before), np.nan, pain < before + asked.rise)
        flare = np.where((risk == 1) & ~np.isnan(after), after >= before + asked.rise, np.nan)
        rows.append({
            "person": np.full(n, codes[i] if codes else f"P{i + 1:02d}", dtype=object), "step": np.arange(n),
            "step_start": pd.date_range("2024-01-01", periods=n, freq="7D").to_numpy(), "state": state,
            "load": load, "usual": usual, "jump": jump, "at_risk": risk, "flare_next": flare,
            "flare_reported": np.where(np.isnan(pain), np.nan, rng.random(n) < 0.08), "n_ratings": known, "n_checkins": known,
            "effort": np.where(state == "trained", 7.0, np.nan), "stress": rng.normal(4, 1, n), "sleep_hours": rng.normal(7, 0.6, n),
            "worry": rng.normal(3, 1, n), asked.name: pain, asked.later: after, asked.usual: before,
        })  # fmt: skip
    joined = {name: np.concatenate([one[name] for one in rows]) for name in rows[0]}
    return pd.DataFrame(dict.fromkeys(columns, np.nan) | joined)


def caseload(study: Study = STUDY, *, quarantine: pd.DataFrame | None = None) -> Caseload:
    """A caseload whose tables are empty but whose counts are not."""
    kept = ("sessions", "checkins", "people", "events", "weeks")
    empty = {t: pd.DataFrame(columns=[*names(t), "row"]) for t in kept}
    nothing = pd.DataFrame(columns=["table", "row", "column", "value", "code", "mend"])
    bad = nothing if quarantine is None else quarantine
    counts = pd.DataFrame(
        {"table": ["sessions", "checkins"], "file": ["sessions.csv", "checkins.csv"], "read": [300, 210],
         "used": [300, 210 - len(bad)], "quarantined": [0, len(bad)]}
    )  # fmt: skip
    remarks = pd.DataFrame(columns=["code", "table", "column", "count", "examples", "meaning", "mend"])
    return Caseload(study, **empty, quarantine=bad, counts=counts, remarks=remarks, read_hash="ab" * 32)


def effect(term: str, values: tuple[float, float, float], *, study: Study = STUDY, **other) -> dict:
    """One row of an effect table."""
    estimate, low, high = values
    row = {
        "engine": "mixed", "model": "random intercept and slope", "outcome": study.outcome.column, "term": term,
        "level": "whole" if study.variables[term].whole else "within", "adjustment": "adjusted", "pain_adjusted": "during",
        "primary": False, "contrast": "per unit", "contrast_size": 1.0, "scale": "points", "estimate": estimate, "std_error": (high - low) / 3.92,
        "low": low, "high": high, "df": 21.4, "interval": 0.95, "n_people": 11, "n_steps": 61,
    }  # fmt: skip
    return {**row, **other}


def mixed(kind: str = "higher", *, study: Study = STUDY, usable: bool = True, engine: str = "mixed") -> Fit:
    """A fit of the given kind of result with every adjustment."""
    primary = study.analysis.primary
    label = contrast_label(primary, study.analysis.primary_contrast)
    size = contrast_size(primary, study.analysis.primary_contrast)
    values = KINDS[kind]
    same = {"study": study, "contrast": label, "contrast_size": size, "engine": engine}
    rows, less = [effect(primary, values, primary=True, **same)], tuple(v - 0.11 for v in values)
    for a, p in (("crude", "during"), ("adjusted", "before"), ("crude", "before")):
        rows.append(effect(primary, less, adjustment=a, pain_adjusted=p, **same))
    for i, term in enumerate(t for t in study.analysis.exposures if t != primary):
        shifted = tuple(v * (-1) ** i * 0.7 for v in values)
        shifted = (shifted[0], min(shifted[1:]), max(shifted[1:]))
        rows += [
            effect(term, shifted, study=study, engine=engine, adjustment=a) for a in ("adjusted", "crude")
        ]
    gates = pd.DataFrame(
        {"gate": ["converged", "hessian"], "value": [1.0, 0.0023], "limit": ["yes", "> 0"], "passed": [True, usable],
         "meaning": ["the search stopped at a maximum", "the curvature there is that of a maximum"]}
    )  # fmt: skip
    return Fit(
        engine, study.outcome.column, effects_frame(rows), gates, usable, "random intercept and slope, correlated",
        why_not="" if usable else "the Hessian is not positive definite", n_people=11, n_steps=61, settings={"reml": True}, seconds=0.41,
        tables={"reach": reach(study)}, columns=tuple(entered(study)),
    )  # fmt: skip


def entered(study: Study = STUDY) -> Iterator[str]:
    """Columns of a model that holds every exposure of the plan."""
    for term in study.analysis.exposures:
        yield from (term,) if study.variables[term].whole else (f"{term}_within", f"{term}_between")
    yield from ("log_usual",) if "jump" in study.analysis.exposures else ()


def reach(study: Study = STUDY) -> pd.DataFrame:
    """A planned contrast that a tenth of the steps reach, as wide as the way from usual low to usual high."""
    primary, size = study.analysis.primary, study.analysis.primary_contrast
    width = contrast_size(primary, size)
    rows = [
        (contrast_label(primary, size), primary, 0.0, width, width, 0.1, 61, True, 0.42, 0.11, 0.73, False, False),
        ("usual low to usual high", primary, -abs(width) / 2, abs(width) / 2, abs(width), 0.3, 61, True, 0.42, 0.11, 0.73, False, False),
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(COLUMNS[:13])).assign(
        p_practically_zero=np.nan, p_important=np.nan
    )


def ordinal(kind: str = "higher", *, study: Study = STUDY, usable: bool = True) -> Fit:
    """A Bayesian twin of `mixed`: the planned contrast in points and probabilities, every exposure per SD, absolute risks."""
    base = mixed(kind, study=study)
    primary, size = study.analysis.primary, study.analysis.primary_contrast
    label, column = contrast_label(primary, size), study.outcome.column
    named = ("p_above_zero", "p_practically_zero", "p_important")
    chances = dict(zip(named, LIKELY[kind], strict=True))
    values, risk, each, odds = (tuple(times * v for v in KINDS[kind]) for times in (0.9, 0.05, 0.6, 1.6))
    own = {"study": study, "engine": "ordinal"}
    planned = own | {"contrast": label, "contrast_size": contrast_size(primary, size)}
    flare = {"outcome": "flare_next", "scale": "probability", "p_above_zero": 0.8}
    rows = [effect(primary, values, **planned, **chances), effect(primary, risk, **planned, **flare)]
    for term in study.analysis.exposures:
        rows.append(effect(term, each, contrast="per SD", contrast_size=1.3, **own, **chances))
        rows.append(effect(term, odds, scale="log_odds", p_above_zero=0.9, **own))
    absolute = pd.DataFrame(
        [("usual load", "flare_next", 0.081, 0.05, 0.12, 44), (label, "flare_next", 0.081 + risk[0], 0.06, 0.16, 44),
         ("difference", "flare_next", *risk, 44), ("usual load", column, 3.1, 2.8, 3.4, 52),
         (label, column, 3.1 + values[0], 2.9, 3.9, 52), ("difference", column, *values, 52)],
        columns=["at", "outcome", "mean", "low", "high", "n_steps"],
    )  # fmt: skip
    shares = ("share_at_0", "share of ratings of 0", 0.12, 0.11, 0.08, 0.15, 0.4)
    ppc = pd.DataFrame([shares], columns=["check", "meaning", "observed", "predicted", "low", "high", "p"])
    gate = ("rhat", 1.003, "<= 1.01", usable, "chains agree")
    gates = pd.DataFrame([gate], columns=["gate", "value", "limit", "passed", "meaning"])
    return replace(
        base, engine="ordinal", effects=effects_frame(rows), diagnostics=gates, usable=usable, rung="cumulative logit, person intercepts and slopes",
        why_not="" if usable else "R-hat of 1.08 is above 1.01", settings={"draws": 1000, "chains": 4, "seed": 1}, seconds=21.7,
        tables={"absolute_risk": absolute, "ppc": ppc},
    )  # fmt: skip


def curves(study: Study = STUDY) -> list[Fit]:
    """Lags of load that fade, and a dose-response curve that bends a little."""
    at = np.arange(4)
    lags = pd.DataFrame(
        {
            "lag": at, "estimate": 0.7 / (1 + at), "std_error": 0.2, "low": 0.7 / (1 + at) - 0.4,
            "high": 0.7 / (1 + at) + 0.4},
    )  # fmt: skip
    summed = lags["estimate"].cumsum()
    lags = lags.assign(cumulative=summed, cumulative_low=summed - 0.5, cumulative_high=summed + 0.5)
    jump = np.linspace(-0.6, 0.6, 61)
    dose = pd.DataFrame(
        {
            "jump": jump, "percent": 100 * np.expm1(jump), "estimate": 0.6 * jump,
            "low": 0.6 * jump - abs(jump), "high": 0.6 * jump + abs(jump)},
    )  # fmt: skip
    bends = pd.DataFrame({"f": [1.7], "df1": [3], "df2": [40.0], "p": [0.182]})
    none = mixed(study=study).diagnostics.iloc[:1]
    return [
        Fit(engine, study.outcome.column, effects_frame([]), none, True, "by hand", n_people=11, n_steps=58, tables=tables)
        for engine, tables in (("lags", {"curve": lags}), ("dose", {"curve": dose, "nonlinearity": bends}))
    ]  # fmt: skip


ALSO = STUDY.with_(
    also=[{"outcome": "worry", "primary": "jump"}, {"outcome": "pain", "primary": "stress", "contrast": 2}]
)


@cache
def several():
    """Findings of a plan with two further questions, the second not fitted, one asked beside it, and curves."""
    worry, stress = (replace(s, changed=()) for s in ALSO.further)
    beside = replace(ALSO, also=(), analysis=replace(stress.analysis, primary="worry"))
    also = [
        (panel(11, 12, study=s), [mixed("small_higher", study=s), ordinal("small_higher", study=s)])
        for s in (worry, beside)
    ]
    fits = [mixed(study=ALSO), *curves(ALSO)]
    return collect(caseload(ALSO), panel(11, 12, study=ALSO), fits, challenges(), also=also)  # fmt: skip


def challenges() -> Challenges:
    """One challenge of each verdict, one of each kind of picture, one that could not run."""
    weeks = [("same week", -0.8, -1.1, -0.5, "points"), ("next week", 0.3, 0.1, 0.5, "points")]
    numbers = pd.DataFrame(weeks, columns=["quantity", "value", "low", "high", "unit"]).assign(key="")
    rng = np.random.default_rng(3)
    pictures = [
        Picture("intervals", "The same week tells another story", pd.DataFrame(
            {"label": ["same week", "next week"], "estimate": [-0.8, 0.3], "low": [-1.1, 0.1], "high": [-0.5, 0.5], "group": ["mixed model"] * 2}),
            "difference in pain, points", "", "Same week -0.8 (-1.1 to -0.5); next week 0.3 (0.1 to 0.5) points.", {"reference": 0}),
        Picture("histogram", "Where the estimate falls among 999 shuffles", pd.DataFrame({"value": rng.normal(0, 0.2, 999)}),
                "difference in pain, points", "shuffles", "Histogram of 999 shuffled estimates around 0; the study's is 0.42.", {"mark": 0.42}),
        Picture("curve", "Pain before flare-ups", pd.DataFrame(
            {"x": range(-4, 3), "estimate": np.linspace(0, 1, 7), "low": np.linspace(-0.5, 0.5, 7), "high": np.linspace(0.5, 1.5, 7)}),
            "weeks around the onset", "points", "Rises from 0 to 1.", {"reference": 0}),
        Picture("intervals", "Who weighs most", pd.DataFrame({"label": ["P01", "P02"], "estimate": [0.05, -0.04], "low": [0.0, -0.1], "high": [0.1, 0.0]}), "change, points", "", "P01 0.05, P02 -0.04."),
        Picture("points", "Load against pain before", pd.DataFrame({"group": "load", "x": [1.0, 2.0, 3.0], "y": [2.0, 1.0, 4.0]}), "pain before, points", "load, sets", "Three points."),
    ]  # fmt: skip
    verdicts = ("does_not_hold", "holds", "informative", "cannot_tell", "holds")
    named = ("same_week_answer", "shuffled_load", "event_picture", "leave_one_out", "reverse_path")
    results = [
        Challenge(name, name.replace("_", " ").capitalize(), "Does it stand?", verdict, numbers, f"Sentence of {name}.",
                  "Its limits.", picture, 0.1)
        for name, verdict, picture in zip(named, verdicts, pictures, strict=True)
    ]  # fmt: skip
    asked, none = "Does another region's load do the same?", numbers.iloc[:0]
    lost = Challenge("unrelated_load", "Unrelated load", asked, "cannot_tell", none, "", "None.")
    results.append(replace(lost, problem="no exercise groups are named"))
    return Challenges(tuple(results), seed=7)


@cache
def whole() -> Findings:
    """Findings of twelve people with both models and every challenge."""
    return collect(caseload(), panel(12, 14), [mixed(), ordinal()], challenges())


@cache
def whole_files() -> dict[str, bytes]:
    """Every file written of them, with one person's page."""
    return files(with_pages(whole(), ["P01"]))


GATES = {"one person": 1, "describe": 3, "exploratory": 7, "small": 12, "full": 40}


@cache
def combinations():
    """(name, findings) of every gate, kind of result and set of engines, then of other questions, clocks and failures.

    The parts are collected once and put together; findings are frozen, so that tests share them.
    """
    return tuple(_combinations())


def _combinations():
    little = panel(1, 4)

    def facts(kinds, study=STUDY, lost=()):
        """Both fits of each kind, and the `lost` ones that are not usable, as facts."""
        keys = [*((kind, make, True) for kind in kinds for make in (mixed, ordinal)), *lost]
        made = [make(kind, study=study, usable=usable) for kind, make, usable in keys]
        return dict(zip(keys, collect(caseload(), little, made, None).fits, strict=True))

    def put(base, *fits):
        return base.model_copy(update={"fits": fits})

    bases = {gate: collect(caseload(), panel(people, 26), [], challenges()) for gate, people in GATES.items()}
    lost = ("higher", mixed, False), ("higher", ordinal, False), ("undecided", ordinal, False)
    fit = facts(KINDS, lost=lost)
    yield "several questions", several()
    yield "one person", bases["one person"]
    yield "describe", bases["describe"]
    for gate in ("exploratory", "small", "full"):
        for kind in KINDS:
            both = fit[kind, mixed, True], fit[kind, ordinal, True]
            yield f"{gate}, {kind}, with the ordinal model", put(bases[gate], *both)
            yield f"{gate}, {kind}, without the ordinal model", put(bases[gate], both[0])
    small = bases["small"]
    yield "small, the mixed model is not usable", put(small, *(fit[key] for key in lost[:2]))
    half = fit["undecided", mixed, True], fit[lost[2]]
    yield "small, undecided, the ordinal model is not usable", put(small, *half)
    yield "small, no model", small
    for name, study in OTHER.items():
        loads = study is not OTHER["no load"]
        base = collect(caseload(study), panel(12, 20, study=study, loads=loads), [], challenges())
        kinds = list(KINDS)[:4]
        fit = facts(kinds, study)
        for kind in kinds:
            yield f"{name}, {kind}", put(base, fit[kind, mixed, True], fit[kind, ordinal, True])


@cache
def rendered() -> dict[str, str]:
    """The write-up of every combination in Markdown, by its name."""
    return {name: render_md(on_sheets(document(found))) for name, found in combinations()}


def without_load(study: Study = STUDY) -> Study:
    """The plan of a caseload that only has check-ins."""
    asked = AnalysisPlan(exposures=("stress", "sleep_hours", "worry"), primary="stress", primary_contrast=1)
    return replace(study, analysis=asked)


OTHER = {
    "no load": without_load(),
    "fewer": replace(STUDY, analysis=replace(STUDY.analysis, primary_contrast=-0.3)),
    "daily": replace(STUDY, clock=Clock(step_days=1)),
}
"""Plans with another main question: stress alone, a contrast below usual load, a step of one day."""
