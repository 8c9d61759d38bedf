"""check.html: what was read, repaired and set aside, what is known of whom and when, and what looks odd."""

from __future__ import annotations

from importlib.resources import files

import pandas as pd

from lagwise.core.results import Caseload, Panel
from lagwise.pages import check_parts as parts
from lagwise.pages.check_map import coverage_map, key
from lagwise.writeup.settle import html_text as escape

LISTED = 1000
"""People in the table below the picture."""
MARK = '<meta name="generator" content="lagwise check">'
NUMBERS = (
    "read",
    "used",
    "set aside",
    "repairs",
    "rows",
    "cells",
    "times",
    "steps",
    "cells read",
    "cells used",
    "cells set aside",
)
_CSS = """
.map { overflow: visible; } .map text { font: 11px ui-monospace, Menlo, Consolas, monospace; fill: var(--ink); }
.map .when { fill: var(--muted); } .map .trained { fill: var(--link); }
.map .rest { fill: none; stroke: var(--link); stroke-width: 2; } .map .unknown { stroke: var(--muted); stroke-width: 2; }
.map .rated { fill: none; stroke: var(--ink); stroke-width: 4; stroke-linecap: round; }
.picture svg.map { display: block; width: auto; min-width: 0; max-width: none; height: auto; }
.key { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .2rem 1.2rem; font-size: .92rem; color: var(--muted); }
.key svg { vertical-align: -1px; }
.matter { border-top: 1px solid var(--line); padding: 1rem 0 .2rem; } .matter h3 { margin: 0 0 .5rem; }
.matter dl { display: grid; grid-template-columns: 8.5rem 1fr; gap: .3rem 1rem; margin: 0 0 1rem; font-size: .95rem; }
.matter dt { color: var(--muted); } .matter dd { margin: 0; overflow-wrap: anywhere; }
td.wide { min-width: 11rem; overflow-wrap: anywhere; } th { white-space: nowrap; } .slim table { width: auto; } p.note + .scroll { margin-top: 0; }
@media (max-width: 30rem) { .matter dl { grid-template-columns: 1fr; gap: 0; } .matter dd { margin-bottom: .5rem; } }
"""


def check_page(caseload: Caseload, panel: Panel, noticed: pd.DataFrame) -> str:
    """A self-contained HTML page on a caseload that was read.

    Parameters
    ----------
    caseload : Caseload
    panel : Panel
        Of the same caseload.
    noticed : DataFrame
        From `lagwise.caseload.check`.

    Returns
    -------
    str
        HTML without outside references. Every text from the data is escaped. The page names codes of people and
        values of cells: it is for those who may see the data.
    """
    title = f"Check: {caseload.study.title}"
    css = (files("lagwise.writeup") / "templates" / "case-series.css").read_text(encoding="utf-8")
    body = [
        f"<h1>{escape(title)}</h1>", _lead(caseload),
        _rows(caseload), _coverage(panel), _states(caseload, panel), _matters(caseload, noticed), _repairs(caseload),
    ]  # fmt: skip
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta name="color-scheme" content="light dark">\n{MARK}\n<title>{escape(title)}</title>\n'
        f"<style>\n{css}{_CSS}</style>\n</head>\n<body>\n"
        f'<a class="skip" href="#main">Skip to the text</a>\n<main id="main">\n{"".join(body)}</main>\n</body>\n</html>\n'
    )


def _lead(caseload: Caseload) -> str:
    counts = caseload.counts
    aside = parts.aside_sentence(caseload)
    said = f"{aside}, each with what would mend it." if aside else "No row and no cell was set aside."
    return (
        f'<p class="lead">{parts.plural(int(counts["read"].sum()), "row")} read, '
        f"{int(counts['used'].sum())} used. {said}</p>\n"
        '<p class="note">Private: this page names codes of people and values of cells. Keep it with the data. '
        "Row numbers are those of the file, the header being row 1.</p>\n"
    )


def _rows(caseload: Caseload) -> str:
    out = _heading("rows", "What was read") + _table(
        parts.row_counts(caseload), "Rows, and filled cells among the rows used: read = used + set aside. A repair is a cell, header or file that was read although it is written otherwise; each is listed below."
    )  # fmt: skip
    if len(caseload.quarantine):
        out += "<h3>Set aside, by reason</h3>\n" + _table(
            parts.set_aside(caseload.quarantine),
            "Up to five places each; the report's quarantine.csv lists every row and cell.",
        )
    return out


