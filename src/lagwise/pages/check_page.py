"""check.html: what was read, repaired and set aside, what is known of whom and when, and what looks odd."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from pathlib import Path

import pandas as pd

from lagwise.caseload.check import check
from lagwise.caseload.check_reading import Reading, read_as_far
from lagwise.caseload.remarks import Finding
from lagwise.core.errors import LagwiseError
from lagwise.core.numbers import plural, whole
from lagwise.core.results import Caseload, Panel
from lagwise.document.html import render_html
from lagwise.document.settle import settled
from lagwise.document.tree import (
    Block,
    Box,
    Bullets,
    Document,
    Figure,
    Grid,
    Heading,
    Span,
    link,
    para,
)  # fmt: skip
from lagwise.pages import check_parts as parts
from lagwise.pages.check_map import coverage_map
from lagwise.pages.check_needs import Need, need_blocks, needs
from lagwise.pages.check_panel import panel_check
from lagwise.panel import build_panel
from lagwise.say import check_record as words
from lagwise.say.check_first import draft_blocks, first_blocks, lacks
from lagwise.say.check_page import TEXTS
from lagwise.say.check_page import coverage as in_words
from lagwise.say.voice import Voice

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
        caseload = self.reading.caseload
        aside = caseload is not None and len(caseload.quarantine)
        return self.reading.plan.study.reviewed and not aside and not self.waits

    @property
    def waits(self) -> int:
        """How many things must be mended before a report."""
        return sum(need.stops for need in self.needs)


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
    matters = [] if caseload is None else parts.matters(caseload, found)
    aside = [] if caseload is None else parts.matters_aside(parts.set_aside(caseload.quarantine), found)
    asked, rest = needs(reading, [*aside, *matters])
    return Checked(reading, panel, found, tuple(asked), tuple(rest))


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
    blocks: list[Block] = [Heading(1, title, "title"), *first_blocks(of.reading, panel, of.waits)]
    if caseload is not None:
        blocks += _counted(caseload, panel, of.needs)
    blocks += need_blocks(of.needs, of.reading.plan.text, page=True)
    if draft := list(draft_blocks(of.reading)):
        blocks += [Heading(2, TEXTS["draft"], "draft"), *draft]
    if caseload is not None:
        blocks += _read(caseload)
        if panel is not None:
            blocks += _coverage(panel, left_out) if picture else ()
            blocks += _states(caseload, panel)
        blocks += [*_matters(of.rest), *_repairs(caseload)]
    document = settled(Document(title, tuple(blocks), contents=TEXTS["contents"]))
    return render_html(document, {"map": picture} if picture else {}, head=MARK, css=_CSS, numbered=False)


def _counted(caseload: Caseload, panel: Panel | None, asked: Sequence[Need]) -> Iterator[Block]:
    """What was read and set aside in numbers, and where more of it stands."""
    read, used = (int(caseload.counts[name].sum()) for name in ("read", "used"))
    said = f"{plural(read, 'row')} read, {whole(used)} used. {words.aside_sentence(caseload, 'aside')}"
    more = [link(TEXTS["which"], "rows")] if len(caseload.quarantine) else []
    if panel is not None and lacks(panel, caseload):
        more.append(link(TEXTS["lacks"], "states"))
    yield para(
        said if asked else f"{TEXTS['no_edit']} {said}", *(part for one in more for part in (" ", one, "."))
    )
    yield para(TEXTS["private"], role="note")


def _read(caseload: Caseload) -> Iterator[Block]:
    yield Heading(2, TEXTS["read"], "rows")
    yield para(words.aside_sentence(caseload, "each_mended"), role="finding")
    yield parts.frame_grid(TEXTS["rows"], parts.row_counts(caseload), "files")
    if len(caseload.quarantine):
        reasons = parts.set_aside(caseload.quarantine)
        table = parts.frame_grid(TEXTS["quarantine"], reasons.drop(columns="mend"), "reasons")
        yield _folded(TEXTS["by_reason"], table, parts.mends(reasons))


def _coverage(panel: Panel, left_out: str) -> Iterator[Block]:
    f, asked, step = panel.frame, panel.study.outcome, panel.study.step
    known = {state: f["state"].eq(state).astype(int) for state in ("trained", "rest", "unknown")}
    table = pd.DataFrame({"person": f["person"], **known, "rated": f[asked.name].notna().astype(int)})
    people = table.groupby("person", sort=False).sum().reset_index().head(LISTED)
    yield Heading(2, TEXTS["coverage"], "coverage")
    yield para(words.states_sentence(panel), role="finding")
    rated = asked.variable.label
    yield Figure("map", f"{TEXTS['map'].format(rated=rated, step=step)} {left_out}".strip(), in_words(panel))
    caption = TEXTS["people"].format(step=step, rated=rated)
    yield _folded(TEXTS["numbers"], parts.frame_grid(caption, people, "people"))


def _states(caseload: Caseload, panel: Panel) -> Iterator[Block]:
    yield Heading(2, TEXTS["states"], "states")
    known = words.known_sentence(panel)
    told = (lacks(panel, caseload), *words.sentences(caseload, panel))
    yield para(known, role="finding")
    yield from map(para, [one for one in told if one not in ("", known, words.states_sentence(panel))])
    if Voice.of(panel.study).of_pain:
        caption = TEXTS["ratings"].format(step=panel.study.step)
        yield _folded(caption, parts.frame_grid(caption, parts.ratings(panel), "per-step"))


def _folded(title: str, table: Grid, *more: Bullets) -> Box:
    """A table, and what belongs to it, behind its title and how long it is."""
    return Box(
        TEXTS["table"].format(title=title, rows=plural(len(table.rows), "row")), (table, *more), "fold"
    )


def _matters(items: Sequence[parts.Matter]) -> Iterator[Block]:
    yield Heading(2, TEXTS["noticed"], "noticed")
    asked, brief = [m for m in items if not m.informs], [m for m in items if m.informs]
    odd = TEXTS["odd"].format(n=plural(len(asked), "thing")) if asked else TEXTS["nothing_odd"]
    yield para(odd, role="finding")
    for m in asked:
        title, said = parts.matter_said(m)
        yield Box(f"{title} ({plural(m.count, 'time')})", (said,), "fold")
    if brief:
        yield Box(f"{TEXTS['informs']} ({len(brief)})", (parts.told_briefly(brief),), "fold")


def _repairs(caseload: Caseload) -> Iterator[Block]:
    made = parts.repairs(caseload)
    if made.empty:
        return
    yield Heading(2, TEXTS["repaired"], "repairs")
    yield para(TEXTS["repairs"].format(times=plural(int(made["times"].sum()), "time")), role="finding")
    yield para(
        TEXTS["no_repair"],
        Span("[repair]", "code"),
        TEXTS["repairs_as"],
        Span("date_words = false", "code"),
        ".",
    )
    yield _folded(TEXTS["repaired"], parts.frame_grid(TEXTS["five_places"], made, "made"))
