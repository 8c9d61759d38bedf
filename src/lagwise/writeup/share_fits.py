"""Fits for a version to share: estimates, intervals and counts to the precision of `share_precision`, and
nothing that is not written up.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lagwise.core.effects import LOW_TO_HIGH, PER_SD
from lagwise.core.numbers import FEWEST_SHOWN, floored, is_few, side
from lagwise.core.words import exposure_label
from lagwise.findings import EffectRow, Findings, FitFacts, Table
from lagwise.say.report.reasons import unusable
from lagwise.writeup.share_precision import (
    FINE,
    chance_said,
    counted,
    estimate_said,
    nice,
    p_at_most,
    part,
    plain_unit,
    to_unit,
)
from lagwise.writeup.share_tables import Record, Size, limits_said, with_records

SETTINGS = (
    "exposures",
    "pain_adjusted",
    "definition",
    "block_steps",
    "simulations",
    "seed",
    "draws",
    "tune",
    "chains",
    "target_accept",
    "priors",
)
"""What was chosen, not found."""
Field = Callable[[float, int, Size], Any]
"""How a value of a field is told, from the people behind it and the study's size."""


def fit_said(
    fit: FitFacts, findings: Findings, size: Size, *, few_flares: bool, slopes: Table | None
) -> FitFacts:
    """A fit without rows of single people, unless `slopes` gives them; one of flare-ups that few people had
    without any numbers of them.
    """
    hidden = few_flares and fit.by.answers == "onset"
    tables = {} if hidden else _tables(fit, size)
    if slopes is not None:
        tables["people"] = slopes
    planned, used = findings.study.of("analysis", "exposures"), fit.settings.get("exposures")
    left = [exposure_label(t) for t in planned if used is not None and t not in used]
    said = {
        "tables": tables,
        "diagnostics": fit.diagnostics.model_copy(update={"rows": ()}) if hidden else _gates(fit.diagnostics),
        "effects": () if hidden else effects_said(fit.effects, size),
        "n_people": floored(fit.n_people) or 0,
        "n_steps": size.steps_said(fit.n_steps),
        "settings": {k: v for k, v in fit.settings.items() if k in SETTINGS},
        "notes": tuple(f"{label} left out" for label in left),
        "rung_reason": "",
        "why_not": "" if fit.usable else _why_not(fit),
    }
    return fit.model_copy(update=said)


def _gates(table: Table) -> Table:
    """Gates with how they ended; their values can be one person's own."""
    return table.model_copy(
        update={
            "rows": tuple(
                tuple(None if c == "value" else v for c, v in zip(table.columns, row, strict=True))
                for row in table.rows
            )
        }
    )


def _why_not(fit: FitFacts) -> str:
    """Why a fit is not usable, by the gates it failed."""
    return unusable([str(r["meaning"]) for r in fit.diagnostics.records() if r["passed"] is False])


def effects_said(rows: tuple[EffectRow, ...], size: Size) -> tuple[EffectRow, ...]:
    """Effects of enough people; of one coefficient told at several contrasts not also the one per unit, whose
    rounding would differ.
    """

    def estimand(r: EffectRow) -> tuple[str, ...]:
        return (r.engine, r.outcome, r.term, r.level, r.adjustment, r.pain_adjusted, r.scale)

    elsewhere = {estimand(r) for r in rows if r.contrast != "per unit"}
    return tuple(
        _effect(r, size)
        for r in rows
        if not is_few(r.n_people) and (r.contrast != "per unit" or estimand(r) not in elsewhere)
    )


def _effect(row: EffectRow, size: Size) -> EffectRow:
    estimate, low, high = estimate_said(
        row.estimate,
        row.low,
        row.high,
        row.n_people,
        ratio=row.scale == "odds_ratio",
        margins=(size.zero, size.important) if row.scale == "points" else (),
        within=_within_usual(row, size) if row.scale == "points" else 0.0,
    )
    chances = {k: getattr(row, k) for k in ("p_above_zero", "p_practically_zero", "p_important")}
    told = {PER_SD: None, LOW_TO_HIGH: size.usual.get(row.term) or None}
    said = {
        "estimate": estimate,
        "low": low,
        "high": high,
        "std_error": None,
        "df": None,
        "n_people": floored(row.n_people),
        "n_steps": size.steps_said(row.n_steps),
        "contrast_size": told.get(row.contrast, row.contrast_size),
        **{k: None if v is None else chance_said(v) for k, v in chances.items()},
    }
    return row.model_copy(update=said)


