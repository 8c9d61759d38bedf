"""risk.html: what could still be recognised, in plain words first, then in tables."""

from __future__ import annotations

import math
from collections.abc import Iterable
from html import escape

from lagwise.caseload.risk import NOT_ANONYMOUS, Risk, percent
from lagwise.caseload.singled_out import Share

METHOD = (
    "How it is counted. Take a person at random, and some of what is recorded of that person at random. The "
    "person is singled out when this fits nobody else here. The percentage is the average over people and over "
    "what may be known of them; every set of points is tried where there are few, else at least 20 of each "
    "person are drawn, with a fixed seed (standard error at most {error:.1f} percentage points). 'Before' "
    "somebody knows the dates; 'after' the dates were moved, so that weekdays and the days between two known "
    "points are what is left of them. Somebody who knows such a thing with an error, or not for sure that the "
    "person is here, finds fewer; somebody who knows things of several kinds finds more.",
    "Whether the dates of everybody are moved or start in the same week (--relative) makes no difference to "
    "somebody who knows the days between. In a copy with --weekly-sums a rating is the mean of its week.",
)

KNOWN = ("Known of a person", "How many", "Before", "In this copy", "People mostly found")


def sentences(risk: Risk) -> list[str]:
    """The first paragraph: what a little knowledge does, before and after."""
    out = []
    for one in risk.headlines():
        at = one.kind.counts.index(one.kind.headline)
        before, after = one.before[at], one.after[at]
        if not math.isnan(before.mean):
            now = "it is not told any more" if math.isnan(after.mean) else f"in {percent(after)} of 100"
            out.append(
                f"Somebody knows {one.kind.spoken}: in {percent(before)} of 100 such cases this fits one "
                f"person only in the "
                f"files as they were; in this copy, {now}."
            )
    return out


def risk_page(risk: Risk) -> str:
    """The risk as one plain HTML page; everything from the data is escaped."""
    kinds = [
        (
            one.kind.words if i == 0 else "", k, shown(b), shown(a),
            "-" if math.isnan(a.mostly) else f"{100 * a.mostly:.0f} %",
        )
        for one in risk.told
        for i, (k, b, a) in enumerate(zip(one.kind.counts, one.before, one.after, strict=True))
    ]  # fmt: skip
    spoken = [one.kind.short for one in risk.headlines()]
    measures = [(words, option, *map(shown, shares)) for words, option, shares in risk.copies()]
    error = 100 * max((s.error for one in risk.told for s in (*one.before, *one.after)), default=0.0)
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>What could still be recognised</title>
<style>body{{font-family:system-ui,sans-serif;max-width:60rem;margin:2rem auto;
padding:0 1rem;line-height:1.5}}
table{{border-collapse:collapse;width:100%;margin:.5rem 0 1.5rem}}
td,th{{border-bottom:1px solid #bbb;padding:.3rem .4rem;text-align:left;vertical-align:top}}
.wide{{overflow-x:auto}}</style>
</head><body><main><h1>What could still be recognised</h1><p>{escape(NOT_ANONYMOUS)}</p>
<p>This copy holds {risk.people} people. What a little knowledge of one of them does:</p>
<ul>{"".join(f"<li>{escape(text)}</li>" for text in sentences(risk))}</ul>
<h2>Singled out by what somebody may know</h2>
{_table("Singled out", KNOWN, kinds)}
<p>The last column counts the people whom more than half of what may be known of them
tells from all others, in this copy.</p>
<h2>What lowers it</h2>
<p>Each line was worked out on this caseload: what a copy made with these options would leave.</p>
{_table("What lowers it", ("Copy", "Option", *spoken), measures)}
{"".join(f"<p>{escape(text)}</p>" for text in (METHOD[0].format(error=max(error, 0.1)), METHOD[1]))}
<h2>Single facts</h2>
{_table("Single facts", ("What", "Value", "Meaning"), risk.facts)}
</main></body></html>
"""


def shown(share: Share) -> str:
    """'40 %', or 'not there' where nobody has so many points."""
    return f"{percent(share)} %" if share.people else "not there"


def _table(label: str, head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    top = "".join(f'<th scope="col">{escape(name)}</th>' for name in head)
    body = "\n".join(
        "<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>" for row in rows
    )
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(label)}">'
        + f"<table><thead><tr>{top}</tr></thead><tbody>\n{body}\n</tbody></table></div>"
    )
