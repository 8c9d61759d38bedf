"""plan.html: what a record of a given size would be able to tell, under stated assumptions."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files
from typing import Any

from lagwise.pages.display import figure
from lagwise.say.plan import Plan, number, question
from lagwise.writeup.numbers import fixed
from lagwise.writeup.render_html import figure_colours, image
from lagwise.writeup.settle import html_text as escape

DASH = "\u2013"

ANSWERS = "What the interval says, of 100 simulated caseloads; truth, width and bias in points"
RECORDS = (
    "What is recorded: usable person-weeks; weeks before a flare-up, in brackets the middle 80 of 100 caseloads, and people with one; "
    "of 100, how often there is enough for a flare model; gate"
)
RHYTHMS = "Weekly and daily ratings of the same simulated weeks, true difference 0; width in points; not 0 and its Monte Carlo error of 100 caseloads"
READ_AS = {
    "mixed": "ratings as they are (mixed model)",
    "joint": "rating error allowed for (joint model)",
    "both": "both, on the same side of 0",
}
TEXT = ("gate", "ratings", "read as")
"""Columns that hold words."""
Cells = list[tuple[str, ...]]


def plan_page(plan: Plan) -> str:
    """A self-contained HTML page on a plan: question, figure, tables, how to read them, and what was assumed."""
    title = f"{plan.study.title}: what a record could tell"
    css = (files("lagwise.writeup") / "templates" / "case-series.css").read_text(encoding="utf-8") + figure_colours()
    drawn = figure(plan)
    body = [
        f"<h1>{escape(title)}</h1>\n",
        f'<p class="lead">Simulated records for the question: {escape(question(plan.study))}.</p>\n',
        f'<figure>\n<div class="picture" role="region" aria-label="Figure" tabindex="0">{image("plan", {"png": drawn.png, "svg": drawn.svg}, drawn.alt)}</div>\n</figure>\n',
        '<h2 id="answers">What the intervals say</h2>\n',
        _table(*answers(plan), ANSWERS),
        '<h2 id="records">What is recorded</h2>\n',
        _table(*records(plan), RECORDS),
        '<h2 id="rhythm">Weekly or daily ratings</h2>\n',
        "".join(f"<p>{escape(s)}</p>\n" for s in plan.rhythm),
        _table(*rhythms(plan), RHYTHMS) if len(plan.ratings) else "",
        '<h2 id="reading">How to read this</h2>\n', _list(plan.notes),
        '<h2 id="assumed">What was assumed</h2>\n', _list(plan.assumed),
        f'<p class="note">Seed {plan.seed}, {plan.caseloads} caseloads per cell; every number with its Monte Carlo error is in plan.csv.</p>\n',
    ]  # fmt: skip
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n<meta name="generator" content="lagwise plan">\n'
        f"<title>{escape(title)}</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
        f'<a class="skip" href="#main">Skip to the text</a>\n<main id="main">\n{"".join(body)}</main>\n</body>\n</html>\n'
    )


def answers(plan: Plan) -> tuple[tuple[str, ...], Cells]:
    """Header and rows of the table of intervals, as they are shown."""
    zero = f"{plan.study.outcome.zero:g}"
    head = (
        "people",
        "weeks",
        "truth",
        "width",
        "not 0",
        f"beyond {zero}",
        f"within {zero}",
        "bias",
        "covered",
    )
    rows = []
    for r in plan.table.to_dict("records"):
        none = r["fitted"] == 0
        share = [DASH if none else f"{100 * r[k]:.0f}" for k in ("p_excludes_zero", "p_beyond", "p_within")]
        rest = (DASH, DASH) if none else (_signed(r["bias"]), f"{100 * r['coverage']:.0f}")
        rows.append((*_size(r), DASH if none else _width(r["width"]), *share, *rest))
    return head, rows


def records(plan: Plan) -> tuple[tuple[str, ...], Cells]:
    """Header and rows of the table of what is recorded, as they are shown."""
    head = ("people", "weeks", "truth", "usable", "flare-ups", "in people", "flare model", "gate")
    rows: Cells = []
    for r in plan.table.to_dict("records"):
        gate = r["gate"] + (f" ({100 * r['gate_share']:.0f})" if r["gate_share"] < 0.995 else "")
        onsets = f"{r['flare_onsets']:.1f} ({r['flare_onsets_low']:.0f}{DASH}{r['flare_onsets_high']:.0f})"
        rows.append((*_size(r), f"{r['person_weeks']:.0f}", onsets, f"{r['flare_people']:.1f}", f"{100 * r['p_flare_model']:.0f}", gate))  # fmt: skip
    return head, rows


def rhythms(plan: Plan) -> tuple[tuple[str, ...], Cells]:
    """Header and rows of the table of weekly and daily ratings, as they are shown."""
    head = ("people", "weeks", "ratings", "read as", "caseloads", "width", "not 0", "error")
    rows: Cells = []
    for r in plan.ratings.to_dict("records"):
        wide = DASH if r["width"] != r["width"] else _width(r["width"])
        shares = (f"{100 * r['p_excludes_zero']:.0f}", f"{100 * r['p_excludes_zero_error']:.0f}")
        shares = shares if r["fitted"] else (DASH, DASH)
        rows.append((str(r["people"]), str(r["weeks"]), r["ratings"], READ_AS[r["model"]], str(r["caseloads"]), wide, *shares))  # fmt: skip
    return head, rows


def _size(r: dict[Any, Any]) -> tuple[str, str, str]:
    return str(r["people"]), str(r["weeks"]), number(r["effect"])


def _width(value: float) -> str:
    return "> 100" if value >= 100 else fixed(value, 2)


def _signed(value: float) -> str:
    text = fixed(value, 2)
    return text if float(text.replace("\u2212", "-")) <= 0 else f"+{text}"


def _list(sentences: Sequence[str]) -> str:
    return "<ul>\n" + "".join(f"<li>{escape(s)}</li>\n" for s in sentences) + "</ul>\n"


def _table(head: tuple[str, ...], rows: Cells, caption: str) -> str:
    css = ["" if name in TEXT else ' class="num"' for name in head]
    top = "".join(
        f'<th scope="col"{c}>{escape(name).replace(" ", "&nbsp;")}</th>' for name, c in zip(head, css, strict=True)
    )
    body = "".join(
        "<tr>" + "".join(f"<td{c}>{escape(v)}</td>" for v, c in zip(row, css, strict=True)) + "</tr>\n" for row in rows
    )
    return (
        f'<div class="scroll" role="region" aria-label="{escape(caption)}" tabindex="0">\n<table>\n<caption>{escape(caption)}</caption>\n'
        f"<thead><tr>{top}</tr></thead>\n<tbody>\n{body}</tbody>\n</table>\n</div>\n"
    )