def _within_usual(row: EffectRow, size: Size) -> float:
    """What the limits of a row may be where its contrast, made as large as from usual low to usual high,
    makes practically no difference; 0 where nothing is known of that."""
    usual = size.usual.get(row.term)
    at = usual and (usual / 2 if row.contrast == PER_SD else row.contrast_size)
    return size.zero * abs(at) / usual if usual and at and row.contrast != LOW_TO_HIGH else 0.0


@dataclass(frozen=True)
class Rule:
    """How the rows of a table are told: `same` fields as they are, an `estimate` with its limits, other
    `fields` by a rule of its own; counts of people and steps always to theirs. With `margins` an interval in
    points stops at the plan's.

    Rows that `keep` refuses and rows of few people are left out; `then` adds what follows from what is told
    (what is told, the row, people behind it, the study's size), or None in its place.
    """

    estimate: tuple[str, ...] = ()
    same: str = ""
    fields: Mapping[str, Field] = field(default_factory=dict)
    ratio: bool = False
    margins: bool = False
    keep: Callable[[Record], bool] = lambda r: True
    then: Callable[[Record, Record, int, Size], Record | None] = lambda told, r, people, size: told

    def __call__(self, r: Record, people: int, size: Size) -> Record | None:
        """A row of a fit over so many people as others may know it."""
        if is_few(r.get("n_people")) or not self.keep(r):
            return None
        own = r.get("n_people") or people
        out: Record = {k: r[k] for k in self.same.split() if k in r}
        if self.estimate:
            within = (size.zero, size.important) if self.margins else ()
            out |= limits_said(r, self.estimate, own, ratio=self.ratio, margins=within)
        out |= {k: None if r.get(k) is None else rule(r[k], own, size) for k, rule in self.fields.items()}
        counts = {"n_people": _people, "n_steps": _steps}
        out |= {k: rule(r[k], own, size) for k, rule in counts.items() if r.get(k) is not None}
        return self.then(out, r, own, size)


def _people(value: float, people: int, size: Size) -> int | None:
    return floored(value)


def _steps(value: float, people: int, size: Size) -> int:
    return size.steps_said(value)


def _onsets(value: float, people: int, size: Size) -> int:
    return counted(value, people, size.longest)


def _near(value: float, people: int, size: Size) -> float:
    return to_unit(value, plain_unit(value, people))


def _share(value: float, people: int, size: Size) -> float:
    return to_unit(value, nice(FEWEST_SHOWN / 2 / people))


def _chance(value: float, people: int, size: Size) -> float:
    return chance_said(value)


def _with_rest(told: Record, r: Record, people: int, size: Size) -> Record:
    return r | told


def _within(told: Record, r: Record, people: int, size: Size) -> Record | None:
    """Whether what was seen lies within what the model predicts, of both as they are told."""
    observed, low, high = (told[k] for k in ("observed", "low", "high"))
    if low is None or observed is None:
        return None
    return told | {"within": None if r.get("within") is None else low <= observed <= high}


def _counts(told: Record, r: Record, people: int, size: Size) -> Record:
    rule = _people if r["quantity"] in ("people", "informative_people") else _onsets
    return told | {"value": rule(r["value"], people, size)}


def _agreement(told: Record, r: Record, people: int, size: Size) -> Record:
    if r["quantity"] not in ("both", "pain_only", "reported_only", "neither"):
        return told | {"n": _onsets(r["n"], people, size)}
    value, n = part(r["value"], r["n"], people, size.longest)
    return told | {"value": value, "n": n}


def _simulated(told: Record, r: Record, people: int, size: Size) -> Record:
    """What simulated studies give, to their own Monte Carlo error."""
    bias, coverage = (r[f"{k}_mc_error"] or 0.0 for k in ("bias", "coverage"))
    return told | {
        "bias": to_unit(r["bias"], nice(bias)),
        "coverage": to_unit(r["coverage"], nice(max(coverage, 1 / r["runs"]))),
        "bias_mc_error": to_unit(bias, nice(bias / 2)),
        "coverage_mc_error": to_unit(coverage, nice(coverage / 2)),
    }


