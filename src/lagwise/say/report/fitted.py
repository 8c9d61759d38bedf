"""What the fits that were made hold: exposures kept, exposures left out with the reason, usual load. Nothing
here asks the plan alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from lagwise.core.columns import LOAD_MEASURES
from lagwise.findings import EffectRow, Findings, FitFacts, rows_of
from lagwise.say.fit import why_left_out


class Why(StrEnum):
    """Why an exposure is not in a model, or why there is no answer; each has a sentence of its own."""

    NOT_RECORDED = "not_recorded"
    OFF_SCALE = "off_scale"
    OTHER_MEASURE = "other_measure"
    NO_USUAL = "no_usual"
    CONSTANT = "constant"
    HARDLY = "hardly"
    MIXTURE = "mixture"
    LEFT_OUT = "left_out"
    FEW_PEOPLE = "few_people"
    FEW_WITH_STEPS = "few_with_steps"
    FEW_COMPLETE = "few_complete"
    NO_NEXT = "no_next"
    NO_STEPS = "no_steps"
    GATE = "gate"
    NOT_POSSIBLE = "not_possible"
    NOT_FITTED = "not_fitted"


_OUT = {
    "still": Why.CONSTANT,
    "still_within": Why.CONSTANT,
    "still_in_blocks": Why.CONSTANT,
    "few_change": Why.HARDLY,
    "few_steps": Why.HARDLY,
    "mixture": Why.MIXTURE,
}
"""What the code of a column that is in no model comes to for a reader."""


@dataclass(frozen=True)
class LeftOut:
    """A planned exposure that the fit does not hold, and why."""

    term: str
    why: Why


def main_fit(findings: Findings) -> FitFacts | None:
    """The fit of the main question, usable or not."""
    asked = findings.study.outcome.column
    return next((f for f in findings.fits if f.by.as_rated and f.outcome == asked), None)


def terms_in(findings: Findings, fit: FitFacts) -> tuple[str, ...]:
    """Exposures of the plan that the fit estimates within people, in the order of its rows."""
    planned = findings.study.of("analysis", "exposures")
    rows = (r for r in fit.effects if r.adjustment == "adjusted" and r.level in ("within", "whole"))
    return tuple(dict.fromkeys(r.term for r in rows if r.term in planned))


def beside(findings: Findings, row: EffectRow) -> tuple[str, ...]:
    """The other exposures in the model that a row comes from; none in a crude one."""
    if row.adjustment == "crude":
        return ()
    fit = next((f for f in findings.fits if row in f.effects), None)
    return tuple(t for t in terms_in(findings, fit) if t != row.term) if fit is not None else ()


def columns_of(fit: FitFacts) -> tuple[str, ...]:
    """Columns of the model that was made; of older findings those of its table of coefficients; empty when
    unknown.
    """
    if fit.columns:
        return fit.columns
    return (
        tuple(str(n) for n in fit.tables["coefficients"].column("name"))
        if "coefficients" in fit.tables
        else ()
    )


def usual_held(findings: Findings) -> bool:
    """Whether the models hold usual load equal: by the columns of the fit, else by whether any is known."""
    columns = next((c for f in findings.fits if f.usable and (c := columns_of(f))), None)
    return bool(findings.count("usual_steps")) if columns is None else "log_usual" in columns


def left_out(findings: Findings) -> tuple[LeftOut, ...]:
    """Planned exposures that the usable fit of the main question does not hold, in the plan's order; none
    without such a fit.
    """
    fit = main_fit(findings)
    if fit is None or not fit.usable:
        return ()
    kept = terms_in(findings, fit)
    return tuple(
        LeftOut(t, why_out(findings, fit, t))
        for t in findings.study.of("analysis", "exposures")
        if t not in kept
    )


def why_out(findings: Findings, fit: FitFacts | None, term: str) -> Why:
    """Why an exposure is in no model: never known, else what the fit says of its column."""
    if not known_steps(findings, term):
        return why_unknown(findings, term)
    codes = dict(_dropped(fit)) if fit is not None else {}
    code = codes.get(term if findings.study.variables[term].whole else f"{term}_within", "")
    return _OUT.get(why_left_out(code), Why.LEFT_OUT)


def why_unknown(findings: Findings, term: str) -> Why:
    """Why an exposure is known for no step: never written down, outside its range, or (load) in another
    measure or without a usual load.

    Of load, the rest that is known to be none is not enough: it needs training of which the load is known.
    """
    load = term == "jump"
    if load and findings.count("load_steps") > findings.count("state_rest"):
        return Why.NO_USUAL
    if rows_off_scale(findings, _measured(findings) if load else (term,)):
        return Why.OFF_SCALE
    trained = findings.count("state_trained") or training_rows(findings)
    return Why.OTHER_MEASURE if load and trained else Why.NOT_RECORDED


def known_steps(findings: Findings, variable: str) -> int:
    """Steps in which a variable is known; 1 where that is not told, as of what few people recorded in a
    version to share.
    """
    records = rows_of(findings, "missing")
    found = next((r["n_known"] for r in records if r["variable"] == variable), None)
    return 1 if found is None else math.trunc(found)


def rows_off_scale(findings: Findings, columns: tuple[str, ...]) -> int:
    """Rows and cells set aside because a value of one of these columns lay outside its range."""
    table = findings.tables.get("quarantined")
    if table is None or "column" not in table.columns:
        return 0
    mine = [r for r in table.records() if r["column"] in columns and r["code"] == "out_of_range"]
    return sum(math.trunc(r["rows"] or 0) + math.trunc(r.get("cells") or 0) for r in mine)


def training_rows(findings: Findings) -> int:
    """Rows of training read, used or not."""
    records = rows_of(findings, "counts")
    return sum(math.trunc(r["read"] or 0) for r in records if r["table"] == "sessions")


def measure(findings: Findings) -> str:
    """The plan's load measure in words."""
    return LOAD_MEASURES.get(str(findings.study.of("load", "measure")), "load")


def _measured(findings: Findings) -> tuple[str, ...]:
    """Columns from which the plan's load measure is made."""
    sets = ("sets", "load")
    return {
        "reps": (*sets, "reps"),
        "tonnage": (*sets, "reps", "load_kg"),
        "session_rpe": ("effort", "minutes", "load"),
        "hard_sets": (*sets, "effort"),
        "near_failure_sets": (*sets, "effort"),
    }.get(str(findings.study.of("load", "measure")), sets)


def _dropped(fit: FitFacts) -> list[tuple[str, str]]:
    """(exposure or column, why); of older findings from the table of rungs, whose first row is the main
    model.
    """
    if fit.dropped or "rungs" not in fit.tables:
        return list(fit.dropped)
    first: dict[str, Any] = next(iter(fit.tables["rungs"].records()), {})
    pairs = [part.partition(": ") for part in str(first.get("left_out") or "").split("; ")]
    return [(name, why) for name, _, why in pairs if why]
