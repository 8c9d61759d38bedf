"""Results: the further questions of a plan, one row each, and how many were asked."""

from __future__ import annotations

from lagwise.core.numbers import fixed, limits_text, plural, side, size, whole
from lagwise.core.study import INTERVAL
from lagwise.core.words import capital
from lagwise.document.tree import Block, Heading, grid, para
from lagwise.findings import EffectRow, Findings
from lagwise.say.report.wording import doubted, read_apart, reading
from lagwise.say.report.words import Words


def asked_count(findings: Findings) -> str:
    """How many questions were asked, which is the primary one, and what their number does; empty where one
    was.
    """
    if not findings.also:
        return ""
    total, later = findings.count("questions"), sum(not q.planned for q in findings.also)
    added = f" {whole(later)} of them {'is' if later == 1 else 'are'} not in the plan." if later else ""
    return (
        f"This is the primary one of {plural(total, 'question')} asked of the record; the others stand in "
        f"one table under Further questions.{added} No interval is widened for their number."
    )


def further(findings: Findings, words: Words) -> list[Block]:
    """One row for each question, the primary one first, each by its own outcome's scale and margins."""
    if not findings.also:
        return []
    views = [findings, *(findings.asking(q) for q in findings.also)]
    notes = ["primary", *("" if q.planned else "not in the plan" for q in findings.also)]
    return [
        Heading(3, "Further questions", "further"),
        para(
            "Had there been nothing to find, at least one of "
            f"{plural(findings.count('questions'), 'such interval')} would leave out 0 in about "
            f"{fixed(100 * (findings.number('questions_chance') or 0), 0)} of 100 such records, were the "
            "questions independent. One finding among several weighs less than the same finding alone."
        ),
        grid(
            "further-table",
            "Every question that was asked, each by its own outcome's margins",
            (
                "Question",
                f"Difference ({size(100 * INTERVAL)} % interval)",
                "By the other models",
                "It says",
                f"People (person-{words.steps})",
            ),
            [_row(view, note) for view, note in zip(views, notes, strict=True)],
            numeric=(1, 4),
            note="The models, and what they hold equal, are those of the main question. 'Or more' is the "
            "smallest difference "
            "that the plan calls important for that outcome.",
        ),
    ]


def _row(view: Findings, note: str) -> tuple[str, ...]:
    words, row = Words(view), view.primary
    name = capital(words.asks) + (f" ({note})" if note else "")
    if row is None:
        why = next((f.why_not.rstrip(".") for f in view.fits if f.why_not), "no model was fitted")
        return name, "\u2013", "\u2013", f"No answer: {why}", "\u2013"
    same = {k: getattr(row, k) for k in ("outcome", "term", "level", "adjustment", "contrast", "scale")}
    others = [r for r in view.rows(**same) if r.engine != row.engine]
    held = view.as_rated.pain_adjusted if view.as_rated is not None else row.pain_adjusted
    beside = [r for r in others if r.pain_adjusted in (held, "latent")]
    return (
        name,
        f"{_estimate(row)} {words.unit}{words.on_scale} ({row.by.label})",
        "; ".join(f"{_estimate(r)} ({r.by.label})" for r in beside) or "\u2013",
        _said(view, row, doubted(view) and note == "primary"),
        f"{whole(row.n_people)} ({whole(row.n_steps)})",
    )


def _estimate(row: EffectRow) -> str:
    return limits_text(row.estimate, row.low, row.high)


def _said(view: Findings, row: EffectRow, fell: bool) -> str:
    """The verdict on one question, undecided where an attempt to break it did, and what its interval leaves
    of a difference that matters."""
    asked = view.study.outcome
    said = "undecided, as not every attempt to break it held" if fell else reading(view, row)
    said = "the models read differently, so undecided" if read_apart(view) else said
    if row.low is None or row.high is None:
        return said
    least, most = sorted((abs(row.low), abs(row.high)))
    amount = f"{asked.amount(asked.important)} or more"
    if not side(row.low, row.high) or least < asked.important:
        return f"{said}; {'rules out' if most <= asked.important else 'leaves room for'} {amount}"
    return f"{said}; all of the interval lies at {amount}"
