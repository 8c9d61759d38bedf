"""Fits for a version to share: estimates, intervals and counts to the precision of `share_precision`, and
nothing that is not written up.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from lagwise.core.effects import LOW_TO_HIGH, PER_SD
from lagwise.core.words import exposure_label
from lagwise.writeup.findings import EffectRow, Findings, FitFacts, Table
from lagwise.writeup.numbers import FEWEST_SHOWN, floored, is_few
from lagwise.writeup.share_precision import (
    chance_said,
    counted,
    estimate_said,
    nice,
    p_at_most,
    part,
    plain_unit,
    to_unit,
)
from lagwise.writeup.share_tables import Record, Size, with_records

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
        "effects": () if hidden else _effects(fit.effects, size),
        "n_people": floored(fit.n_people) or 0,
        "n_steps": counted(fit.n_steps, size.people, size.longest),
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
    failed = [str(r["meaning"]) for r in fit.diagnostics.records() if r["passed"] is False]
    return (
        f"it did not pass its checks ({'; '.join(failed)})"
        if failed
        else "it could not be fitted to these records"
    )


def _effects(rows: tuple[EffectRow, ...], size: Size) -> tuple[EffectRow, ...]:
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
        row.estimate, row.low, row.high, row.n_people, ratio=row.scale == "odds_ratio"
    )
    chances = {k: getattr(row, k) for k in ("p_above_zero", "p_practically_zero", "p_important")}
    said = {
        "estimate": estimate,
        "low": low,
        "high": high,
        "std_error": None,
        "df": None,
        "n_people": floored(row.n_people),
        "n_steps": counted(row.n_steps, size.people, size.longest),
        "contrast_size": None if row.contrast in (PER_SD, LOW_TO_HIGH) else row.contrast_size,
        **{k: None if v is None else chance_said(v) for k, v in chances.items()},
    }
    return row.model_copy(update=said)


def _tables(fit: FitFacts, size: Size) -> dict[str, Table]:
    people = max(fit.n_people, FEWEST_SHOWN)
    out = {}
    for name, rule in RULES.items():
        if name in fit.tables:
            records = [
                r for r in (rule(r, people, size) for r in fit.tables[name].records()) if r is not None
            ]
            if records:
                out[name] = with_records(fit.tables[name], records)
    return out


def _interval(
    record: Record,
    people: int,
    keys: tuple[str, str, str],
    words: tuple[str, ...],
    size: Size,
    *,
    ratio: bool = False,
) -> Record | None:
    """Words, an estimate with its interval, and the row's own counts where it has them."""
    own = record.get("n_people", people)
    if is_few(own):
        return None
    estimate, low, high = (record.get(k) for k in keys)
    found = estimate_said(estimate, low, high, own or people, ratio=ratio)
    out: Record = {k: record[k] for k in words if k in record} | dict(zip(keys, found, strict=True))
    if record.get("n_people") is not None:
        out["n_people"] = floored(own)
    if record.get("n_steps") is not None:
        out["n_steps"] = counted(record["n_steps"], size.people, size.longest)
    return out


def _estimate(*words: str, key: str = "estimate") -> Callable[[Record, int, Size], Record | None]:
    return lambda r, people, size: _interval(r, people, (key, "low", "high"), words, size)


def _jackknife(r: Record, people: int, size: Size) -> Record | None:
    return (
        _interval(r, people, ("value", "low", "high"), ("estimate",), size)
        if r["estimate"] == "corrected"
        else None
    )


def _variance(r: Record, people: int, size: Size) -> Record | None:
    unit = nice(FEWEST_SHOWN / 2 / people)
    return (
        {**r, "value": to_unit(r["value"], unit)}
        if r["quantity"] == "icc" and r["value"] is not None
        else None
    )


def _prediction(r: Record, people: int, size: Size) -> Record | None:
    keys = ("mae_more", "mae_more_low", "mae_more_high")
    if "mae" not in r:
        return None
    out = _interval(r, people, keys, ("scheme", "predictor"), size)
    return None if out is None else out | {"mae": to_unit(r["mae"], plain_unit(r["mae"], r["n_people"]))}


def _ppc(r: Record, people: int, size: Size) -> Record | None:
    out = _interval(r, people, ("observed", "low", "high"), ("meaning",), size)
    if out is None or out["low"] is None or out["observed"] is None:
        return None
    return out | {"within": None if r.get("within") is None else out["low"] <= out["observed"] <= out["high"]}


def _prior_predictive(r: Record, people: int, size: Size) -> Record | None:
    """What the priors make depends on the recorded exposures to the last digit, so that it is rounded as what
    was seen.
    """
    return r | {k: to_unit(r[k], plain_unit(r[k], people)) for k in ("mean", "low", "high", "observed")}


