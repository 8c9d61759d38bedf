"""Cards for notebooks: a title, a few lines and tables as one self-contained piece of HTML.

Everything that comes from data is escaped, nothing is fetched, and colours are the page's own, so that a card reads the
same on light and dark ground. Great Tables builds the tables' markup (header cells that screen readers can follow, groups,
notes); its stylesheet sets light colours and rules for the whole page, so the short one below stands in its place.
"""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

import pandas as pd

from lagwise.core.numbers import decimals, fixed, signed, significant, span

UNKNOWN = "\u2013"

STYLE = """
CARD{color:inherit;background:transparent;max-width:64em;line-height:1.45;overflow-x:auto}
CARD p{margin:.15em 0;max-width:52em}
CARD p.lw-title{font-size:1.1em}
CARD p.lw-quiet,CARD .gt_sourcenote,CARD summary{opacity:.8}
CARD details{margin:.3em 0}
CARD summary{cursor:pointer}
CARD table{border-collapse:collapse;margin:.5em 0 .7em;font-size:.95em;width:auto;table-layout:auto;color:inherit;background:transparent;border:0}
CARD tr,CARD tr:hover,CARD tr:nth-child(odd),CARD tr:nth-child(even){background:transparent;color:inherit;border:0}
CARD td,CARD th{color:inherit;background:transparent;border:0;padding:.22em 1.3em .22em 0;text-align:left;vertical-align:top;white-space:normal;max-width:34em;font-weight:normal}
CARD td.gt_heading{font-weight:bold;padding-bottom:.3em}
CARD th.gt_col_heading{font-weight:bold;vertical-align:bottom;border-bottom:1px solid rgba(128,128,128,.7)}
CARD tbody td{border-top:1px solid rgba(128,128,128,.28)}
CARD .gt_group_heading{padding-top:.8em;font-style:italic;border-top:1px solid rgba(128,128,128,.7);border-bottom:0;max-width:none}
CARD .gt_right{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
""".strip().replace("CARD", ".lagwise-card.lagwise-card.lagwise-card")
"""Class names three times over, which outweighs the table rules of notebook pages without `!important`."""

_SHEET = re.compile(r"<style>.*?</style>\s*", re.DOTALL)


def card(title: str, lines: Iterable[str], *parts: str) -> str:
    """A card: its title, lines of plain text (the title and lines are escaped), then parts that are HTML already."""
    said = "".join(f"<p>{escape(line)}</p>" for line in lines if line)
    head = f'<p class="lw-title"><strong>{escape(title)}</strong></p>'
    return f'<div class="lagwise-card"><style>{STYLE}</style>{head}{said}{"".join(parts)}</div>'


def quiet(text: str) -> str:
    """A line of lesser weight, escaped."""
    return f'<p class="lw-quiet">{escape(text)}</p>' if text else ""


def fold(summary: str, *parts: str) -> str:
    """Parts that open on a click."""
    return f"<details><summary>{escape(summary)}</summary>{''.join(parts)}</details>"


def table(
    title: str,
    columns: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    right: Iterable[str] = (),
    group: str | None = None,
    note: str = "",
) -> str:
    """Rows of text as a table; empty when there are none.

    `right` names the columns of numbers; `group` the column whose values become headings over their rows.
    """
    frame = pd.DataFrame([[str(cell) for cell in row] for row in rows], columns=list(columns), dtype=object)
    if frame.empty:
        return ""
    from great_tables import GT

    seen = hashlib.sha256(repr((title, frame.to_dict("split"))).encode()).hexdigest()[:10]
    built = GT(frame, id=f"lw{seen}", groupname_col=group).tab_header(title=title).cols_align("left")
    numbers = [name for name in right if name in frame.columns]
    if numbers:
        built = built.cols_align("right", columns=numbers)
    if note:
        built = built.tab_source_note(note)
    return _SHEET.sub("", built.as_raw_html())


def known(value: Any) -> float | None:
    """A number, or None where it is missing or not finite."""
    return None if value is None or pd.isna(value) or not math.isfinite(float(value)) else float(value)


def number(value: Any, low: Any = None, high: Any = None) -> str:
    """A number rounded by its interval, or to 3 significant digits without one; an en dash where it is missing."""
    value, low, high = known(value), known(low), known(high)
    if value is None:
        return UNKNOWN
    if low is None or high is None:
        return "0" if value == 0 else significant(value)
    return fixed(value, decimals(low, high))


def change(value: Any, low: Any, high: Any) -> tuple[str, str]:
    """A difference with its sign, and its interval as 'low to high', both rounded by the interval."""
    value, low, high = known(value), known(low), known(high)
    places = decimals(low, high)
    between = UNKNOWN if low is None or high is None else f"{signed(low, places)} to {signed(high, places)}"
    return (UNKNOWN if value is None else signed(value, places)), between


def interval(low: Any, high: Any) -> str:
    """An interval as 'low to high'; an en dash where there is none."""
    low, high = known(low), known(high)
    return UNKNOWN if low is None or high is None else span(low, high, decimals(low, high))
