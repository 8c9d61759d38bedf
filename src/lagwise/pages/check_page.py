"""check.html: what was read, repaired and set aside, what is known of whom and when, and what looks odd."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from pathlib import Path

import pandas as pd

from lagwise.caseload.check import check
from lagwise.caseload.check_reading import Reading, read_as_far
from lagwise.caseload.remarks import Finding, at_row
from lagwise.core.errors import LagwiseError
from lagwise.core.numbers import count
from lagwise.core.results import Caseload, Panel
from lagwise.document.html import render_html
from lagwise.document.settle import settled
from lagwise.document.tree import Block, Bullets, Document, Figure, Heading, Span, para, strong
from lagwise.pages import check_parts as parts
from lagwise.pages.check_first import first_blocks
from lagwise.pages.check_map import alt, coverage_map
from lagwise.pages.check_needs import Need, need_blocks, needs
from lagwise.pages.check_panel import panel_check
from lagwise.panel import build_panel

NOTHING = pd.DataFrame(columns=[f.name for f in fields(Finding)])
LISTED = 1000
"""People in the table at the end."""
MARK = '<meta name="generator" content="lagwise check">'
_CSS = """
.map text { font: 11px ui-monospace, Menlo, Consolas, monospace; fill: var(--ink); }
.map .when { fill: var(--muted); } .map .trained { fill: var(--link); }
.map .rest { fill: none; stroke: var(--link); stroke-width: 2; }
.map .unknown { stroke: var(--muted); stroke-width: 2; }
.map .rated { fill: none; stroke: var(--ink); stroke-width: 4; stroke-linecap: round; }
.picture svg.map { width: auto; min-width: 0; max-width: none; }
#per-step { width: auto; }
"""


@dataclass(frozen=True)
class Checked:
    """What a check found: the folder as far as it can be read, its panel (None where there is none), what was
    noticed, and of it what an edit mends and what needs none."""

    reading: Reading
    panel: Panel | None
    noticed: pd.DataFrame
    needs: tuple[Need, ...]
    rest: tuple[parts.Matter, ...]

    @property
    def clean(self) -> bool:
        """Whether nothing stops a report, the plan is no draft, and no row and no cell was set aside."""
        aside = self.reading.caseload is not None and parts.aside_sentence(self.reading.caseload)
        return self.reading.plan.study.reviewed and not aside and not any(need.stops for need in self.needs)


def checked(folder: str | Path) -> Checked:
    """Read a caseload folder as far as it goes, and look at what was read.

    Raises
    ------
    CaseloadError, StudyError
        When there is no folder, no study.toml, or nothing of it can be read.
    """
    reading = read_as_far(folder)
    caseload, panel, found = reading.caseload, None, NOTHING
    if caseload is not None:
        found = check(caseload)
        with suppress(LagwiseError):
            panel = build_panel(caseload)
            found = pd.concat([found, panel_check(caseload, panel)], ignore_index=True)
    where = [
        _parted(w, reading.named.get(t, ())) for t, w in zip(found["table"], found["where"], strict=True)
    ]
    found = found.assign(where=where)
    matters = [] if caseload is None else parts.matters(caseload, found)
    aside = [] if caseload is None else parts.matters_aside(parts.set_aside(caseload.quarantine), found)
    asked, rest = needs(reading, [*aside, *matters])
    return Checked(reading, panel, found, tuple(asked), tuple(rest))


def _parted(where: str, named: Sequence[str]) -> str:
    """Places of a table in several files or sheets with their names."""

    def said(found: re.Match[str]) -> str:
        return ", ".join(at_row(int(row), named) for row in found[1].split(", "))

    return re.sub(r"row (\d+(?:, \d+)*)", said, where) if named else where


def check_page(of: Checked) -> str:
    """A self-contained HTML page on a caseload folder that was read as far as it goes.

    Parameters
    ----------
    of : Checked

    Returns
    -------
    str
        HTML without outside references. Every text from the data is escaped. The page names codes of people
        and values of cells: it is for those who may see the data.
    """
    caseload, panel, title = of.reading.caseload, of.panel, f"Check: {of.reading.plan.study.title}"
    picture, left_out = coverage_map(panel) if panel is not None else ("", "")
    blocks: list[Block] = [
        Heading(1, title, "title"),
        *first_blocks(of.reading, panel, of.needs),
        *need_blocks(list(of.needs), of.reading.plan.text),
    ]
    if caseload is not None:
        blocks += _read(caseload)
        if panel is not None:
            blocks += _coverage(panel, left_out) if picture else ()
            blocks += _states(caseload, panel)
        blocks += [*_matters(of.rest), *_repairs(caseload)]
    if panel is not None and picture:
        blocks += _in_numbers(panel)
    document = settled(Document(title, tuple(blocks)))
    return render_html(document, {"map": picture} if picture else {}, head=MARK, css=_CSS, numbered=False)


def _read(caseload: Caseload) -> Iterator[Block]:
    counts, aside = caseload.counts, parts.aside_sentence(caseload)
    said = f"{aside}, each with what would mend it." if aside else "No row and no cell was set aside."
    yield para(
        f"{count(int(counts['read'].sum()), 'row')} read, {int(counts['used'].sum())} used. {said}",
        role="lead",
    )
    yield para(
        "Private: this page names codes of people and values of cells. Keep it with the data. "
        "Row numbers are those of the file, the header being row 1.",
        role="note",
    )
    yield Heading(2, "What was read", "rows")
    yield parts.frame_grid(
        "Rows, and filled cells among the rows used: read = used + set aside. A repair is a cell, header or "
        "file that "
        "was read although it is written otherwise; each is listed below.",
        parts.row_counts(caseload),
        "files",
    )
    if len(caseload.quarantine):
        yield Heading(3, "Set aside, by reason", "aside")
        reasons = parts.set_aside(caseload.quarantine)
        told = "Up to five places each; the report's quarantine.csv lists every row and cell."
        yield parts.frame_grid(told, reasons.drop(columns="mend"), "reasons")
        yield parts.mends(reasons)


def _coverage(panel: Panel, left_out: str) -> Iterator[Block]:
    rated = panel.study.outcome.variable.label
    yield Heading(2, "What is known of whom, and when", "coverage")
    yield para(
        f"One row per person, one column per {panel.study.step}; blank before a person's first and after "
        "their last record."
    )
    key = "\u25a0 trained; \u25a1 rest, recorded as none; \u2013 unknown, nothing recorded; "
    key += f"dot below: {rated} was rated."
    yield Figure("map", f"{key} {left_out}".strip(), alt(panel))


def _states(caseload: Caseload, panel: Panel) -> Iterator[Block]:
    yield Heading(2, "Training states and ratings", "states")
    said = parts.ratings_sentence(panel)
    yield from map(para, [one for one in parts.sentences(caseload, panel) if one != said])
    if said:
        yield Heading(3, "Ratings per step", "ratings")
        yield para(said)
        yield parts.frame_grid("Steps by number of pain ratings.", parts.ratings(panel), "per-step")


def _matters(items: Sequence[parts.Matter]) -> Iterator[Block]:
    yield Heading(2, "Noticed in the rows that are used", "noticed")
    asked, brief = [m for m in items if not m.informs], [m for m in items if m.informs]
    if not asked:
        yield para("Nothing.")
    for i, m in enumerate(asked, 1):
        where = ": ".join(part for part in (m.place, m.examples) if part) + f" ({count(m.count, 'time')})"
        told = (("Where", where), ("Why it matters", m.why), ("Mend", m.mend))
        yield Heading(3, m.what, f"matter-{i}")
        yield Bullets(tuple((strong(f"{name}: "), Span(text)) for name, text in told if text))
    if brief:
        yield Heading(2, "For information: nothing need be done", "information")
        yield parts.told_briefly(brief)


def _repairs(caseload: Caseload) -> Iterator[Block]:
    made = parts.repairs(caseload)
    if made.empty:
        return
    yield Heading(2, "Repairs", "repairs")
    yield para(
        "Cells, headers and files that were read although they are written otherwise. To have such cells set "
        "aside "
        "instead, write the name of the repair under ",
        Span("[repair]", "code"),
        " in study.toml, as in ",
        Span("date_words = false", "code"),
        ".",
    )
    yield parts.frame_grid("Up to five places each.", made, "made")


def _in_numbers(panel: Panel) -> Iterator[Block]:
    f, asked = panel.frame, panel.study.outcome
    known = {state: f["state"].eq(state).astype(int) for state in ("trained", "rest", "unknown")}
    table = pd.DataFrame({"person": f["person"], **known, "rated": f[asked.name].notna().astype(int)})
    yield Heading(2, "The same coverage in numbers", "numbers")
    caption = f"Steps per person in each state, and steps with a rating of {asked.variable.label}."
    people = table.groupby("person", sort=False).sum().reset_index().head(LISTED)
    yield parts.frame_grid(caption, people, "people")
