"""Contrasts that people really show, and at which of them a difference may be called practically none."""

from __future__ import annotations

import math
from typing import Any

from lagwise.core.effects import LOW_TO_HIGH, PER_SD
from lagwise.core.numbers import fixed, significant
from lagwise.findings import EffectRow, Findings, rows_of
from lagwise.say.report.fitted import main_fit
from lagwise.say.report.words import Words

REACHED = 0.05
"""Share of steps that must reach the planned contrast before it counts as one that people show."""


def small_at(findings: Findings, row: EffectRow, zero: float) -> str:
    """The contrast, in words, at which a row's interval lies within +/- `zero`; empty where it lies so at
    none that people show.

    The planned contrast counts where at least 5 % of steps reach it, and, where it is the smaller one, the
    interval from usual low to usual high lies within as well; any exposure makes practically no difference
    when it is moved little enough. Between people it is the row's own contrast, where both lie within.
    """
    if row.low is None or row.high is None:
        return ""
    words, reach = Words(findings), _reach(findings)
    size, usual = _size(findings, row), usual_size(findings, row.term)
    inside = max(abs(row.low), abs(row.high)) <= zero
    inside_usual = bool(size and usual and max(abs(row.low), abs(row.high)) * (usual / abs(size)) <= zero)
    if row.level == "between":
        return f"at {words.short_contrast(row)}" if inside and inside_usual else ""
    planned = row.term == words.term and row.contrast == words.contrast_label
    if (
        planned
        and inside
        and reach.get("reached")
        and (inside_usual or abs(reach["size"]) >= (usual or math.inf))
    ):
        return f"at {words.short_contrast(row)}"
    return f"from usual low to usual high ({apart(words, row.term, usual)})" if inside_usual and usual else ""


def usual_size(findings: Findings, term: str) -> float | None:
    """The contrast from usual low to usual high on the model's scale, two within-person SDs; None when
    unknown.

    For the primary exposure from the steps of the model, where the fit holds it, else from the record; of
    older findings from the variance split.
    """
    fit = main_fit(findings)
    reach = rows_of(fit, "reach")
    found = next((r["size"] for r in reach if r["term"] == term and r["contrast"] == LOW_TO_HIGH), None)
    if found is None:
        table, key = ("usual_range", "term") if "usual_range" in findings.tables else ("spread", "variable")
        records = rows_of(findings, table)
        sd = next((r["within_sd"] for r in records if r[key] == term), None)
        found = None if sd is None else 2 * sd
    return found or None


def _reach(findings: Findings) -> dict[str, Any]:
    """The planned contrast's row of the fit's table of reach; empty where it has none."""
    fit = main_fit(findings)
    records = rows_of(fit, "reach")
    return next((r for r in records if r["contrast"] == Words(findings).contrast_label), {})


def _size(findings: Findings, row: EffectRow) -> float | None:
    """A row's contrast on the model's scale."""
    if row.contrast_size is not None:
        return row.contrast_size
    usual = usual_size(findings, row.term)
    if row.contrast == LOW_TO_HIGH:
        return usual
    return usual / 2 if usual and row.contrast == PER_SD else None


def apart(words: Words, term: str, usual: float | None) -> str:
    """How far apart the two are: '24 % below to 32 % above the usual load', '1.8 points apart'."""
    size = usual or 0.0
    if term == "jump":
        below, above = 100 * -math.expm1(-size / 2), 100 * math.expm1(size / 2)
        return f"{fixed(below, 0)} % below to {fixed(above, 0)} % above the usual load"
    return f"{significant(size, 2)} {words.unit_of(term, size)} apart".replace("  ", " ")
