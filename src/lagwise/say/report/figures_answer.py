"""The picture of the answer: the outcome against an exposure, as recorded, by band and by the model."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lagwise.core.numbers import decimals, fixed, people_said, plural, size
from lagwise.core.study import INTERVAL
from lagwise.core.terms import whole
from lagwise.core.words import capital
from lagwise.document.tree import Figure
from lagwise.findings import EffectRow, Findings, PictureFacts, Table, rows_of
from lagwise.models.answer import USUAL
from lagwise.say.report.wording import answer_kind, read_apart, reading, told_kind
from lagwise.say.report.words import Words


def answer_pictures(findings: Findings, words: Words, rows: list[EffectRow]) -> dict[str, PictureFacts]:
    """`answer` of the primary exposure and `answer-<exposure>` of the others, where they were made; `rows`
    hold the result of each.
    """
    out = {}
    for level in rows_of(findings, "answer_levels"):
        term = level["term"]
        own = [r for r in rows if r.term == term]
        row = next((r for r in own if r.primary), own[0] if own else None)
        if row is not None:
            first = term == words.term
            name = "answer" if first else f"answer-{term.replace('_', '-')}"
            out[name] = _picture(findings, words, row, level, small=not first)
    return out


def answer_figure(name: str, words: Words, pictures: Mapping[str, PictureFacts]) -> Figure:
    """A picture of the answer with its caption."""
    exposure = pictures[name].x.partition(",")[0].partition(" against")[0]
    caption = f"{capital(words.asked_then)} by {exposure}, people compared with themselves."
    return Figure(name, caption, pictures[name].alt)


ANSWER = (
    "In the picture, means and line hold equal what the model holds equal. The band is that of the "
    "difference from the usual."
)
"""How the picture of the answer is to be read."""


def result_title(findings: Findings, words: Words, row: EffectRow) -> str:
    """What a row says as a title: 'Weeks trained 50 % above the usual load: followed by higher pain'."""
    apart = row.primary and read_apart(findings)
    said = "two estimates read differently, so undecided" if apart else reading(findings, row)
    if row.primary and not apart and told_kind(findings) == "undecided" != answer_kind(findings):
        said = "undecided, as not every attempt to break it held"
    return f"{capital(words.steps_of(row))}: {said}"


def _short_title(findings: Findings, words: Words, row: EffectRow) -> str:
    """'Sleep, +1 hour: undecided'."""
    what = f"{words.label(row.term)}, {words.short_contrast(row)}"
    return f"{capital(what)}: {reading(findings, row)}"


def _picture(
    findings: Findings, words: Words, row: EffectRow, level: dict[str, Any], *, small: bool
) -> PictureFacts:
    term, margin, load = row.term, findings.study.outcome, whole(row.term)
    bands, curve, steps = (
        [r for r in rows_of(findings, f"answer_{name}") if r["term"] == term]
        for name in ("bands", "curve", "steps")
    )
    columns = ("what", "x", "outcome", "low", "high", "n_people", "n_steps")
    of = {"step": steps, "band": bands, "line": curve}
    data = tuple((what, *(r.get(c) for c in columns[1:])) for what, rs in of.items() for r in rs)
    low, high = words.axis
    of_steps = f"{'trained ' if load else ''}person-{words.step}"
    sized = f"{people_said(level['n_people'])}, {plural(level['n_steps'], of_steps)}"
    percent = f"{size(100 * INTERVAL)} %"
    return PictureFacts(
        kind="answer",
        title=result_title(findings, words, row) if not small else _short_title(findings, words, row),
        data=Table(columns=columns, rows=data, made_by="models.answer"),
        x=_axis(words, term),
        y=f"{words.asked_then}, {words.unit} ({low:g}-{high:g})",
        alt=_alt(words, row, level, bands, len(steps)),
        options={
            "subtitle": sized,
            "small": small,
            "percent": load,
            "usual": USUAL[load],
            "level": level["level"],
            "important": margin.important,
            "low": low,
            "high": high,
            "labels": {
                "step": f"one {words.step} of one person",
                "band": f"mean of a band of {words.steps}, {percent} interval",
                "line": f"model, with {percent} band",
                "important": f"less than the important change, {margin.amount(margin.important)}",
            },
        },
    )


def _axis(words: Words, term: str) -> str:
    if whole(term):
        return "load, % of the person's usual"
    unit = words.unit_of(term, 2)
    return f"{words.label(term)} against the person's own average{f', {unit}' if unit else ''}"


def _alt(words: Words, row: EffectRow, level: dict[str, Any], bands: list[dict[str, Any]], steps: int) -> str:
    """The picture in numbers: how far the axis runs, the level at the usual and the mean of every band."""
    load, (low, high) = whole(row.term), words.axis
    marks = f" over a light mark for each of {plural(steps, f'person-{words.step}')}" if steps else ""

    def at(x: float) -> str:
        return f"{x:.0f} %" if load else fixed(x, words.variables[row.term].places - 1)

    told = "; ".join(
        f"at {at(b['x'])} {fixed(b['outcome'], places)}"
        + ("" if b["low"] is None else f" ({fixed(b['low'], places)} to {fixed(b['high'], places)})")
        for b in bands
        for places in (decimals(b["low"], b["high"]),)
    )
    means = f" Means by band: {told}." if told else ""
    return (
        f"{capital(words.asked_then)}, from {low:g} to {high:g}, against {_axis(words, row.term)}: means of "
        f"bands of {words.steps} within people with intervals, and the model's line with its band{marks}. "
        f"At the usual it is {fixed(level['level'], words.outcome.places - 1)} {words.unit}.{means}"
    )
