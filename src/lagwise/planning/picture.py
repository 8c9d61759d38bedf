"""The grid of a plan as a figure's plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from lagwise.core.effects import contrast_label
from lagwise.core.numbers import MINUS, count, fixed
from lagwise.core.results import Picture

if TYPE_CHECKING:
    from lagwise.planning.grid import Plan

COLUMNS = ("people", "weeks", "effect", "width", "p_beyond", "p_partly", "p_open", "p_within", "p_no_interval")


def grid_picture(plan: Plan) -> Picture:
    """Kind 'grid': one bar per cell that splits 100 simulated caseloads by what their interval says, with the
    typical width of the interval above it.
    """
    table, study = plan.table, plan.study.analysis
    zero = f"{plan.study.outcome.zero:g}"
    known = table.dropna(subset=["width"]).sort_values("width", ascending=False, kind="stable").to_dict("records")
    if not known:
        title = "No cell of this grid gives an interval"
    else:
        first, last = known[0], known[-1]
        title = f"A typical interval is {_wide(first['width'])} wide with {_size(first)}"
        if first["width"] > last["width"]:
            title += f", {_wide(last['width'])} with {_size(last)}"
    return Picture(
        "grid",
        title,
        pd.DataFrame(table[list(COLUMNS)]),
        "weeks that each may be followed",
        "people",
        f"Grid of simulated records, {count(len(table), 'cell')}. " + " ".join(_cell_text(r) for r in table.to_dict("records")),
        {
            "subtitle": f"{plan.caseloads} simulated caseloads per cell; differences in next week's pain in points per {contrast_label(study.primary, study.primary_contrast)}; "
            f"a bar is 100 caseloads by what their interval says, the figure above it the interval's typical width",
            "labels": {
                "p_beyond": f"wholly beyond {zero} points", "p_partly": "leaves out 0, size open", "p_open": "includes 0, size open",
                "p_within": f"wholly within {zero} points", "p_no_interval": "no interval",
            },
        },
    )  # fmt: skip


def number(value: float) -> str:
    """A number with its sign, without needless zeros; 0 has none."""
    return f"{value:+g}".replace("-", MINUS) if value else "0"


def _wide(width: float) -> str:
    return f"{fixed(width, 1 if width >= 10 else 2)} points" if width < 100 else "more than 100 points"


def _size(row: dict) -> str:
    return f"{count(int(row['people']), 'person', 'people')} and {count(int(row['weeks']), 'week')}"


def _cell_text(r: dict) -> str:
    size = (
        f"{count(r['people'], 'person', 'people')}, {count(r['weeks'], 'week')}, true difference {number(r['effect'])}"
    )
    if r["p_no_interval"] > 0.995:
        return f"{size}: nothing is estimated."
    share = {k: f"{100 * r[k]:.0f}" for k in ("p_beyond", "p_partly", "p_open", "p_within")}
    return (
        f"{size}: interval {_wide(r['width'])} wide; of 100, {share['p_beyond']} beyond practically zero, {share['p_partly']} leaving out 0 but of open size, "
        f"{share['p_open']} including 0 and open, {share['p_within']} within practically zero."
    )
