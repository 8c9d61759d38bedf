"""Absolute risks of the primary contrast, from the ordinal fit's own tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lagwise.core.numbers import decimals, fixed, limits_text, size, span, whole
from lagwise.core.words import capital
from lagwise.document.tree import Block, Heading, grid, para
from lagwise.findings import Findings, rows_of
from lagwise.say.report.wording import Risk
from lagwise.say.report.words import Words


@dataclass(frozen=True)
class AbsoluteRisk:
    """A risk with the words it is said in."""

    risk: Risk
    what: str
    more: str
    reference: str


def absolute_risk(findings: Findings, words: Words, outcome: str = "flare_next") -> AbsoluteRisk | None:
    """The risk at the primary contrast and at its reference; by default of a turn for the worse of the
    planned size.

    None when there is no primary row, no usable ordinal fit, or its `absolute_risk` table lacks the outcome.
    """
    row, rows = findings.as_rated, _rows(findings, outcome)
    if row is None or row.contrast not in rows or "difference" not in rows:
        return None
    base = next((r for at, r in rows.items() if at not in (row.contrast, "difference")), None)
    if base is None:
        return None
    gap = rows["difference"]
    risk = Risk(base["mean"], rows[row.contrast]["mean"], gap["mean"], gap["low"], gap["high"])
    more, reference = words.steps_of(row), words.steps_against(row.term)
    if base["at"] == "as observed":
        reference = f"{words.steps} as they were"
    return AbsoluteRisk(risk, what_happened(outcome, words), more, reference)


def what_happened(outcome: str, words: Words) -> str:
    """An outcome of the ordinal model as what followed a step."""
    if outcome == words.lowest:
        low = words.outcome.low or 0.0
        return f"a {words.step} {'without' if low == 0 else 'with the least'} {words.asked} (rated {low:g})"
    return words.turned


def risks(findings: Findings, words: Words) -> list[Block]:
    """Absolute risks as a table, and the model's predictive checks beside them."""
    row = findings.as_rated
    if row is None:
        return []
    cells = []
    points = words.question.column
    for outcome in ("flare_next", words.lowest, points):
        rows = _rows(findings, outcome)
        scale = 1.0 if outcome == points else 100.0
        name = (
            f"Mean {words.asked}, {words.unit}"
            if outcome == points
            else f"{capital(what_happened(outcome, words))}, of 100"
        )
        for at, record in rows.items():
            low, high = scale * record["low"], scale * record["high"]
            places = min(2, decimals(low, high))
            mean = scale * record["mean"]
            text = (
                limits_text(mean, low, high, places)
                if at == "difference"
                else f"{fixed(mean, places)} ({span(low, high, places)})"
            )
            cells.append((name, _at(at), text, whole(record["n_steps"])))
    if not cells:
        return []
    interval = f"{size(100 * float(findings.number('interval') or 0))} % interval"
    return [
        Heading(3, "In absolute terms", "absolute"),
        para(
            f"The ordinal model's predictions, averaged over the {words.steps} that were observed. They say "
            f"what would be expected to follow if the same {words.steps} had differed in the "
            f"{words.label(row.term)} alone, as far as the model goes."
        ),
        grid(
            "absolute-table",
            f"What followed, by {words.label(row.term)}, in absolute terms",
            (
                f"{capital(words.on)} {words.then}",
                words.steps.capitalize(),
                f"Expected ({interval})",
                f"Person-{words.steps} averaged over",
            ),
            cells,
            numeric=(2, 3),
        ),
    ]


def _at(at: str) -> str:
    return "at the usual load" if at == "usual load" else at.replace("-", "\u2212")


def _rows(findings: Findings, outcome: str) -> dict[str, dict[str, Any]]:
    """Rows of the ordinal fit's absolute_risk table for one outcome, by what they are at."""
    fit = next((f for f in findings.usable() if "absolute_risk" in f.tables), None)
    records = rows_of(fit, "absolute_risk")
    return {str(r["at"]): r for r in records if r["outcome"] == outcome and r["mean"] is not None}
