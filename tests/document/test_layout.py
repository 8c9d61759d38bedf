"""One tree laid out on a screen, where the answer stands first and what is long is folded, and on paper."""

from __future__ import annotations

import re
from dataclasses import replace

import browser
import numpy as np
import pytest
import writeup_inputs as made
from axe_playwright_python.sync_playwright import Axe

from lagwise.document.html import render_html
from lagwise.document.layout import on_paper, on_screen, sections
from lagwise.document.markdown import render_md
from lagwise.document.tree import Box, Document, Figure, Grid, Heading, Para, folded, grid, link, para, walk
from lagwise.findings import Findings
from lagwise.models import fit_mixed
from lagwise.say.report.document import document, on_a_screen, on_sheets, with_sources
from lagwise.say.report.figures import figures
from lagwise.synthetic import CLINIC, simulate_panel
from lagwise.writeup.collect import collect
from lagwise.writeup.draw import draw_all
from lagwise.writeup.share import shared

pytestmark = pytest.mark.xdist_group("browser")  # a report that is made once
TREE = Document(
    "T",
    (
        Heading(1, "T", "title"),
        Heading(2, "Was it so?", "first"),
        para("It was.", role="lead"),
        Box("How sure", (para("Quite."), para(link("More", "more"))), "door", "sure"),
        Heading(2, "More", "more"),
        para("Found.", role="finding"),
        Box("Long", (Heading(3, "Within", "in"), grid("g", "All", ("a",), [("1",)])), "fold", "long"),
        Box("Mind", (para("Care."),), "care"),
        Heading(2, "How", "how"),
        Box("Deep", (para("So."),), "fold", "deep"),
    ),
)


def told(blocks) -> list[str]:
    """Every text of blocks and of what is in them, links that lead on apart."""
    out = []
    for block in walk(blocks):
        match block:
            case Heading():
                out.append(block.text)
            case Para() if not all(span.kind == "link" for span in block.spans):
                out.append("".join(span.text for span in block.spans))
            case Grid() | Figure():
                out.append(block.caption)
            case Box():
                out.append(block.title)
    return out


def test_paper_holds_a_body_then_what_was_folded_and_says_where():
    laid = on_paper(TREE, folded=("how",), appendix="Appendix", see="See")
    heads = [(b.level, b.text) for b in laid.blocks if isinstance(b, Heading)]
    assert heads == [
        (1, "T"), (2, "Was it so?"), (2, "More"), (2, "Appendix"), (3, "Long"), (4, "Within"), (3, "How"), (4, "Deep"),
    ]  # fmt: skip
    assert not [b for b in walk(laid.blocks) if isinstance(b, Box) and b.kind in ("fold", "door", "front")]
    more = dict(sections(laid.blocks))["more"]
    assert told(more) == ["More", "Found.", "See: Long.", "Mind", "Care."]
    assert told(laid.blocks)[:3] == ["T", "Was it so?", "It was."] and "How sure. Quite." in told(laid.blocks)
    bare = replace(TREE, blocks=TREE.blocks[:3])
    assert on_paper(bare, folded=(), appendix="Appendix", see="See").blocks == bare.blocks


def test_a_door_that_asks_keeps_its_sign_on_paper():
    asks = replace(TREE, blocks=(TREE.blocks[1], Box("Who?", (para("Ten."),), "door", "who")))
    assert told(on_paper(asks, folded=(), appendix="Appendix", see="See").blocks)[-1] == "Who? Ten."


def test_a_screen_holds_every_block_once():
    laid = on_screen(TREE, front="first", folded=("how",))
    kinds = [b.kind if isinstance(b, Box) else type(b).__name__ for b in laid.blocks]
    assert kinds == ["Heading", "front", "Heading", "Para", "fold", "care", "fold"]
    inside = [b for b in walk(laid.blocks) if not (isinstance(b, Box) and b not in [*walk(TREE.blocks)])]
    assert inside == list(walk(TREE.blocks))


def test_what_stands_under_a_heading_of_level_three_is_folded():
    blocks = [
        para("a"),
        Heading(3, "B", "b"),
        para("c"),
        Heading(4, "D", "d"),
        Heading(3, "E", "e"),
        para("f"),
    ]
    first, *folds = folded(blocks)
    assert first == blocks[0] and [(b.title, b.id, len(b.blocks)) for b in folds] == [
        ("B", "b", 2),
        ("E", "e", 1),
    ]


@pytest.fixture(scope="module")
def findings() -> Findings:
    """A quick report of invented people, with the picture of the answer and challenges."""
    panel = simulate_panel(replace(CLINIC, n_people=12, n_steps=16), np.random.default_rng(1))
    return collect(made.caseload(panel.study), panel, [fit_mixed(panel), made.ordinal()], made.challenges())


@pytest.mark.parametrize("private", [True, False])
def test_nothing_of_a_write_up_is_lost_in_either(findings, private):
    tree = document(findings if private else shared(findings))
    paper, screen = (list(walk(lay(tree).blocks)) for lay in (on_sheets, on_a_screen))
    for one in (paper, screen):
        ids = [b.id for b in one if isinstance(b, Heading | Box | Grid) and b.id]
        ids += [b.name for b in one if isinstance(b, Figure)]
        assert len(ids) == len(set(ids))
        links = [b for b in one if isinstance(b, Para) and b.role != "screen"]  # those lead into pictures
        aims = {s.target for b in links for s in b.spans if s.kind == "link"}
        assert aims <= set(ids)
    doors = {b.title for b in walk(tree.blocks) if isinstance(b, Box) and b.kind == "door"}
    assert len(doors) == 3
    md = re.sub(r"[\\*>]", "", render_md(on_sheets(tree)))
    said = " ".join(told(paper)) + " ".join(md.split())
    screens = {t for b in walk(tree.blocks) if isinstance(b, Para) and b.role == "screen" for t in told([b])}
    assert [t for t in told(tree.blocks) if t not in (*screens, said) and t not in said] == []
    assert set(told(tree.blocks)) <= set(told(screen))