def _flare_counts(r: Record, people: int, size: Size) -> Record | None:
    of_people = r["quantity"] in ("people", "informative_people")
    value = floored(r["value"]) if of_people else counted(r["value"], people, size.longest)
    return {"quantity": r["quantity"], "value": value}


def _agreement(r: Record, people: int, size: Size) -> Record | None:
    if r["quantity"] in ("both", "pain_only", "reported_only", "neither"):
        value, n = part(r["value"], r["n"], people, size.longest)
        return {"quantity": r["quantity"], "value": value, "n": n}
    return (
        None
        if r["quantity"] == "kappa"
        else {"quantity": r["quantity"], "n": counted(r["n"], people, size.longest)}
    )


def _other_definition(r: Record, people: int, size: Size) -> Record | None:
    if is_few(r["informative_people"]):
        return None
    out = _interval(r, people, ("odds_ratio", "low", "high"), ("definition", "contrast"), size, ratio=True)
    return None if out is None else out | {"onsets": counted(r["onsets"], people, size.longest)}


def _aligned(r: Record, people: int, size: Size) -> Record | None:
    out = _interval(r, people, ("difference", "low", "high"), ("offset",), size)
    return None if out is None else out | {"n_onsets": counted(r["n_onsets"], r["n_people"], size.longest)}


def _bias(r: Record, people: int, size: Size) -> Record | None:
    """What simulated studies give, to their own Monte Carlo error."""
    told = {k: r[k] for k in ("truth", "estimator", "bias_mc_error", "coverage_mc_error", "runs") if k in r}
    units = {
        "bias": nice(r["bias_mc_error"] or 0.0),
        "coverage": nice(max(r["coverage_mc_error"] or 0.0, 1 / r["runs"])),
    }
    said: dict[str, Any] = {k: to_unit(r[k], unit) for k, unit in units.items()}
    errors = {
        k: to_unit(told[k] or 0.0, nice((told[k] or 0.0) / 2)) for k in ("bias_mc_error", "coverage_mc_error")
    }
    return told | said | errors


def _reach(r: Record, people: int, size: Size) -> Record | None:
    """How many steps reach a contrast, and what its interval says as it is given here."""
    out = _interval(r, people, ("estimate", "low", "high"), ("contrast", "term", "reached"), size)
    if out is None:
        return None
    ends = {
        k: to_unit(r[k], plain_unit(r[k], people)) if r["contrast"] == LOW_TO_HIGH else r[k]
        for k in ("from_value", "to_value")
    }
    inside = out["low"] is not None and -size.zero <= out["low"] <= 0 <= out["high"] <= size.zero
    chances = {
        k: None if r.get(k) is None else chance_said(r[k]) for k in ("p_practically_zero", "p_important")
    }
    return (
        out
        | ends
        | chances
        | {
            "size": ends["to_value"] - ends["from_value"],
            "share": to_unit(r["share"], nice(FEWEST_SHOWN / 2 / people)),
            "inside": inside,
            "may_say": bool(r["may_say"]) and inside,
        }
    )


def _told(r: Record, people: int, size: Size) -> Record | None:
    """A point of a curve, and the sum up to it where there is one."""
    at = ("lag", "steps_before", "contrast", "percent")
    out = _interval(r, people, ("estimate", "low", "high"), at, size)
    summed = ("cumulative", "cumulative_low", "cumulative_high")
    return (
        out if out is None or "cumulative" not in r else out | (_interval(r, people, summed, (), size) or {})
    )


RULES: dict[str, Callable[[Record, int, Size], Record | None]] = {
    "within": _estimate("contrast"),
    "rating": _estimate("quantity", "prior"),
    "answers": _estimate("answers"),
    "reach": _reach,
    "jackknife": _jackknife,
    "lags": _told,
    "dose": _told,
    "nonlinearity": lambda r, people, size: {"p": p_at_most(r["p"])},
    "random_effects": _estimate("component", "unit", "meaning"),
    "variance": _variance,
    "prediction": _prediction,
    "absolute_risk": _estimate("outcome", "at", key="mean"),
    "ppc": _ppc,
    "prior_predictive": _prior_predictive,
    "counts": _flare_counts,
    "agreement": _agreement,
    "risk": _estimate("what", "at", "term", key="probability"),
    "other_definition": _other_definition,
    "aligned": _aligned,
    "bias_at_this_size": _bias,
}
"""The tables of fits that a write-up reads, and how each is rounded; others are left out."""