def _coverage(panel: Panel) -> str:
    picture, left_out = coverage_map(panel)
    if not picture:
        return ""
    days = panel.study.clock.step_days
    step = {1: "day", 7: "week"}.get(days, f"step of {days} days")
    f = panel.frame
    known = {state: f["state"].eq(state).astype(int) for state in ("trained", "rest", "unknown")}
    table = pd.DataFrame({"person": f["person"], **known, "rated": f[panel.study.outcome.name].notna().astype(int)})
    table = table.groupby("person", sort=False).sum().reset_index().head(LISTED)
    return (
        _heading("coverage", "What is known of whom, and when")
        + f"<p>One row per person, one column per {step}; blank before a person's first and after their last record.</p>\n"
        + key(escape(panel.study.outcome.variable.label))
        + f'<div class="picture scroll" role="region" aria-label="Coverage, people by {step}" tabindex="0">{picture}</div>\n'
        + (f'<p class="note">{escape(left_out)}</p>\n' if left_out else "")
        + "<details><summary>The same in numbers</summary>\n"
        + _table(
            table,
            f"Steps per person in each state, and steps with a rating of {panel.study.outcome.variable.label}.",
            (*NUMBERS, *table.columns[1:]),
        )
        + "</details>\n"
    )


def _states(caseload: Caseload, panel: Panel) -> str:
    lost = "".join(f"<p>{escape(sentence)}</p>\n" for sentence in parts.lost_sentences(caseload, panel))
    return (
        _heading("states", "Training states and ratings")
        + f"<p>{escape(parts.states_sentence(panel))}</p>\n<p>{escape(parts.known_sentence(panel))}</p>\n"
        + lost
        + "<h3>Ratings per step</h3>\n"
        + f"<p>{escape(parts.ratings_sentence(panel))}</p>\n"
        + _table(parts.ratings(panel), "Steps by number of pain ratings.").replace("scroll", "scroll slim", 1)
    )


def _matters(caseload: Caseload, noticed: pd.DataFrame) -> str:
    items = parts.matters(caseload, noticed)
    if not items:
        return _heading("noticed", "Noticed in the rows that are used") + "<p>Nothing.</p>\n"
    out = [_heading("noticed", "Noticed in the rows that are used")]
    for m in items:
        where = ": ".join(part for part in (m.place, m.examples) if part) + f" ({parts.plural(m.count, 'time')})"
        told = (("Where", where), ("Why it matters", m.why), ("Mend", m.mend))
        rows = "".join(f"<dt>{name}</dt><dd>{escape(text)}</dd>" for name, text in told if text)
        out.append(f'<section class="matter">\n<h3>{escape(m.what)}</h3>\n<dl>{rows}</dl>\n</section>\n')
    return "".join(out)


def _repairs(caseload: Caseload) -> str:
    made = parts.repairs(caseload)
    if made.empty:
        return ""
    return (
        _heading("repairs", "Repairs")
        + "<p>Cells, headers and files that were read although they are written otherwise. To have such cells set aside instead, "
        "write the name of the repair under <code>[repair]</code> in study.toml, as in <code>date_words = false</code>.</p>\n"
        + _table(made, "Up to five places each.")
    )


def _heading(name: str, text: str) -> str:
    return f'<h2 id="{name}">{escape(text)}</h2>\n'


def _table(frame: pd.DataFrame, caption: str, numeric: tuple[str, ...] = NUMBERS) -> str:
    kinds = ["num" if name in numeric else "wide" if name in ("first places", "mend", "done") else "" for name in frame]
    css = [f' class="{kind}"' if kind else "" for kind in kinds]
    head = "".join(f'<th scope="col"{c}>{escape(str(name))}</th>' for name, c in zip(frame, css, strict=True))
    body = "".join(
        "<tr>" + "".join(f"<td{c}>{escape(_said(v))}</td>" for v, c in zip(row, css, strict=True)) + "</tr>\n"
        for row in frame.itertuples(index=False)
    )
    return (
        f'<p class="note">{escape(caption)}</p>\n'
        f'<div class="scroll" role="region" aria-label="{escape(caption)}" tabindex="0">\n<table>\n'
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{body}</tbody>\n</table>\n</div>\n"
    )


def _said(value: object) -> str:
    return "" if value is None or value != value else str(value)