@pytest.fixture(scope="module")
def page(findings, tmp_path_factory):
    file = tmp_path_factory.mktemp("page") / "case-series.html"
    file.write_text(render_html(on_a_screen(with_sources(findings)), draw_all(figures(findings))), "utf-8")
    return file.as_uri()


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (390, 844)])
def test_the_first_screen_has_the_question_the_answer_a_picture_and_three_doors(opened, page, width, height):
    with browser.page_or_picture(opened, f"front-{width}", width, height) as shown:
        shown.goto(page)
        front = shown.locator(".front")
        for inside in ("h2", "p.lead", "figure svg"):
            box = front.locator(inside).first.bounding_box()
            assert box is not None and box["y"] + box["height"] < height, inside
        doors = front.locator("details.door")
        assert doors.count() == 3 and doors.last.bounding_box()["y"] < height * (1 if width > 1000 else 1.5)
        said = " ".join(front.locator("p:visible").all_inner_texts())
        assert len([w for w in said.split() if re.search(r"\w", w)]) <= 80
        if width > 1000:  # and nothing else
            assert shown.locator("#recorded").bounding_box()["y"] >= height
        for at in range(3):
            door = doors.nth(at)
            assert not door.locator("p").first.is_visible()
            door.locator("summary").click()
            assert door.locator("p").first.is_visible()


TASKS = {
    "the answer": ((), ".front p.lead"),
    "what could overturn it": (("#overturn > summary",), "#overturn p >> nth=0"),
    "one person's course": (("nav a:has-text('People, one by one')", "p.screen a >> nth=4"), "#trajectories-panel-4"),
    "the blanks of consent": (("nav a:has-text('For the ethics board')",), "span.blank:has-text('agreed to') >> nth=0"),
}  # fmt: skip
"""What somebody looks for: the clicks it takes, and what is then in view."""


@pytest.mark.parametrize("task", TASKS)
def test_what_a_reader_looks_for_is_at_most_two_clicks_away(opened, page, task):
    clicks, aim = TASKS[task]
    assert len(clicks) <= 2
    with browser.page_or_picture(opened, "task", 1280, 800) as shown:
        shown.goto(page)
        for click in clicks:
            shown.locator(click).click()
        box = shown.locator(aim).bounding_box()
        assert box is not None and -5 <= box["y"] < 800


def test_folds_are_closed_until_asked_for_searched_or_printed(opened, page):
    closed = "document.querySelectorAll('main details:not([open])').length"
    with browser.page_or_picture(opened, "folds") as shown:
        shown.goto(page)
        every = shown.locator("main details").count()
        assert every > 15 and shown.evaluate(closed) == every
        shown.evaluate("dispatchEvent(new Event('beforeprint'))")
        assert shown.evaluate(closed) == 0
        shown.evaluate("dispatchEvent(new Event('afterprint'))")
        assert shown.evaluate(closed) == every
        for name in ("Methods", "How this was made", "What this cannot tell"):
            shown.locator("nav.contents a", has_text=name).click()
            heading = shown.locator("main h2", has_text=name)
            place = heading.bounding_box()
            assert -5 <= place["y"] < 900, name
        assert shown.locator("#methods").evaluate("h => h.closest('details').open")
        shown.goto(f"{page}#about-challenge-shuffled-load")
        assert shown.locator("#about-challenge-shuffled-load").evaluate("d => d.open")


def test_with_everything_open_nothing_scrolls_sideways_and_nothing_is_out_of_reach(opened, page):
    for width in (320, 1280):
        with browser.page_or_picture(opened, f"open-{width}", width) as shown:
            shown.goto(page)
            shown.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
            wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            assert shown.evaluate(wide) <= 0
            ends = "c => c.getBoundingClientRect().right - c.closest('.scroll').getBoundingClientRect().right"
            captions = shown.locator(".scroll caption").all()
            assert captions and max(c.evaluate(ends) for c in captions) <= 1
            if width == 320:
                shown.evaluate("document.querySelector('button.sources').click()")
                assert [v["id"] for v in Axe().run(shown).response["violations"]] == []


def test_a_number_tells_its_source_to_the_mouse_and_when_asked_to_the_keyboard(opened, page):
    stops = "document.querySelectorAll('main [tabindex=\"0\"]').length"
    with browser.page_or_picture(opened, "sources") as shown:
        shown.goto(page)
        tip, before = shown.locator("#tip"), shown.evaluate(stops)
        shown.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        assert not tip.is_visible()
        shown.locator("#cohort td [data-s]").first.hover()
        assert tip.is_visible() and "findings.json: tables, cohort, row 1." in tip.inner_text()
        shown.keyboard.press("Escape")
        assert not tip.is_visible()
        button = shown.locator("button.sources")
        button.click()
        assert button.get_attribute("aria-pressed") == "true" and shown.evaluate(stops) > before
        row = shown.locator("#exposures tbody tr").first
        row.focus()
        assert tip.is_visible() and "effects.csv: term jump" in tip.inner_text()
        assert row.get_attribute("aria-describedby") == "tip"
        button.click()
        assert shown.evaluate(stops) == before