def _reach(told: Record, r: Record, people: int, size: Size) -> Record:
    """How far apart the ends of a contrast are, and what its interval says as it is given here."""
    ends = {k: r[k] for k in ("from_value", "to_value")}
    if r["contrast"] == LOW_TO_HIGH:
        ends = {k: to_unit(v, plain_unit(v, people, FINE)) for k, v in ends.items()}
    low, high = told["low"], told["high"]
    inside = low is not None and -size.zero <= low and high <= size.zero and not side(low, high)
    apart = ends["to_value"] - ends["from_value"]
    return told | ends | {"size": apart, "inside": inside, "may_say": bool(r["may_say"]) and inside}


def _summed(told: Record, r: Record, people: int, size: Size) -> Record:
    """A point of a curve, and the sum up to it where there is one."""
    up_to = Rule(("cumulative", "cumulative_low", "cumulative_high"))
    return told if "cumulative" not in r else told | (up_to(r, people, size) or {})


def _prior(told: Record, r: Record, people: int, size: Size) -> Record:
    """What was chosen as it is; what hangs on the records (a unit of theirs, a contrast) to its unit."""
    if r["scale"] == "odds_ratio" and r["per"] in ("SD", "people", "people x SD"):
        return r
    near = {k: _near(r[k], people, size) for k in ("low", "high")}
    return r | near | {"sd": None}


INTERVAL = ("estimate", "low", "high")
RULES: dict[str, Rule] = {
    "within": Rule(INTERVAL, "contrast"),
    "rating": Rule(INTERVAL, "quantity prior unit"),
    "answers": Rule(INTERVAL, "answers"),
    "reach": Rule(
        INTERVAL,
        "contrast term reached",
        {"share": _share, "p_practically_zero": _chance, "p_important": _chance},
        margins=True,
        then=_reach,
    ),
    "jackknife": Rule(("value", "low", "high"), "estimate", keep=lambda r: r["estimate"] == "corrected"),
    "random_effects": Rule(INTERVAL, "component unit meaning"),
    "variance": Rule(
        fields={"value": _share},
        keep=lambda r: r["quantity"] == "icc" and r["value"] is not None,
        then=_with_rest,
    ),
    "prediction": Rule(
        ("mae_more", "mae_more_low", "mae_more_high"),
        "scheme predictor",
        {"mae": _near},
        keep=lambda r: "mae" in r,
    ),
    "absolute_risk": Rule(("mean", "low", "high"), "outcome at"),
    "ppc": Rule(("observed", "low", "high"), "meaning", then=_within),
    "prior_predictive": Rule(
        fields=dict.fromkeys(("mean", "low", "high", "observed"), _near), then=_with_rest
    ),
    "priors": Rule(then=_prior),
    "counts": Rule(same="quantity", then=_counts),
    "agreement": Rule(same="quantity", keep=lambda r: r["quantity"] != "kappa", then=_agreement),
    "risk": Rule(("probability", "low", "high"), "what at term"),
    "other_definition": Rule(
        ("odds_ratio", "low", "high"),
        "definition contrast",
        {"onsets": _onsets},
        ratio=True,
        keep=lambda r: not is_few(r["informative_people"]),
    ),
    "aligned": Rule(("difference", "low", "high"), "offset", {"n_onsets": _onsets}),
    "lags": Rule(INTERVAL, "lag steps_before contrast", then=_summed),
    "dose": Rule(INTERVAL, "percent"),
    "nonlinearity": Rule(fields={"p": lambda p, people, size: p_at_most(p)}),
    "bias_at_this_size": Rule(same="truth estimator runs", then=_simulated),
}
"""The tables of fits that a write-up reads, and how each is told; others are left out."""


def _tables(fit: FitFacts, size: Size) -> dict[str, Table]:
    out, people = {}, max(fit.n_people, FEWEST_SHOWN)
    for name, rule in RULES.items():
        rows = fit.tables[name].records() if name in fit.tables else []
        records = [r for r in (rule(r, people, size) for r in rows) if r is not None]
        if records:
            out[name] = with_records(fit.tables[name], records)
    return out
