"""plan.html: what a record of a given size would be able to tell, under stated assumptions."""

from __future__ import annotations

from typing import Any

from lagwise.core.numbers import fixed, signed
from lagwise.document.html import render_html
from lagwise.document.settle import settled
from lagwise.document.tree import Block, Document, Figure, Grid, Heading, bullets, grid, para
from lagwise.pages.display import figure
from lagwise.say.plan import CAPTIONS, PAGE, READ_AS, Plan, number, question

DASH = "\u2013"

TEXT = ("gate", "ratings", "read as")
"""Columns that hold words."""
Cells = list[tuple[str, ...]]


def plan_page(plan: Plan) -> str:
    """A self-contained HTML page on a plan: question, figure, tables, how to read them, what was assumed."""
    title = PAGE["title"].format(title=plan.study.title)
    drawn = figure(plan)
    intervals, recorded, *rated = tables(plan)
    end = PAGE["end"].format(seed=plan.seed, caseloads=plan.caseloads)
    blocks: tuple[Block, ...] = (
        Heading(1, title, "title"),
        para(PAGE["lead"].format(question=question(plan.study)), role="lead"),
        Figure("plan", "", drawn.alt),
        Heading(2, PAGE["answers"], "answers"),
        intervals,
        Heading(2, PAGE["records"], "records"),
        recorded,
        Heading(2, PAGE["rhythm"], "rhythm"),
        *map(para, plan.rhythm),
        *rated,
        Heading(2, PAGE["reading"], "reading"),
        bullets(*plan.notes),
        Heading(2, PAGE["assumed"], "assumed"),
        bullets(*plan.assumed),
        para(end, role="note"),
    )
    pictures = {"plan": {"png": drawn.png, "svg": drawn.svg}}
    made = '<meta name="generator" content="lagwise plan">'
    return render_html(settled(Document(title, blocks)), pictures, head=made, numbered=False)


def tables(plan: Plan) -> tuple[Grid, ...]:
    """What the intervals say, what is recorded and, where rating rhythms were compared, how they differ."""
    made = {"intervals": answers(plan), "recorded": records(plan)}
    made |= {"ratings": rhythms(plan)} if len(plan.ratings) else {}
    return tuple(
        grid(
            name,
            CAPTIONS[name],
            head,
            rows,
            numeric=[i for i, column in enumerate(head) if column not in TEXT],
        )
        for name, (head, rows) in made.items()
    )


def answers(plan: Plan) -> tuple[tuple[str, ...], Cells]:
    """Header and rows of the table of intervals, as they are shown."""
    zero, places = f"{plan.study.outcome.zero:g}", plan.study.outcome.variable.places
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
        rest = (DASH, DASH) if none else (signed(r["bias"], places), f"{100 * r['coverage']:.0f}")
        rows.append((*_size(r), DASH if none else _width(r["width"], places), *share, *rest))
    return head, rows


def records(plan: Plan) -> tuple[tuple[str, ...], Cells]:
    """Header and rows of the table of what is recorded, as they are shown."""
    head = ("people", "weeks", "truth", "usable", "flare-ups", "in people", "flare model", "gate")
    rows: Cells = []
    for r in plan.table.to_dict("records"):
        gate = r["gate"] + (f" ({100 * r['gate_share']:.0f})" if r["gate_share"] < 0.995 else "")
        onsets = f"{r['flare_onsets']:.1f} ({r['flare_onsets_low']:.0f}{DASH}{r['flare_onsets_high']:.0f})"
        among, model = f"{r['flare_people']:.1f}", f"{100 * r['p_flare_model']:.0f}"
        rows.append((*_size(r), f"{r['person_weeks']:.0f}", onsets, among, model, gate))
    return head, rows


def rhythms(plan: Plan) -> tuple[tuple[str, ...], Cells]:
    """Header and rows of the table of weekly and daily ratings, as they are shown."""
    head = ("people", "weeks", "ratings", "read as", "caseloads", "width", "not 0", "error")
    rows: Cells = []
    places = plan.study.outcome.variable.places
    for r in plan.ratings.to_dict("records"):
        wide = DASH if r["width"] != r["width"] else _width(r["width"], places)
        shares = (f"{100 * r['p_excludes_zero']:.0f}", f"{100 * r['p_excludes_zero_error']:.0f}")
        shares = shares if r["fitted"] else (DASH, DASH)
        sizes, read_as = _size(r | {"effect": 0.0})[:2], READ_AS[r["model"]]
        rows.append((*sizes, r["ratings"], read_as, str(r["caseloads"]), wide, *shares))
    return head, rows


def _size(r: dict[Any, Any]) -> tuple[str, str, str]:
    return str(r["people"]), str(r["weeks"]), number(r["effect"])


def _width(value: float, places: int) -> str:
    return "> 100" if value >= 100 else fixed(value, places)
