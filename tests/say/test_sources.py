"""Each number of a page knows where in the findings it comes from."""

from __future__ import annotations

import re

import pytest
import writeup_inputs as made

from lagwise.document.html import render_html
from lagwise.document.tree import Box, Bullets, Figure, Grid, Para, walk
from lagwise.say.report.document import document, on_a_screen, with_sources
from lagwise.writeup.collect import collect
from lagwise.writeup.share import shared

NUMBER = re.compile(r"\d+(?:[.\u00a0]\d+)*")


@pytest.fixture(scope="module")
def findings():
    fits = [made.mixed(), made.ordinal(), *made.curves()]
    return collect(made.caseload(), made.panel(12, 14), fits, made.challenges())


def runs(tree):
    """Every run of spans with the block it stands in."""
    for block in walk(tree.blocks):
        match block:
            case Para():
                yield block, block.spans
            case Bullets():
                yield from ((block, item) for item in block.items)
            case Grid():
                yield from ((block, cell) for row in block.rows for cell in row)


def text(run):
    return "".join(span.text for span in run)


@pytest.mark.parametrize("version", [lambda f: f, shared], ids=["private", "shared"])
def test_the_text_is_the_same_with_and_without(findings, version):
    plain, known = document(version(findings)), with_sources(version(findings))
    assert [text(run) for _, run in runs(plain)] == [text(run) for _, run in runs(known)]
    others = (Para, Bullets, Grid, Figure, Box)
    assert [b for b in walk(plain.blocks) if not isinstance(b, others)] == [
        b for b in walk(known.blocks) if not isinstance(b, others)
    ]
    without = [
        [(b.caption, getattr(b, "note", "")) for b in walk(plain.blocks) if isinstance(b, Grid | Figure)],
        [tuple(map(text, b.sourced)) for b in walk(known.blocks) if isinstance(b, Grid | Figure)],
    ]
    assert without[0] == without[1]
    heads = [[b.head for b in walk(one.blocks) if isinstance(b, Grid)] for one in (plain, known)]
    assert heads[0] == heads[1]


def test_numbers_of_paragraphs_and_tables_say_where_they_come_from(findings):
    known = with_sources(findings)
    every = [(b, s) for b, run in runs(known) for s in run if NUMBER.search(s.text)]
    sourced = [s for _, s in every if s.source]
    assert len(sourced) > 0.7 * len(every)
    assert all("findings.json: " in s.source for s in sourced)
    of = {
        b.id: [s.source for row in b.rows for cell in row for s in cell if s.source]
        for b in walk(known.blocks)
        if isinstance(b, Grid)
    }
    assert "findings.json: tables, cohort, row 1." in of["cohort"][0]
    assert "effects.csv: term jump" in of["exposures"][0]
    assert any("fits, mixed, diagnostics, row 1." in s for s in of["gates-table"])


def test_captions_and_notes_say_it_too_and_a_page_shows_it(findings):
    """What is left without a source is the plan's: scales, contrasts and limits."""
    known = on_a_screen(with_sources(findings))
    told = {b.id: b.sourced for b in walk(known.blocks) if isinstance(b, Grid)}
    lags = [s.source for s in told["lags-table"][1] if s.source]
    assert lags[0].endswith("fits, lags, n_people.") and lags[1].endswith("fits, lags, n_steps.")
    assert "Made by build_panel, of 12 people. findings.json: numbers, steps." in [
        s.source for s in told["missing"][0]
    ]
    drawn = {b.name: "<svg></svg>" for b in walk(known.blocks) if isinstance(b, Figure)}
    page = render_html(known, drawn)
    assert re.search(r'<caption id="caption-missing">.*?of <span data-s="\d+">156</span>', page)
    assert re.search(r'<p class="note"><span data-s="\d+">11</span> people', page)


def test_a_number_is_that_of_the_place_it_names(findings):
    cohort = findings.tables["cohort"].records()
    grid = next(b for b in walk(with_sources(findings).blocks) if isinstance(b, Grid) and b.id == "cohort")
    for row in grid.rows:
        span = next(s for s in row[1] if s.source)
        at = int(re.search(r"row (\d+)\.", span.source)[1]) - 1
        assert span.text == str(cohort[at]["n_people"])
